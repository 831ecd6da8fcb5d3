"""Rendered frames against OpenCV's camera model, and against the laws of light."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from belvedere.foundation import linear_from_srgb, srgb_from_linear
from belvedere.optics import LensModel
from belvedere.rehearse import Blur, CameraTraits, Exposure, PictureScene, Span, render_frame
from belvedere.rehearse.blur import disc_kernel, streak_kernel
from belvedere.rehearse.camera import falloff
from belvedere.rehearse.tone import linear_of_srgb, srgb_of_linear
from belvedere.sphere import camera_from_world, direction

CLEAN = CameraTraits(corner_falloff_ev=0.0, full_well_e=1e9, read_noise_e=0.0, lens_blur_px=0.0)


class DotScene:
    """Bright Gaussian dots at known directions, drawn exactly on any lattice."""

    def __init__(self, dots_deg: np.ndarray, sigma_deg: float) -> None:
        self.dots_deg, self.sigma_deg = dots_deg, sigma_deg

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> np.ndarray:
        bearing = left_deg + (np.arange(width_px) + 0.5) / px_per_deg
        elevation = top_deg - (np.arange(height_px) + 0.5) / px_per_deg
        light = np.zeros((height_px, width_px), dtype=np.float32)
        for at_bearing, at_elevation in self.dots_deg:
            away = (bearing - at_bearing + 180.0) % 360.0 - 180.0
            across = np.exp(-0.5 * (away * np.cos(np.radians(at_elevation)) / self.sigma_deg) ** 2)
            down = np.exp(-0.5 * ((elevation - at_elevation) / self.sigma_deg) ** 2)
            light += np.outer(down, across).astype(np.float32)
        return np.repeat(np.clip(light, 0.0, 1.0)[:, :, None], 3, axis=2)


def centroid(light: np.ndarray, near: np.ndarray, reach: int = 14) -> np.ndarray:
    x, y = (round(value) for value in near)
    window = light[y - reach : y + reach + 1, x - reach : x + reach + 1].astype(np.float64)
    rows, columns = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    return (
        np.array([x, y])
        + np.array([(window * columns).sum(), (window * rows).sum()]) / window.sum()
    )


def projected(lens: LensModel, rotation: np.ndarray, dots_deg: np.ndarray) -> np.ndarray:
    """Where OpenCV's projectPoints puts the dots."""
    matrix = np.array(
        [
            [lens.focal_length_px, 0.0, lens.centre_x_px],
            [0.0, lens.focal_length_px, lens.centre_y_px],
            [0.0, 0.0, 1.0],
        ]
    )
    distortion = np.array([lens.k1, lens.k2, lens.p1, lens.p2, lens.k3])
    rays = direction(dots_deg[:, 0], dots_deg[:, 1])
    turn, _ = cv2.Rodrigues(rotation)
    points, _ = cv2.projectPoints(rays[:, None, :], turn, np.zeros(3), matrix, distortion)
    return points[:, 0, :]


@pytest.mark.parametrize(
    ("focal_px", "bearing_deg", "elevation_deg", "roll_deg"),
    [
        (4722.0, 12.0, 3.0, 0.4),  # a long lens near the horizon
        (4722.0, -178.0, -35.0, -2.0),  # across the bearing where numbers jump
        (700.0, 40.0, 10.0, 5.0),  # a wide lens
        (1500.0, 40.0, 74.0, 1.0),  # almost overhead: the zenith is in the picture
    ],
)
def test_dots_land_where_opencv_projects_them(
    focal_px: float, bearing_deg: float, elevation_deg: float, roll_deg: float
) -> None:
    # Oracle: cv2.projectPoints, OpenCV's own implementation of the Brown–Conrady model. 0.1 px
    # is asked for; OpenCV's remap interpolates at 1/32 px, which leaves some 0.02 px.
    lens = LensModel(
        768, 576, focal_px, 385.2, 286.1, k1=-0.08 * (focal_px / 1500) ** 2, k2=0.01, p1=2e-4
    )
    rotation = camera_from_world(bearing_deg, elevation_deg, roll_deg)
    pixels = np.array([[60.0, 50.0], [700.0, 60.0], [380.0, 290.0], [80.0, 520.0], [690.0, 515.0]])
    rays = lens.unproject(pixels) @ rotation
    dots = np.stack(
        [
            np.degrees(np.arctan2(rays[:, 0], rays[:, 2])),
            np.degrees(np.arcsin(-rays[:, 1])),
        ],
        axis=1,
    )
    # Small against the distance to the zenith, where a Gaussian of bearing is a banana.
    scene = DotScene(dots, sigma_deg=np.degrees(2.5 / focal_px))
    picture = render_frame(scene, lens, rotation, CLEAN, Exposure(), np.random.default_rng(1))
    light = linear_of_srgb(picture)[:, :, 1]
    expected = projected(lens, rotation, dots)
    for point in expected:
        assert np.linalg.norm(centroid(light, point) - point) < 0.1


