"""The lens model against OpenCV, and against a calibration that OpenCV publishes."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from belvedere.optics import LensModel

#: OpenCV's sample calibration, samples/data/left_intrinsics.yml of opencv/opencv at commit
#: 0dd31c3: 640 × 480, 13 frames of a board of 9 × 6 squares, average error 0.39 px. It has one
#: focal length for both axes.
PUBLISHED = LensModel(
    640,
    480,
    535.91573396163199,
    342.28315473308373,
    235.57082909788173,
    k1=-0.26637260909660682,
    k2=-0.038588898922304653,
    p1=0.0017831947042852964,
    p2=-0.00028122100441115472,
    k3=0.23839153080878486,
)

#: Rays and their pixels under that calibration, by cv2.projectPoints.
PIXELS = [
    ((0.0, 0.0, 1.0), (342.283154733, 235.570829098)),
    ((0.1, 0.0, 1.0), (395.727259506, 235.580385519)),
    ((0.0, 0.1, 1.0), (342.281647625, 289.048124456)),
    ((0.3, 0.2, 1.0), (497.537809547, 339.211227379)),
    ((-0.5, 0.4, 1.0), (100.405895694, 429.415016460)),
    ((0.6, -0.4, 1.0), (626.071055712, 46.823582606)),
    ((-1.0, -0.75, 2.0), (100.201236112, 54.426841370)),
]


@pytest.mark.parametrize(("ray", "pixel"), PIXELS)
def test_the_published_calibration_by_value(
    ray: tuple[float, float, float], pixel: tuple[float, float]
) -> None:
    assert PUBLISHED.project(np.array(ray)) == pytest.approx(pixel, abs=1e-8)


@pytest.mark.parametrize(("ray", "pixel"), PIXELS)
def test_the_published_calibration_backwards(
    ray: tuple[float, float, float], pixel: tuple[float, float]
) -> None:
    """To 1e-5 of a radian, 0.006 px: the pixels above have nine decimals, the corners converge
    slowest under this strong distortion."""
    unit = np.array(ray) / np.linalg.norm(ray)
    assert PUBLISHED.unproject(np.array(pixel)) == pytest.approx(unit, abs=1e-5)


@st.composite
def photographic_lenses(draw: st.DrawFn) -> LensModel:
    """Lenses from 0.8 picture widths up, with the distortion that such lenses have."""
    width, height = 3648, 2736
    focal = width * draw(st.floats(0.8, 6.0))
    small = st.floats(-0.05, 0.05)
    tiny = st.floats(-0.002, 0.002)
    return LensModel(
        width,
        height,
        focal,
        (width - 1) / 2.0 + draw(st.floats(-40.0, 40.0)),
        (height - 1) / 2.0 + draw(st.floats(-40.0, 40.0)),
        k1=draw(small),
        k2=draw(small),
        p1=draw(tiny),
        p2=draw(tiny),
        k3=draw(small),
    )


def _by_opencv(lens: LensModel, rays: NDArray[np.float64]) -> NDArray[np.float64]:
    """Source: OpenCV, calib3d, projectPoints."""
    f = lens.focal_length_px
    matrix = np.array([[f, 0.0, lens.centre_x_px], [0.0, f, lens.centre_y_px], [0.0, 0.0, 1.0]])
    distortion = np.array([lens.k1, lens.k2, lens.p1, lens.p2, lens.k3])
    nothing = np.zeros(3)
    pixels, _ = cv2.projectPoints(rays.reshape(-1, 1, 3), nothing, nothing, matrix, distortion)
    return pixels.reshape(-1, 2).astype(np.float64)


def _lattice(lens: LensModel) -> NDArray[np.float64]:
    x, y = np.meshgrid(np.linspace(0, lens.width_px - 1, 9), np.linspace(0, lens.height_px - 1, 7))
    return np.stack([x.ravel(), y.ravel()], axis=-1)


@settings(deadline=None)
@given(photographic_lenses())
def test_projects_as_opencv(lens: LensModel) -> None:
    ideal = LensModel.ideal(lens.width_px, lens.height_px, lens.focal_length_px)
    rays = ideal.unproject(_lattice(lens)) * 7.0  # a ray's length does not matter
    assert lens.project(rays) == pytest.approx(_by_opencv(lens, rays), abs=1e-7)


@settings(deadline=None)
@given(photographic_lenses())
def test_a_pixels_ray_goes_back_to_the_pixel_by_opencv(lens: LensModel) -> None:
    pixels = _lattice(lens)
    assert _by_opencv(lens, lens.unproject(pixels)) == pytest.approx(pixels, abs=1e-4)


def test_behind_the_camera_is_no_pixel() -> None:
    lens = LensModel.ideal(640, 480, 500.0)
    assert np.isnan(lens.project(np.array([[0.1, 0.0, -1.0], [1.0, 0.0, 0.0]]))).all()


@pytest.mark.parametrize("shrink", [2, 4, 8])
def test_a_smaller_picture_has_the_same_rays(shrink: int) -> None:
    """Averaging blocks of pixels, as cv2.INTER_AREA does: a block's middle is its pixel."""
    lens = LensModel(640, 480, 535.9, 342.3, 235.6, k1=-0.05)
    small = lens.scaled(640 // shrink, 480 // shrink)
    ramp = np.tile(np.arange(640, dtype=np.float32), (480, 1))
    reduced = cv2.resize(ramp, (640 // shrink, 480 // shrink), interpolation=cv2.INTER_AREA)
    full_x = float(reduced[0, 10])  # where the small picture's column 10 lies in the full one
    full = lens.unproject(np.array([full_x, full_x]))
    assert small.unproject(np.array([10.0, 10.0])) == pytest.approx(full, abs=1e-9)
