"""Rotations: where a camera points.

Everywhere in Belvedere a frame's rotation is ``camera_from_world``, a 3 × 3 matrix that turns a
vector in world axes into the camera's: ``ray_camera = camera_from_world @ ray_world``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

FloatArray = NDArray[np.float64]


def camera_from_world(
    bearing_deg: float, elevation_deg: float, roll_deg: float = 0.0
) -> FloatArray:
    """The rotation of a camera that looks at bearing and elevation.

    Positive roll turns the camera clockwise, seen from behind.
    """
    world_from_camera = Rotation.from_euler(
        "YXZ", [bearing_deg, elevation_deg, roll_deg], degrees=True
    )
    matrix: FloatArray = world_from_camera.as_matrix().T
    return matrix


def bearing_elevation_roll(camera_from_world: FloatArray) -> tuple[float, float, float]:
    """Bearing, elevation and roll in degrees of a rotation; the inverse of `camera_from_world`."""
    bearing, elevation, roll = Rotation.from_matrix(camera_from_world.T).as_euler(
        "YXZ", degrees=True
    )
    return float(bearing), float(elevation), float(roll)
