"""Daylight against the lux values that are commonly printed, and the light-value table.

The fit: P. K. Seidelmann (ed.), "Explanatory Supplement to the Astronomical Almanac", 1992;
coefficients from memory. Printed values, from memory: the limits of twilight 3.4 lx (−6°),
0.008 lx (−12°), 0.0006 lx (−18°); 400 lx at a clear sunset; 100,000 to 130,000 lx of high sun.
Light values at ISO 100: the table of ANSI PH2.7-1986.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.light import brightness_drift_ev, daylight_ev100, daylight_lux

#: Elevation, lux, relative tolerance: printed with one or two figures.
PRINTED = [
    (-0.8333, 400.0, 0.20),
    (-6.0, 3.4, 0.02),
    (-12.0, 0.008, 0.05),
    (-18.0, 0.0006, 0.10),
    (60.0, 100_000.0, 0.15),
    (90.0, 130_000.0, 0.05),
]


@pytest.mark.parametrize(("elevation", "lux", "tolerance"), PRINTED)
def test_printed_values(elevation: float, lux: float, tolerance: float) -> None:
    assert float(daylight_lux(np.array(elevation))) == pytest.approx(lux, rel=tolerance)


@pytest.mark.parametrize("seam", [-12.0, -5.0, -0.8, 5.0, 20.0])
def test_the_stretches_meet(seam: float) -> None:
    """A wrong coefficient would leave a step: 1.5 % is a fiftieth of a stop."""
    below, above = daylight_lux(np.array([seam - 1e-9, seam]))
    assert below == pytest.approx(above, rel=0.015)


@given(st.floats(-30.0, 89.0), st.floats(0.5, 10.0))
def test_a_higher_sun_never_makes_it_darker(elevation: float, rise: float) -> None:
    low, high = daylight_ev100(np.array([elevation, min(elevation + rise, 90.0)]))
    assert high >= low


def test_below_the_last_twilight_starlight_stays() -> None:
    dark = daylight_lux(np.array([-18.0, -25.0, -90.0]))
    assert dark[0] == dark[1] == dark[2] > 0.0005


def test_full_sun_has_the_light_value_of_the_table() -> None:
    """15 in full or slightly hazy sun: the incident reading of a high sun, within half a stop."""
    assert float(daylight_ev100(np.array(45.0))) == pytest.approx(15.0, abs=0.5)


def test_ev_of_an_illuminance() -> None:
    """E = 2.5 · 2^EV lux at ISO 100 with C = 250 (ISO 2720)."""
    lux, ev = daylight_lux(np.array([30.0, -3.0])), daylight_ev100(np.array([30.0, -3.0]))
    assert 2.5 * 2.0**ev == pytest.approx(lux)


def test_drift_is_negative_as_it_gets_darker() -> None:
    """From sunset (400 lx) to the end of civil twilight (3.4 lx): log2(3.4 / 400) = −6.9 EV."""
    assert brightness_drift_ev(-0.8333, -6.0) == pytest.approx(-6.9, abs=0.3)
    assert brightness_drift_ev(-6.0, -0.8333) == -brightness_drift_ev(-0.8333, -6.0)
