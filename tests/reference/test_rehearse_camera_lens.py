"""The simulated lens: where points land, and its contrast on a slanted edge against theory."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import prysm.otf
import pytest
from scipy.special import j1

from belvedere.optics import LensModel
from belvedere.rehearse import (
    CameraSettings,
    CameraTraits,
    FrameConditions,
    Optic,
    linear_of_srgb,
    take_frame,
)
from belvedere.sphere import camera_from_world, direction
from camera_scenes import CLEAN, NARROW, TALL, Painted, dots, edge, flat, moments

AHEAD = camera_from_world(0.0, 0.0)
FREQUENCIES = np.array([0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4])


def picture(
    scene: Painted,
    settings: CameraSettings | None = None,
    conditions: FrameConditions | None = None,
    optic: Optic | None = None,
    traits: CameraTraits = CLEAN,
    lens: LensModel = NARROW,
    rotation: np.ndarray = AHEAD,
) -> np.ndarray:
    """Linear light of the green channel, through the whole camera; no change of exposure."""
    settings = settings or CameraSettings()
    conditions = conditions or FrameConditions()
    stops = 2.0 * np.log2(settings.f_number / 5.6)  # opened or closed: the light is made to fit
    lit = replace(conditions, error_ev=conditions.error_ev + stops)
    frame = take_frame(
        scene, lens, rotation, traits, settings, lit, np.random.default_rng(1), optic
    )
    light: np.ndarray = linear_of_srgb(frame.picture)[:, :, 1].astype(np.float64)
    return light


#: A little noise blurs the steps of 8 bits, which would look like fine detail of the edge.
DITHERED = replace(CLEAN, read_noise_e=4e-3 * CLEAN.full_well_e)


def edge_contrast(
    distance_m: float = np.inf,
    settings: CameraSettings | None = None,
    optic: Optic | None = None,
    traits: CameraTraits = DITHERED,
) -> np.ndarray:
    """An edge's response at FREQUENCIES: ISO 12233's way, for an edge whose place is known.

    Four bins a pixel across the edge, their differences, a window, a Fourier sum.
    """
    slope, reach, fine = 0.1, 24, 4
    light = picture(edge(distance_m, slope=slope), settings, None, optic, traits, TALL)
    light = light[40:-40]
    y, x = np.indices(light.shape, dtype=np.float64)
    # The edge's bearing grows with elevation; rows go down.
    across = x - (light.shape[1] - 1) / 2 + slope * (y - (light.shape[0] - 1) / 2)
    bins = np.floor(across / np.hypot(1.0, slope) * fine).astype(int) + fine * reach
    inside = (bins >= 0) & (bins < 2 * fine * reach)
    sums = np.bincount(bins[inside], light[inside], 2 * fine * reach)
    spread = np.diff(sums / np.bincount(bins[inside], minlength=2 * fine * reach))
    spread *= np.hanning(len(spread))
    at = (np.arange(len(spread)) - (len(spread) - 1) / 2) / fine
    waves = np.exp(-2j * np.pi * FREQUENCIES[:, None] * at)
    return np.asarray(np.abs(waves @ spread) / spread.sum())


@pytest.mark.parametrize(
    ("f_number", "pitch_um"), [(5.6, 4.0), (8.0, 4.0), (4.0, 2.0), (11.0, 6.0), (16.0, 4.0)]
)
def test_diffraction_takes_the_contrast_that_a_round_aperture_takes(
    f_number: float, pitch_um: float
) -> None:
    # Oracle: prysm's diffraction-limited MTF, at 550 nm. The ratio of two edges leaves nothing
    # but the lens. The kernel ends after some rings of the Airy pattern, which go on: 0.045.
    settings = CameraSettings(f_number=f_number)
    measured = edge_contrast(settings=settings, optic=Optic(50.0, pitch_um)) / edge_contrast()
    expected = prysm.otf.diffraction_limited_mtf(
        f_number, 0.55, frequencies=FREQUENCIES * 1000.0 / pitch_um
    )
    assert measured == pytest.approx(expected, abs=0.045)


def test_pixels_integrate_over_their_area() -> None:
    # A square pixel's contrast is sinc(f) (reference value: sinc 0.25 = 0.9003). The scene is
    # gathered from a lattice of two thirds of a pixel, area-sampled across the edge, linearly
    # interpolated: sinc(f/1.5)³ more; bins of a quarter pixel and their differences: sinc(f/4)².
    # Three samples a pixel stand for its area: that keeps 0.03 too much contrast at the finest,
    # and all of it together 0.04; the noise that dithers the codes moves this by 0.002.
    measured = edge_contrast()
    expected = (
        np.sinc(FREQUENCIES) * np.sinc(FREQUENCIES / 1.5) ** 3 * np.sinc(FREQUENCIES / 4) ** 2
    )
    assert measured == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize(
    ("distance_m", "focus_m", "f_number"),
    [(30.0, 10.0, 4.0), (5.0, 10.0, 8.0), (np.inf, 40.0, 2.8)],
)
def test_defocus_takes_the_contrast_of_a_disc(
    distance_m: float, focus_m: float, f_number: float
) -> None:
    # The thin lens (S. F. Ray, "Applied Photographic Optics", 2002; from memory): the disc is
    # f²/(N (s - f)) · |D - s|/D wide, and a disc's contrast is 2 J1(π d f)/(π d f).
    pitch_um, focal_mm = 6.0, 50.0
    s_mm = focus_m * 1000.0
    away = 1.0 if np.isinf(distance_m) else abs(distance_m - focus_m) / distance_m
    disc_px = focal_mm**2 / (f_number * (s_mm - focal_mm)) * away * 1000.0 / pitch_um
    sharp, soft = (
        edge_contrast(
            distance_m,
            CameraSettings(f_number=f_number, focus_m=focused),
            Optic(focal_mm, pitch_um),
        )
        for focused in (None, focus_m)
    )
    measured = soft / sharp
    x = np.pi * disc_px * FREQUENCIES
    expected = np.abs(2.0 * j1(x) / x)
    before_zero = x < 3.6  # the first zero of J1 is at 3.83
    assert before_zero.sum() >= 3
    assert measured[before_zero] == pytest.approx(expected[before_zero], abs=0.05)
    assert measured[~before_zero].max() < 0.16  # the first ring of the disc: 0.132


def test_depth_blurs_each_part_by_its_own_distance() -> None:
    # Dots on a slope from 6 m to infinity, the lens focused at 8 m: each spreads by the variance
    # (d/4)² of its own disc, d from the thin lens. The lattice of distances is 24 px.
    focal_mm, pitch_um, f_number, focus_m = 50.0, 6.0, 5.6, 8.0
    lens = LensModel.ideal(640, 240, 3000.0)
    x = np.array([40.0, 130.0, 220.0, 310.0, 400.0, 490.0, 600.0])
    bearing = np.degrees(np.arctan((x - 319.5) / 3000.0))

    def inverse_m(at_deg: np.ndarray) -> np.ndarray:
        share = (np.tan(np.radians(at_deg)) * 3000.0 + 319.5) / 639.0
        return np.asarray((1.0 - np.clip(share, 0.0, 1.0)) / 6.0)

    def distance_m(at_deg: np.ndarray, _: np.ndarray) -> np.ndarray:
        with np.errstate(divide="ignore"):
            return np.asarray(1.0 / inverse_m(at_deg))

    places = np.stack([bearing, np.zeros_like(bearing)], axis=1)
    scene = dots(places, np.degrees(1.5 / 3000.0), distance_m)
    optic = Optic(focal_mm, pitch_um)
    spread = []
    for focused in (None, focus_m):
        settings = CameraSettings(f_number=f_number, focus_m=focused)
        light = picture(scene, settings, optic=optic, lens=lens)
        spread.append([np.trace(moments(light, np.array([at, 119.5]), 24)[1]) / 2.0 for at in x])
    measured = np.sqrt(np.maximum(np.subtract(spread[1], spread[0]), 0.0)) * 4.0
    expected = (
        focal_mm**2
        / f_number
        / (1.0 - focal_mm / 8000.0)
        * np.abs(1.0 / focus_m - inverse_m(bearing))
        / pitch_um
    )
    assert expected.max() > 8.0
    assert measured == pytest.approx(expected, abs=0.6)


def test_at_default_settings_the_lens_is_as_sharp_with_an_optic_as_without() -> None:
    # Where diffraction at f/5.6 is less than the lens's usual blur (pixels of 6 µm and more),
    # both ways give the same contrast.
    traits = replace(DITHERED, lens_blur_px=CameraTraits().lens_blur_px)
    without = edge_contrast(traits=traits)
    with_optic = edge_contrast(optic=Optic(50.0, 8.0), traits=traits)
    assert with_optic == pytest.approx(without, abs=0.02)


@pytest.mark.parametrize("turned_deg", [(12.0, 3.0, 0.4), (-178.0, -35.0, -2.0)])
def test_dots_land_where_opencv_projects_them_with_everything_on(
    turned_deg: tuple[float, float, float],
) -> None:
    # Oracle: cv2.projectPoints. Depth, diffraction, a swing of the camera, noise and corners that
    # are darker: nothing may move a point. 0.1 px is asked for.
    lens = CameraTraits().lens(768, 576, 4722.0)
    rotation = camera_from_world(*turned_deg)
    pixels = np.array([[60.0, 50.0], [700.0, 60.0], [380.0, 290.0], [80.0, 520.0], [690.0, 515.0]])
    rays = lens.unproject(pixels) @ rotation
    places = np.stack(
        [np.degrees(np.arctan2(rays[:, 0], rays[:, 2])), np.degrees(np.arcsin(-rays[:, 1]))], axis=1
    )
    scene = dots(places, np.degrees(2.5 / 4722.0), 30.0)
    settings = CameraSettings(focus_m=20.0)
    light = picture(scene, settings, optic=Optic(50.0, 10.0), lens=lens, rotation=rotation)
    matrix = np.array(
        [
            [lens.focal_length_px, 0.0, lens.centre_x_px],
            [0.0, lens.focal_length_px, lens.centre_y_px],
            [0.0, 0.0, 1.0],
        ]
    )
    points, _ = cv2.projectPoints(
        direction(places[:, 0], places[:, 1])[:, None, :],
        cv2.Rodrigues(rotation)[0],
        np.zeros(3),
        matrix,
        np.array([lens.k1, lens.k2, lens.p1, lens.p2, lens.k3]),
    )
    for point in points[:, 0, :]:
        assert np.linalg.norm(moments(light, point, 16)[0] - point) < 0.1


def test_light_falls_off_with_the_fourth_power_of_the_cosine() -> None:
    # The natural law, through the whole camera, off the axis up to 30°.
    lens = LensModel.ideal(401, 301, 350.0)
    light = picture(flat(0.8), lens=lens)
    y, x = np.mgrid[0:301, 0:401]
    cosine = 350.0 / np.sqrt((x - 200.0) ** 2 + (y - 150.0) ** 2 + 350.0**2)
    assert np.degrees(np.arccos(cosine.min())) > 30.0
    assert light == pytest.approx(0.8 * cosine**4, abs=0.008)  # one step of 8-bit sRGB at 0.8


def test_closing_the_aperture_brightens_the_corners_down_to_the_natural_law() -> None:
    # The barrel cuts the pupil less, the smaller it is (common practice, no source); the natural
    # law stays. One stop halves what is left.
    lens, traits = LensModel.ideal(400, 300, 2000.0), CameraTraits(corner_falloff_ev=0.8)

    def corner_ev(f_number: float) -> float:
        settings = CameraSettings(f_number=f_number)
        light = picture(flat(0.5), settings, traits=CLEANLY_FALLING, lens=lens)
        return float(np.log2(light[140:160, 190:210].mean() / light[:3, :3].mean()))

    assert traits.corner_falloff_ev == CLEANLY_FALLING.corner_falloff_ev
    natural = -4.0 * np.log2(np.cos(np.arctan(np.hypot(199.5, 149.5) / 2000.0)))
    assert corner_ev(5.6) == pytest.approx(0.8, abs=0.03)
    assert corner_ev(5.6 * np.sqrt(2.0)) - natural == pytest.approx((0.8 - natural) / 2, abs=0.03)
    assert corner_ev(22.0) == pytest.approx(natural, abs=0.07)


CLEANLY_FALLING = CameraTraits(
    corner_falloff_ev=0.8, full_well_e=1e9, read_noise_e=0.0, dark_current_e_s=0.0, bits=16
)