def test_a_picture_scene_puts_its_pixels_where_the_span_says() -> None:
    # One white pixel block per dot; its centre's direction follows from the span alone.
    picture = np.zeros((800, 1200, 3), dtype=np.uint8)
    places = np.array([[200, 150], [1000, 160], [600, 400], [250, 650], [980, 640]])
    for x, y in places:
        picture[y - 1 : y + 2, x - 1 : x + 2] = 255
    span = Span(-6.0, 6.0, 4.0, -4.0)
    dots = np.stack(
        [-6.0 + (places[:, 0] + 0.5) / 100.0, 4.0 - (places[:, 1] + 0.5) / 100.0], axis=1
    )
    lens = LensModel(1152, 864, 5600.0, 575.5, 431.5, k1=-0.2)
    rotation = camera_from_world(0.0, 0.0, 0.0)
    light = linear_of_srgb(
        render_frame(
            PictureScene(picture, span), lens, rotation, CLEAN, Exposure(), np.random.default_rng(1)
        )
    )[:, :, 1]
    for point in projected(lens, rotation, dots):
        assert np.linalg.norm(centroid(light, point) - point) < 0.1


class FlatScene:
    """The same light from everywhere."""

    def __init__(self, level: float) -> None:
        self.level = level

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> np.ndarray:
        return np.full((height_px, width_px, 3), self.level, dtype=np.float32)


LENS = LensModel.ideal(320, 240, 3000.0)
AHEAD = camera_from_world(0.0, 0.0)


@pytest.mark.parametrize("level", [0.05, 0.2, 0.5])
def test_noise_follows_the_photon_transfer_curve(level: float) -> None:
    # Janesick, "Photon Transfer", SPIE 2007: var = mean + read² in electrons, the variance taken
    # from half the difference of two frames. Code values are steps of the sRGB curve, so the
    # variance of rounding to one code is added: step²/12.
    traits = CameraTraits(
        corner_falloff_ev=0.0, full_well_e=10_000.0, read_noise_e=5.0, lens_blur_px=0.0
    )
    frames = [
        linear_of_srgb(
            render_frame(
                FlatScene(level), LENS, AHEAD, traits, Exposure(), np.random.default_rng(seed)
            )
        ).astype(np.float64)
        * traits.full_well_e
        for seed in (1, 2)
    ]
    middle = (slice(80, 160), slice(110, 210))
    difference = (frames[0] - frames[1])[middle]
    measured = difference.var() / 2.0
    mean_e = level * traits.full_well_e
    code = 255.0 * srgb_from_linear(np.array(level))
    step_e = traits.full_well_e * float(
        linear_from_srgb((code + 0.5) / 255.0) - linear_from_srgb((code - 0.5) / 255.0)
    )
    expected = mean_e + traits.read_noise_e**2 + step_e**2 / 12.0
    # 24,000 samples: the variance's own standard error is 0.9 %.
    assert measured == pytest.approx(expected, rel=0.05)
    assert frames[0][middle].mean() == pytest.approx(mean_e, rel=0.01)


def test_srgb_curve() -> None:
    # IEC 61966-2-1 by way of reference values: 0.5 → 187.516, 0.18 → 117.646 (of 255).
    assert 255.0 * srgb_from_linear(np.array([0.5, 0.18])) == pytest.approx(
        [187.516, 117.646], abs=1e-3
    )
    assert srgb_of_linear(np.array([0.0, 0.18, 0.5, 1.0, 1.7], np.float32)).tolist() == [
        0,
        118,
        188,
        255,
        255,
    ]
    codes = np.arange(256, dtype=np.uint8)
    assert np.array_equal(srgb_of_linear(linear_of_srgb(codes)), codes)


