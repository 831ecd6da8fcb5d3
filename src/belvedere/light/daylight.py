"""How bright a clear sky makes the ground, by the elevation of the sun.

The fit is that of P. K. Seidelmann (ed.), "Explanatory Supplement to the Astronomical Almanac",
1992, natural illuminance of the sun: the common logarithm of lux on level ground as piecewise
cubics of x = elevation / 90°. The coefficients are from memory; they meet at their seams to 1 %
and give the values that are commonly printed (tests/reference/test_light_daylight.py). Clouds
take one to four stops from it, and neither moon nor street lamps are in it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

#: Lowest elevation of a stretch, and the coefficients of 1, x, x², x³ on it.
_STRETCHES: tuple[tuple[float, float, float, float, float], ...] = (
    (-18.0, 13.84, 262.72, 1447.42, 2797.93),
    (-12.0, 2.70, 12.17, -431.69, -1899.83),
    (-5.0, 2.88, 21.81, -258.11, -858.36),
    (-0.8, 2.88, 22.26, -207.64, 1034.30),
    (5.0, 3.05, 13.28, -45.98, 64.33),
    (20.0, 3.74, 3.97, -4.07, 1.47),
)
_EDGES_DEG = np.array([stretch[0] for stretch in _STRETCHES])
_COEFFICIENTS = np.array([stretch[1:] for stretch in _STRETCHES])

#: Calibration of incident light meters in lux: E = C · 2^EV / S (ISO 2720 allows a range).
_INCIDENT_C = 250.0


def daylight_lux(elevation_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Illuminance of level ground under a clear sky, in lux, of any shape.

    `elevation_deg` is that of the sun's centre without refraction. Below −18° the sun adds
    nothing more: what stays is starlight and airglow, some 0.0006 lux.
    """
    clamped = np.clip(np.asarray(elevation_deg, dtype=np.float64), -18.0, 90.0)
    stretch = np.searchsorted(_EDGES_DEG, clamped, side="right") - 1
    x = clamped / 90.0
    l0, l1, l2, l3 = np.moveaxis(_COEFFICIENTS[stretch], -1, 0)
    lux: NDArray[np.float64] = 10.0 ** (l0 + x * (l1 + x * (l2 + x * l3)))
    return lux


def daylight_ev100(elevation_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """Exposure value at ISO 100 of an incident reading on level ground, of any shape."""
    ev: NDArray[np.float64] = np.log2(daylight_lux(elevation_deg) * 100.0 / _INCIDENT_C)
    return ev


def brightness_drift_ev(from_elevation_deg: float, to_elevation_deg: float) -> float:
    """Change of daylight from one elevation of the sun to another: positive when it brightens."""
    before, after = daylight_ev100(np.array([from_elevation_deg, to_elevation_deg]))
    return float(after - before)
