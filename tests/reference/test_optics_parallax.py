"""Parallax by brute force: two points, two cameras, OpenCV's projection."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.optics import largest_offset_mm, parallax_px


def projected_x(
    distance_m: float, bearing_deg: float, pan_deg: float, offset_m: float, focal_px: float
) -> float:
    """Where a point lands in a camera that looks along `pan_deg`, its pupil off the axis.

    Source: cv2.projectPoints, with the camera's pose as rotation and translation.
    """
    bearing = math.radians(bearing_deg)
    point = distance_m * np.array([[math.sin(bearing), 0.0, math.cos(bearing)]])
    turn = np.array([0.0, -math.radians(pan_deg), 0.0])  # world to camera
    matrix = np.array([[focal_px, 0.0, 0.0], [0.0, focal_px, 0.0], [0.0, 0.0, 1.0]])
    # In its own axes the camera stands `offset` ahead, whichever way it looks.
    pixels, _ = cv2.projectPoints(point, turn, np.array([0.0, 0.0, -offset_m]), matrix, np.zeros(5))
    return float(pixels[0, 0, 0])


def brute_force_px(
    offset_mm: float, near_m: float, far_m: float, step_deg: float, focal_px: float
) -> float:
    apart = []
    for pan_deg in (-step_deg / 2.0, step_deg / 2.0):
        near = projected_x(near_m, 0.0, pan_deg, offset_mm / 1e3, focal_px)
        far = projected_x(far_m, 0.0, pan_deg, offset_mm / 1e3, focal_px)
        apart.append(near - far)
    return abs(apart[1] - apart[0])


CASES = [
    (20.0, 5.0, 1e9, 10.0, 4000.0),
    (80.0, 0.8, 60.0, 45.0, 2000.0),  # a wide lens close to things
    (-60.0, 0.8, 60.0, 45.0, 2000.0),
    (120.0, 40.0, 3000.0, 3.2, 30_000.0),  # a long lens over a harbour
    (3.0, 2.0, 2.2, 8.0, 10_000.0),
]


@pytest.mark.parametrize(("offset_mm", "near_m", "far_m", "step_deg", "focal_px"), CASES)
def test_parallax_as_opencv_projects_it(
    offset_mm: float, near_m: float, far_m: float, step_deg: float, focal_px: float
) -> None:
    expected = brute_force_px(offset_mm, near_m, far_m, step_deg, focal_px)
    ours = parallax_px(offset_mm, near_m, far_m, step_deg, focal_px)
    # The brute force is a difference of large numbers.
    assert ours == pytest.approx(expected, rel=1e-6, abs=1e-8)


@pytest.mark.parametrize(("near_m", "far_m", "step_deg", "focal_px"), [c[1:] for c in CASES])
def test_the_largest_offset_shifts_by_what_is_allowed_and_no_more(
    near_m: float, far_m: float, step_deg: float, focal_px: float
) -> None:
    offset_mm = largest_offset_mm(near_m, far_m, step_deg, focal_px)
    assert brute_force_px(offset_mm, near_m, far_m, step_deg, focal_px) == pytest.approx(
        0.5, rel=1e-6
    )
    # In front of the axis is the worse side.
    assert brute_force_px(-offset_mm, near_m, far_m, step_deg, focal_px) <= 0.5 + 1e-9


def test_half_way_between_the_frames_is_no_kind_spot() -> None:
    """Elsewhere in what both frames of a long lens show, the parallax is the same to a percent."""
    offset_m, near_m, far_m, step_deg, focal_px = 0.05, 8.0, 500.0, 3.0, 30_000.0
    middle = brute_force_px(offset_m * 1e3, near_m, far_m, step_deg, focal_px)
    for bearing_deg in (-1.0, -0.5, 0.5, 1.0):
        apart = [
            projected_x(near_m, bearing_deg, pan, offset_m, focal_px)
            - projected_x(far_m, bearing_deg, pan, offset_m, focal_px)
            for pan in (-step_deg / 2.0, step_deg / 2.0)
        ]
        assert abs(apart[1] - apart[0]) == pytest.approx(middle, rel=0.01)


def test_a_flat_scene_has_no_parallax() -> None:
    assert parallax_px(50.0, 10.0, 10.0, 5.0, 10_000.0) == 0.0
    assert largest_offset_mm(10.0, 10.0, 5.0, 10_000.0) == math.inf


def test_what_cannot_be_is_said() -> None:
    with pytest.raises(PlanError, match=r"0\.05 m lies behind a lens 60 mm in front of the axis"):
        parallax_px(60.0, 0.05, 10.0, 5.0, 10_000.0)
    with pytest.raises(PlanError, match="step between two frames is 0°"):
        largest_offset_mm(1.0, 10.0, 0.0, 10_000.0)
