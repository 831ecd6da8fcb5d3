"""Shadows on level ground: where they point, how long they are, how far they move.

All functions take arrays that broadcast; azimuths from true north eastward, elevations with
refraction. Below `LOWEST_DEG` the horizon cuts the sun's disc and shadows fade: NaN there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from belvedere.light.sun import SUN_RADIUS_DEG

#: The whole disc of the sun stands above the horizon from here on.
LOWEST_DEG = SUN_RADIUS_DEG
MAST_M = 10.0


def shadow_azimuth_deg(sun_azimuth_deg: ArrayLike) -> NDArray[np.float64]:
    """The direction in which shadows point: away from the sun."""
    return (np.asarray(sun_azimuth_deg, dtype=np.float64) + 180.0) % 360.0


def shadow_length_m(sun_elevation_deg: ArrayLike, height_m: float = MAST_M) -> NDArray[np.float64]:
    """Length of the shadow of a mast of `height_m`; NaN where it casts none."""
    elevation = np.asarray(sun_elevation_deg, dtype=np.float64)
    up = np.where(elevation >= LOWEST_DEG, elevation, np.nan)
    length: NDArray[np.float64] = height_m / np.tan(np.radians(up))
    return length


def shadow_move_deg(
    azimuth_a_deg: ArrayLike,
    elevation_a_deg: ArrayLike,
    azimuth_b_deg: ArrayLike,
    elevation_b_deg: ArrayLike,
) -> NDArray[np.float64]:
    """How far shadows turn between two moments, 0 to 180; NaN where there is none in one."""
    turned = np.asarray(azimuth_b_deg, dtype=np.float64) - np.asarray(azimuth_a_deg)
    lower = np.minimum(elevation_a_deg, elevation_b_deg)
    return np.where(lower >= LOWEST_DEG, np.abs((turned + 180.0) % 360.0 - 180.0), np.nan)


def shadow_move_m(
    azimuth_a_deg: ArrayLike,
    elevation_a_deg: ArrayLike,
    azimuth_b_deg: ArrayLike,
    elevation_b_deg: ArrayLike,
    height_m: float = MAST_M,
) -> NDArray[np.float64]:
    """How far the tip of the shadow of a mast of `height_m` moves between two moments."""
    east_a, north_a = _tip_m(azimuth_a_deg, elevation_a_deg, height_m)
    east_b, north_b = _tip_m(azimuth_b_deg, elevation_b_deg, height_m)
    moved: NDArray[np.float64] = np.hypot(east_b - east_a, north_b - north_a)
    return moved


def _tip_m(
    azimuth_deg: ArrayLike, elevation_deg: ArrayLike, height_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the tip of the shadow lies from the foot of the mast: east, north."""
    length = shadow_length_m(elevation_deg, height_m)
    azimuth = np.radians(shadow_azimuth_deg(azimuth_deg))
    return length * np.sin(azimuth), length * np.cos(azimuth)
