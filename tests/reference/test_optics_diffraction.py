"""Diffraction against prysm and scipy, and the trade's rule about small sensors in figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from prysm.otf import diffraction_limited_mtf
from scipy.special import jn_zeros

from belvedere.foundation import PlanError
from belvedere.optics import (
    KEPT_MTF,
    SOFT_MTF,
    airy_diameter_um,
    cutoff_cycles_per_mm,
    diffraction_figures,
    diffraction_mtf,
    f_number_where_airy_spans,
    f_number_where_mtf_falls_to,
    mtf_at_nyquist,
    nyquist_cycles_per_mm,
    sweet_spot_f_number,
)

#: 7.6 mm over 3648 pixels: the small sensor that the trade's rule speaks of.
SMALL_PITCH_UM = 7.6e3 / 3648

STOPS = [1.4, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0]


@pytest.mark.parametrize("stop", STOPS)
@pytest.mark.parametrize("wavelength_nm", [450.0, 550.0, 650.0])
def test_mtf_as_prysm(stop: float, wavelength_nm: float) -> None:
    """Source: prysm 0.21 (B. Dube), prysm.otf.diffraction_limited_mtf."""
    cutoff = cutoff_cycles_per_mm(stop, wavelength_nm)
    frequencies = np.linspace(0.0, 0.999, 23) * cutoff
    theirs = diffraction_limited_mtf(stop, wavelength_nm / 1e3, frequencies=frequencies)
    ours = [diffraction_mtf(float(f), stop, wavelength_nm) for f in frequencies]
    assert ours == pytest.approx(list(theirs), abs=1e-12)


def test_mtf_by_value() -> None:
    # f/5.6 at 550 nm, as prysm 0.21.1 printed it.
    printed = {100.0: 0.61413386, 162.34: 0.39099428, 240.0: 0.15347232}
    for frequency, mtf in printed.items():
        assert diffraction_mtf(frequency, 5.6) == pytest.approx(mtf, abs=1e-8)
    # A share of the cutoff, six decimals: the curve that textbooks draw.
    cutoff = cutoff_cycles_per_mm(8.0)
    curve = {0.1: 0.872889, 0.25: 0.685038, 0.5: 0.391002, 0.75: 0.144294, 0.9: 0.037386, 1.5: 0.0}
    for share, mtf in curve.items():
        assert diffraction_mtf(share * cutoff, 8.0) == pytest.approx(mtf, abs=1e-6)


#: µm to the first dark ring, with the rounded factor 2.44 of handbooks; cutoff in cycles per mm.
AIRY = [
    (2.8, 3.758, 649.35),
    (4.0, 5.368, 454.55),
    (5.6, 7.515, 324.68),
    (8.0, 10.736, 227.27),
    (11.0, 14.762, 165.29),
    (16.0, 21.472, 113.64),
    (22.0, 29.524, 82.64),
]


@pytest.mark.parametrize(("stop", "airy_um", "cutoff"), AIRY)
def test_airy_disc_and_cutoff_by_value(stop: float, airy_um: float, cutoff: float) -> None:
    # 2.44 for 2.43934 is 0.03 % off.
    assert airy_diameter_um(stop) == pytest.approx(airy_um, rel=4e-4)
    assert cutoff_cycles_per_mm(stop) == pytest.approx(cutoff, abs=6e-3)


def test_airy_disc_ends_at_the_first_zero_of_the_bessel_function() -> None:
    """Source: scipy.special.jn_zeros."""
    assert airy_diameter_um(8.0, 500.0) == pytest.approx(2.0 * jn_zeros(1, 1)[0] / math.pi * 4.0)
    # Lord Rayleigh's limit: points as far apart as from the middle to the ring. Contrast there is
    # 9 % (0.0892342 as prysm's formula gives it).
    rayleigh = 1e3 / (airy_diameter_um(8.0) / 2.0)
    assert diffraction_mtf(rayleigh, 8.0) == pytest.approx(0.0892342, abs=1e-7)


#: Pitch in µm and where the Airy disc (factor 2.44) spans two pixels, three decimals.
TWO_PIXELS = [
    (1.0, 1.490),
    (2.0833, 3.105),
    (3.3372, 4.973),
    (3.9167, 5.837),
    (4.3484, 6.480),
    (6.0, 8.942),
]


@pytest.mark.parametrize(("pitch_um", "stop"), TWO_PIXELS)
def test_where_the_airy_disc_spans_two_pixels(pitch_um: float, stop: float) -> None:
    assert f_number_where_airy_spans(2.0, pitch_um) == pytest.approx(stop, rel=6e-4)


def test_the_rule_of_small_sensors_is_not_that_of_two_pixels() -> None:
    """The rule (beyond about f/5.6, common practice, no source) in figures worked by hand."""
    at = diffraction_figures(SMALL_PITCH_UM)
    assert at.airy_px == pytest.approx(3.61, abs=0.01)
    assert at.mtf_at_nyquist == pytest.approx(0.154, abs=0.001)
    assert at.cutoff_per_nyquist == pytest.approx(7.58 / 5.6, abs=0.001)
    assert at.airy_two_px_f_number == pytest.approx(3.11, abs=0.01)
    # Our own measure of softness, held to the rule and not the other way round.
    assert at.soft_f_number == pytest.approx(5.6, abs=0.1)
    for stop, mtf in {2.8: 0.540, 4.0: 0.360, 5.6: 0.154, 8.0: 0.0}.items():
        assert mtf_at_nyquist(stop, SMALL_PITCH_UM) == pytest.approx(mtf, abs=6e-4)


def test_falling_contrast_backwards_by_value() -> None:
    # MTF50 and MTF10 of the aperture, in shares of the cutoff; 0 is the cutoff itself.
    per_nyquist = cutoff_cycles_per_mm(1.0) / nyquist_cycles_per_mm(2.0)
    for mtf, share in {0.5: 0.4039728, 0.1: 0.8053836, 0.0: 1.0}.items():
        stop = f_number_where_mtf_falls_to(mtf, 2.0)
        assert stop == pytest.approx(share * per_nyquist, rel=1e-6)
    with pytest.raises(PlanError, match="contrast of 1 at Nyquist is not to be had"):
        f_number_where_mtf_falls_to(1.0, 2.0)


#: Pitch, widest and narrowest; the aperture. That about f/4 is best on the small sensor, f/8 on
#: 4.3 µm and f/11 on 6 µm is common practice, no source.
SWEET = [
    (SMALL_PITCH_UM, None, None, 4.0),
    (SMALL_PITCH_UM, 2.8, 8.0, 4.0),
    (SMALL_PITCH_UM, 4.5, 8.0, 5.6),  # a stop down would be f/6.3: too soft
    (SMALL_PITCH_UM, 5.9, 8.0, 5.9),  # wide open is soft already
    (3.3372, 5.6, None, 8.0),  # one stop down for the lens
    (3.3372, 5.6, 7.1, 7.1),
    (4.3484, 2.8, 22.0, 8.0),
    (6.0, 2.8, 22.0, 11.0),
]


@pytest.mark.parametrize(("pitch_um", "widest", "narrowest", "stop"), SWEET)
def test_sweet_spot(
    pitch_um: float, widest: float | None, narrowest: float | None, stop: float
) -> None:
    assert sweet_spot_f_number(pitch_um, widest, narrowest) == stop


def test_the_two_contrasts_lie_about_a_stop_apart() -> None:
    soft = f_number_where_mtf_falls_to(SOFT_MTF, 4.0)
    kept = f_number_where_mtf_falls_to(KEPT_MTF, 4.0)
    assert 2.0 * math.log2(soft / kept) == pytest.approx(1.0, abs=0.1)
