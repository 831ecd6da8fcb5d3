"""Field of view and pixel angles against OpenCV and the plate-scale formula of astronomy."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from belvedere.optics import (
    LensModel,
    field_of_view_deg,
    focal_length_px,
    pixel_angle_arcsec,
    scale_px_per_deg,
)

#: Width, height and focal length in mm; horizontal, vertical and diagonal angle in degrees, as
#: 2 atan(w / 2f) gives them. The rows for 36 × 24 mm agree with the tables that lens makers
#: print to a tenth of a degree or so (from memory: 50 mm, 40° / 27° / 46°).
TABLE = [
    (36.0, 24.0, 50.0, 39.5978, 26.9915, 46.7930),
    (36.0, 24.0, 300.0, 6.8673, 4.5812, 8.2490),
    (36.0, 24.0, 20.0, 83.9744, 61.9275, 94.4932),
    (7.6, 5.7, 30.5, 14.2038, 10.6767, 17.7040),
    (7.6, 5.7, 6.1, 63.8418, 50.0852, 75.8150),
    (23.5, 15.6, 200.0, 6.7245, 4.4668, 8.0672),
]


@pytest.mark.parametrize(("width", "height", "focal", "across", "down", "diagonal"), TABLE)
def test_field_of_view_by_value(
    width: float, height: float, focal: float, across: float, down: float, diagonal: float
) -> None:
    # Printed to four decimals: half a unit of the last.
    assert field_of_view_deg(width, focal) == pytest.approx(across, abs=5e-5)
    assert field_of_view_deg(height, focal) == pytest.approx(down, abs=5e-5)
    assert field_of_view_deg(np.hypot(width, height), focal) == pytest.approx(diagonal, abs=5e-5)


@pytest.mark.parametrize(("width", "height", "focal"), [row[:3] for row in TABLE])
def test_field_of_view_and_focal_length_as_opencv(
    width: float, height: float, focal: float
) -> None:
    """Source: OpenCV, calib3d, calibrationMatrixValues (angles and focal length of a matrix)."""
    image_px = (6000, round(6000 * height / width))
    f = focal_length_px(focal, width, image_px[0])
    matrix = np.array([[f, 0.0, image_px[0] / 2], [0.0, f, image_px[1] / 2], [0.0, 0.0, 1.0]])
    across, down, focal_mm, _, _ = cv2.calibrationMatrixValues(matrix, image_px, width, height)
    assert focal_mm == pytest.approx(focal, rel=1e-12)
    assert field_of_view_deg(image_px[0], f) == pytest.approx(across, rel=1e-12)
    assert field_of_view_deg(image_px[1], f) == pytest.approx(down, rel=1e-12)


def test_pixel_angle_is_the_plate_scale_of_astronomy() -> None:
    """206 264.806 seconds of arc are a radian: 6 µm behind 300 mm see 4.1253 of them."""
    f = focal_length_px(300.0, 36.0, 6000)
    assert pixel_angle_arcsec(f) == pytest.approx(206_264.806 * 0.006 / 300.0, rel=1e-7)
    assert pixel_angle_arcsec(f) == pytest.approx(4.125296, abs=1e-6)


def test_pixels_see_less_towards_the_edge() -> None:
    """By the lens model itself, held to cv2.projectPoints beside this file."""
    lens = LensModel.ideal(6000, 4000, focal_length_px(50.0, 36.0, 6000))
    edge = lens.unproject(
        np.array([[lens.width_px - 1.5, lens.centre_y_px], [lens.width_px - 0.5, lens.centre_y_px]])
    )
    angles = np.degrees(np.arctan2(edge[:, 0], edge[:, 2]))
    by_formula = pixel_angle_arcsec(lens.focal_length_px, float(angles.mean()))
    assert by_formula == pytest.approx(float(np.diff(angles)[0]) * 3600.0, rel=1e-6)
    assert by_formula < 0.9 * pixel_angle_arcsec(lens.focal_length_px)


def test_scale_counts_the_pixels_of_one_degree_in_the_middle() -> None:
    lens = LensModel.ideal(6000, 4000, focal_length_px(300.0, 36.0, 6000))
    half = np.radians(0.5)
    rays = np.array([[-np.sin(half), 0.0, np.cos(half)], [np.sin(half), 0.0, np.cos(half)]])
    left, right = lens.project(rays)[:, 0]
    # A degree is wide enough for the tangent to show in the fifth digit.
    assert scale_px_per_deg(lens.focal_length_px) == pytest.approx(right - left, rel=1e-4)