@pytest.mark.parametrize(("length", "direction_deg"), [(3.0, 0.0), (8.0, 30.0), (12.0, 117.0)])
def test_a_point_leaves_a_streak_of_the_length_and_direction_asked(
    length: float, direction_deg: float
) -> None:
    # An even streak of length L has the variance L²/12 along itself (uniform distribution);
    # bilinear sharing adds at most 1/4 px² per axis.
    light = streak(Blur(motion_px=length, motion_direction_deg=direction_deg))
    along, across, angle = moments(light)
    still_along, still_across, _ = moments(streak(Blur()))
    assert np.sqrt(12.0 * (along - still_along)) == pytest.approx(length, abs=0.5)
    assert across - still_across < 0.3
    assert abs((angle - direction_deg + 90.0) % 180.0 - 90.0) < 3.0


@pytest.mark.parametrize("sigma", [1.5, 2.5, 4.0])
def test_defocus_spreads_a_point_by_the_deviation_asked(sigma: float) -> None:
    # A uniform disc of radius 2σ has the variance σ² along each axis.
    along, across, _ = moments(streak(Blur(defocus_px=sigma)))
    still_along, still_across, _ = moments(streak(Blur()))
    assert np.sqrt(along - still_along) == pytest.approx(sigma, abs=0.1)
    assert np.sqrt(across - still_across) == pytest.approx(sigma, abs=0.1)


def streak(blur: Blur) -> np.ndarray:
    """What a dot becomes."""
    scene = DotScene(np.array([[0.0, 0.0]]), sigma_deg=np.degrees(0.9 / 3000.0))
    picture = render_frame(scene, LENS, AHEAD, CLEAN, Exposure(blur=blur), np.random.default_rng(1))
    light: np.ndarray = linear_of_srgb(picture)[:, :, 1].astype(np.float64)
    return light


def moments(light: np.ndarray) -> tuple[float, float, float]:
    """Variance along and across the longest axis, and its direction in degrees."""
    rows, columns = np.mgrid[0 : light.shape[0], 0 : light.shape[1]].astype(np.float64)
    total = light.sum()
    x = columns - (light * columns).sum() / total
    y = rows - (light * rows).sum() / total
    xx, yy, xy = ((light * product).sum() / total for product in (x * x, y * y, x * y))
    values, axes = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]))
    return float(values[1]), float(values[0]), float(np.degrees(np.arctan2(axes[1, 1], axes[0, 1])))


def test_kernels_keep_the_light() -> None:
    for kernel in (disc_kernel(2.3), streak_kernel(9.0, 40.0)):
        assert kernel.sum() == pytest.approx(1.0, abs=1e-6)
        assert kernel.min() >= 0.0


def test_corner_falloff_is_the_natural_law_or_what_was_asked() -> None:
    # cos⁴ of the angle off the axis: at 45° a quarter of the light is left.
    wide = LensModel.ideal(2001, 21, 1000.0)
    natural = falloff(wide, 0.0)
    assert natural[10, 2000] == pytest.approx(0.25, rel=1e-5)
    assert natural[10, 1000] == pytest.approx(1.0)
    asked = falloff(LENS, 0.4)
    assert np.log2(asked[120, 160] / asked[0, 0]) == pytest.approx(0.4, abs=0.005)


def test_exposure_and_white_balance_scale_linear_light() -> None:
    # One EV is a factor of two; gains multiply what the sensor counted.
    def levels(exposure: Exposure) -> np.ndarray:
        picture = render_frame(
            FlatScene(0.2), LENS, AHEAD, CLEAN, exposure, np.random.default_rng(1)
        )
        light: np.ndarray = linear_of_srgb(picture)[115:125, 155:165].mean(axis=(0, 1))
        return light

    assert levels(Exposure(ev=1.0)) == pytest.approx([0.4] * 3, rel=0.01)
    assert levels(Exposure(white_balance=(1.25, 1.0, 0.8))) == pytest.approx(
        [0.25, 0.2, 0.16], rel=0.01
    )
