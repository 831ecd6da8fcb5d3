"""Colour arithmetic against published tables and an independent library."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from belvedere.foundation import linear_from_srgb
from belvedere.measure import ciede2000, exposure_value, lab_from_linear

with warnings.catch_warnings():
    # It warns of a missing plotting library when it is imported.
    warnings.simplefilter("ignore")
    import colour

# G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30(1), 2005, table 1: all 34
# pairs, typed from memory and matched by two independent libraries to 4.95e-5.
SHARMA = """
50.0000 2.6772 -79.7751 50.0000 0.0000 -82.7485 2.0425
50.0000 3.1571 -77.2803 50.0000 0.0000 -82.7485 2.8615
50.0000 2.8361 -74.0200 50.0000 0.0000 -82.7485 3.4412
50.0000 -1.3802 -84.2814 50.0000 0.0000 -82.7485 1.0000
50.0000 -1.1848 -84.8006 50.0000 0.0000 -82.7485 1.0000
50.0000 -0.9009 -85.5211 50.0000 0.0000 -82.7485 1.0000
50.0000 0.0000 0.0000 50.0000 -1.0000 2.0000 2.3669
50.0000 -1.0000 2.0000 50.0000 0.0000 0.0000 2.3669
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0009 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0010 7.1792
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0011 7.2195
50.0000 2.4900 -0.0010 50.0000 -2.4900 0.0012 7.2195
50.0000 -0.0010 2.4900 50.0000 0.0009 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0010 -2.4900 4.8045
50.0000 -0.0010 2.4900 50.0000 0.0011 -2.4900 4.7461
50.0000 2.5000 0.0000 50.0000 0.0000 -2.5000 4.3065
50.0000 2.5000 0.0000 73.0000 25.0000 -18.0000 27.1492
50.0000 2.5000 0.0000 61.0000 -5.0000 29.0000 22.8977
50.0000 2.5000 0.0000 56.0000 -27.0000 -3.0000 31.9030
50.0000 2.5000 0.0000 58.0000 24.0000 15.0000 19.4535
50.0000 2.5000 0.0000 50.0000 3.1736 0.5854 1.0000
50.0000 2.5000 0.0000 50.0000 3.2972 0.0000 1.0000
50.0000 2.5000 0.0000 50.0000 1.8634 0.5757 1.0000
50.0000 2.5000 0.0000 50.0000 3.2592 0.3350 1.0000
60.2574 -34.0099 36.2677 60.4626 -34.1751 39.4387 1.2644
63.0109 -31.0961 -5.8663 62.8187 -29.7946 -4.0864 1.2630
61.2901 3.7196 -5.3901 61.4292 2.2480 -4.9620 1.8731
35.0831 -44.1164 3.7933 35.0232 -40.0716 1.5901 1.8645
22.7233 20.0904 -46.6940 23.0331 14.9730 -42.5619 2.0373
36.4612 47.8580 18.3852 36.2715 50.5065 21.2231 1.4146
90.8027 -2.0831 1.4410 91.1528 -1.6435 0.0447 1.4441
90.9257 -0.5406 -0.9208 88.6381 -0.8985 -0.7239 1.5381
6.7747 -0.2908 -2.4247 5.8714 -0.0985 -2.2286 0.6377
2.0776 0.0795 -1.1350 0.9033 -0.0636 -0.5514 0.9082
"""


def test_ciede2000_gives_the_published_pairs() -> None:
    rows = np.array([[float(word) for word in line.split()] for line in SHARMA.split("\n") if line])
    assert rows.shape == (34, 7)
    # The table has four decimals.
    np.testing.assert_allclose(ciede2000(rows[:, :3], rows[:, 3:6]), rows[:, 6], atol=1e-4)


def test_ciede2000_agrees_with_colour_science_on_any_colours() -> None:
    rng = np.random.default_rng(4)
    one, two = (rng.uniform([0, -80, -80], [100, 80, 80], (500, 3)) for _ in range(2))
    expected = colour.difference.delta_E_CIE2000(one, two)
    np.testing.assert_allclose(ciede2000(one, two), expected, atol=1e-9)


def test_lab_of_srgb_agrees_with_colour_science() -> None:
    rng = np.random.default_rng(5)
    encoded = rng.uniform(0.0, 1.0, (200, 3))
    expected = colour.XYZ_to_Lab(
        colour.sRGB_to_XYZ(encoded), colour.CCS_ILLUMINANTS["cie_2_1931"]["D65"]
    )
    # Libraries round the white point differently: 0.05 between two of them.
    np.testing.assert_allclose(lab_from_linear(linear_from_srgb(encoded)), expected, atol=0.05)


@pytest.mark.parametrize(("linear", "encoded_8bit"), [(0.5, 187.516), (0.18, 117.646)])
def test_srgb_curve(linear: float, encoded_8bit: float) -> None:
    # IEC 61966-2-1, the curve from memory; values worked out by hand.
    assert linear_from_srgb(encoded_8bit / 255.0) == pytest.approx(linear, abs=2e-5)


@pytest.mark.parametrize(
    ("f_number", "time_s", "iso", "ev_at_iso_100"),
    [
        (16.0, 1 / 100, 100.0, 14.6439),
        (16.0, 1 / 125, 100.0, 14.9658),
        (8.0, 1 / 125, 100.0, 12.9658),
        (11.0, 1 / 250, 100.0, 14.8846),
        (5.6, 1 / 60, 400.0, 8.8777),
        (1.0, 1.0, 100.0, 0.0),
        (2.8, 30.0, 100.0, -1.9360),
    ],
)
def test_exposure_values_as_apex_has_them(
    f_number: float, time_s: float, iso: float, ev_at_iso_100: float
) -> None:
    # Additive system of photographic exposure, Exif annex C: EV = Av + Tv, less Sv - 5 for other
    # sensitivities; nominal marks are taken as they are written.
    assert exposure_value(time_s, f_number, iso) == pytest.approx(ev_at_iso_100, abs=1e-4)


def test_real_settings_differ_by_what_a_light_meter_says() -> None:
    # 1/250 s at f/8 against 1/320 s at f/9: log2(320/250) + 2 log2(9/8) = 0.696 EV.
    first = exposure_value(1 / 250, 8.0, 100.0)
    second = exposure_value(1 / 320, 9.0, 100.0)
    assert first is not None
    assert second is not None
    assert second - first == pytest.approx(0.696, abs=0.001)
    assert exposure_value(None, 8.0, 100.0) is None
