"""Directions on the sphere.

World axes: z to bearing 0 on the horizon, x to bearing 90°, y down. So a camera that looks at
bearing 0, elevation 0 without roll has the world's axes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def direction(bearing_deg: ArrayLike, elevation_deg: ArrayLike) -> FloatArray:
    """Unit vectors (..., 3) in world axes towards bearing and elevation (degrees, broadcast)."""
    bearing, elevation = np.broadcast_arrays(np.radians(bearing_deg), np.radians(elevation_deg))
    level = np.cos(elevation)
    return np.stack(
        [level * np.sin(bearing), -np.sin(elevation), level * np.cos(bearing)], axis=-1
    ).astype(np.float64)


def bearing_elevation(vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bearing in (-180, 180] and elevation, both degrees, of vectors (..., 3) of any length."""
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    return np.degrees(np.arctan2(x, z)), np.degrees(np.arctan2(-y, np.hypot(x, z)))


def separation_deg(a: FloatArray, b: FloatArray) -> FloatArray:
    """Angle between vectors (..., 3), degrees; exact for tiny and for opposite angles.

    W. Kahan, "How futile are mindless assessments of roundoff", 2006, section 12.
    """
    a = a / np.linalg.norm(a, axis=-1, keepdims=True)
    b = b / np.linalg.norm(b, axis=-1, keepdims=True)
    half = np.arctan2(np.linalg.norm(a - b, axis=-1), np.linalg.norm(a + b, axis=-1))
    angle: FloatArray = np.degrees(2.0 * half)
    return angle
