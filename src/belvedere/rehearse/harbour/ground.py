"""The lie of the land: the lines that everything else stands on.

Bearings in degrees, the mole's view axis is 0; the eye is 7 m above the water.
"""

from __future__ import annotations

import numpy as np

from .noise import F64
from .palette import HAZE, Rgb, mix

EYE_M = 7.0

_SHORE_BEARING = [-180, -46.1, -46.0, -36, -30.5, -29.0, -28.0, 47.0, 49.0, 60.0, 66.0, 180]
_SHORE_ELEVATION = [-0.02, -0.02, -0.60, -0.66, -0.80, -1.4, -2.0, -2.0, -1.4, -0.6, -0.02, -0.02]


def shore_elevation(bearing_deg: F64) -> F64:
    """Where the water ends, or the sea's horizon."""
    b = (np.asarray(bearing_deg) + 180.0) % 360.0 - 180.0
    return np.interp(b, _SHORE_BEARING, _SHORE_ELEVATION)


def bumps(bearing_deg: F64, *hills: tuple[float, float, float]) -> F64:
    """Sum of bell curves (centre, half-width, height), all in degrees, closed over 360°."""
    total = np.zeros_like(bearing_deg)
    for centre, width, height in hills:
        away = (bearing_deg - centre + 180.0) % 360.0 - 180.0
        total = total + height * np.exp(-((away / width) ** 2))
    return total


def haze_at(distance_m: float) -> float:
    """Share of haze in what is seen over this distance."""
    return float(1.0 - np.exp(-distance_m / 3200.0))


def far(ink: Rgb, distance_m: float) -> Rgb:
    """A colour as seen over this distance."""
    return mix(ink, HAZE, haze_at(distance_m))


def deg_per_m(distance_m: float) -> float:
    """Angular size of a metre."""
    return float(np.degrees(1.0 / distance_m))


def elevation_of(height_m: float, distance_m: float) -> float:
    """Elevation of a point of this height above the water, seen from the mole."""
    return float(np.degrees(np.arctan2(height_m - EYE_M, distance_m)))


def plane_distance_m(elevation_deg: F64) -> F64:
    """Metres from the eye to the plane of the water, or of the ground at our feet, below 0°.

    Right triangle: the height of the eye over the sine of the depression.
    """
    down = np.radians(np.clip(-np.asarray(elevation_deg, np.float64), 1e-3, 90.0))
    distance: F64 = EYE_M / np.sin(down)
    return distance


def distance_of_haze_m(haze: float) -> float:
    """The distance over which the air gathers this share of haze: `haze_at` the other way."""
    return float(-3200.0 * np.log1p(-haze))
