"""Dynamic range and noise after the photon transfer curve, by value.

Source: J. R. Janesick, "Photon Transfer", SPIE, 2007 (from memory); values worked apart from this
program.
"""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.optics import camera_range_ev, snr_db

#: Full well and read noise in electrons; stops, the same in decibels, best signal to noise (dB).
SENSORS = [(10_000.0, 5.0, 10.9658, 66.0206, 40.0), (60_000.0, 3.0, 14.2877, 86.0206, 47.7815)]


@pytest.mark.parametrize(("well_e", "read_e", "stops", "decibels", "best_db"), SENSORS)
def test_dynamic_range_and_noise_by_value(
    well_e: float, read_e: float, stops: float, decibels: float, best_db: float
) -> None:
    assert camera_range_ev(well_e, read_e) == pytest.approx(stops, abs=6e-5)
    assert camera_range_ev(well_e, read_e) * 20.0 * np.log10(2.0) == pytest.approx(
        decibels, abs=6e-5
    )
    assert snr_db(well_e) == pytest.approx(best_db, abs=6e-5)


@pytest.mark.parametrize("signal_e", [20.0, 400.0, 9000.0])
def test_noise_is_that_of_counted_electrons(signal_e: float) -> None:
    """A million pixels of numpy's Poisson light and Gaussian read noise of 5 e."""
    random = np.random.default_rng(1)
    counted = random.poisson(signal_e, 1_000_000) + random.normal(0.0, 5.0, 1_000_000)
    measured = 20.0 * np.log10(counted.mean() / counted.std())
    assert snr_db(signal_e, 5.0) == pytest.approx(float(measured), abs=0.03)


def test_a_sensor_without_noise_is_refused() -> None:
    with pytest.raises(PlanError, match="read noise is 0 e; it must be above 0"):
        camera_range_ev(10_000.0, 0.0)
    with pytest.raises(PlanError, match="read noise is -1 e; it cannot be below 0"):
        snr_db(100.0, -1.0)
