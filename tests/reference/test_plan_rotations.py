"""Rotations against OpenCV's Rodrigues and the rotation vectors of scipy."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.sphere import bearing_elevation_roll, camera_from_world, direction

bearings = st.floats(-179.0, 179.0)
elevations = st.floats(-89.0, 89.0)
rolls = st.floats(-179.0, 179.0)


def _turn(axis: tuple[float, float, float], angle_deg: float) -> NDArray[np.float64]:
    """Source: OpenCV, calib3d, Rodrigues (rotation vector to matrix)."""
    matrix, _ = cv2.Rodrigues(np.array(axis) * np.radians(angle_deg))
    return matrix.astype(np.float64)


@settings(deadline=None)
@given(bearings, elevations, rolls)
def test_bearing_then_elevation_then_roll_as_opencv(
    bearing: float, elevation: float, roll: float
) -> None:
    """A head turns about the vertical, tilts about the turned axle, and the camera sits rolled.

    y points down, so a right-handed turn about it goes to the right; about x it goes up.
    """
    world_from_camera = (
        _turn((0.0, 1.0, 0.0), bearing)
        @ _turn((1.0, 0.0, 0.0), elevation)
        @ _turn((0.0, 0.0, 1.0), roll)
    )
    ours = camera_from_world(bearing, elevation, roll)
    assert ours == pytest.approx(world_from_camera.T, abs=1e-12)


@settings(deadline=None)
@given(bearings, elevations, rolls)
def test_as_composed_rotation_vectors_of_scipy(
    bearing: float, elevation: float, roll: float
) -> None:
    turn, tilt, spin = np.radians([bearing, elevation, roll])
    world_from_camera = (
        Rotation.from_rotvec([0.0, turn, 0.0])
        * Rotation.from_rotvec([tilt, 0.0, 0.0])
        * Rotation.from_rotvec([0.0, 0.0, spin])
    )
    expected = world_from_camera.inv().as_matrix()
    assert camera_from_world(bearing, elevation, roll) == pytest.approx(expected, abs=1e-12)


def test_rodrigues_by_value_goes_there_and_back() -> None:
    """The matrix of the rotation vector (0.1, -0.2, 0.3), by cv2.Rodrigues, to 12 decimals."""
    matrix = np.array(
        [
            [0.935754803278, -0.302932713403, -0.180540076694],
            [0.283164960565, 0.950580617906, -0.127334574918],
            [0.210191705951, 0.068031316405, 0.975290308953],
        ]
    )
    angles = bearing_elevation_roll(matrix)
    assert camera_from_world(*angles) == pytest.approx(matrix, abs=1e-11)


@settings(deadline=None)
@given(bearings, elevations, rolls)
def test_the_camera_looks_where_it_is_told(bearing: float, elevation: float, roll: float) -> None:
    ahead = camera_from_world(bearing, elevation, roll) @ direction(bearing, elevation)
    assert ahead == pytest.approx([0.0, 0.0, 1.0], abs=1e-12)


@settings(deadline=None)
@given(bearings, elevations)
def test_a_level_camera_sees_up_above_and_larger_bearings_to_the_right(
    bearing: float, elevation: float
) -> None:
    matrix = camera_from_world(bearing, elevation)
    assert (matrix @ direction(bearing, elevation + 0.5))[1] < 0.0  # y is down
    assert (matrix @ direction(bearing + 0.5, elevation))[0] > 0.0


def test_positive_roll_turns_the_camera_clockwise_seen_from_behind() -> None:
    """So the horizon's right end rises in the picture: up in the world leans to the left."""
    up = camera_from_world(0.0, 0.0, 10.0) @ np.array([0.0, -1.0, 0.0])
    assert up == pytest.approx([-np.sin(np.radians(10.0)), -np.cos(np.radians(10.0)), 0.0])


@settings(deadline=None)
@given(bearings, elevations, rolls)
def test_angles_come_back(bearing: float, elevation: float, roll: float) -> None:
    back = bearing_elevation_roll(camera_from_world(bearing, elevation, roll))
    # At 89° of elevation bearing and roll nearly share an axis and lose digits.
    assert back == pytest.approx((bearing, elevation, roll), abs=1e-6)
