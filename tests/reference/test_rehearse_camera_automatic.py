"""Automatic exposure, white balance and focus: how they react to frames that are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from belvedere.optics import ev100
from belvedere.rehearse import (
    CameraSettings,
    CameraTraits,
    Frame,
    FrameConditions,
    Optic,
    linear_of_srgb,
    take_frame,
)
from belvedere.sphere import camera_from_world
from camera_scenes import CLEAN, NARROW, Painted, dots, flat

AHEAD = camera_from_world(0.0, 0.0)
AUTO = CameraSettings(exposure_mode="auto", white_balance_mode="auto", focus_mode="auto")
EXPOSURE = CameraSettings(exposure_mode="auto")
BALANCE = CameraSettings(white_balance_mode="auto")
FOCUS = CameraSettings(focus_mode="auto")


def taken(
    scene: Painted,
    settings: CameraSettings,
    conditions: FrameConditions | None = None,
    seed: int = 1,
    traits: CameraTraits = CLEAN,
) -> Frame:
    met = conditions or FrameConditions()
    rng = np.random.default_rng(seed)
    return take_frame(scene, NARROW, AHEAD, traits, settings, met, rng, Optic(50.0, 6.0))


def middle(frame: Frame) -> np.ndarray:
    light: np.ndarray = linear_of_srgb(frame.picture)[110:130, 150:170].mean(axis=(0, 1))
    return light


@pytest.mark.parametrize("level", [0.02, 0.05, 0.18, 0.4, 0.9])
def test_whatever_fills_the_frame_comes_out_grey(level: float) -> None:
    # A meter takes what it sees for 18 % grey (common practice); steps are thirds of a stop, so
    # it is within a sixth: white sky and black water come out the same.
    frame = taken(flat(level), EXPOSURE)
    assert abs(np.log2(middle(frame).mean() / 0.18)) <= 1.0 / 6.0 + 0.03
    steps = -3.0 * np.log2(frame.record.exposure_s)
    assert steps == pytest.approx(round(steps), abs=1e-6)


def test_a_bright_sky_makes_the_rest_dark() -> None:
    # Upper half nine times as bright: the ground of the same 10 % comes out darker than alone.
    half_sky = Painted(lambda b, e, scale, at_s: np.where(e + 0 * b > 0.0, 0.9, 0.1))
    ground = slice(180, 230), slice(100, 220)
    alone = linear_of_srgb(taken(flat(0.1), EXPOSURE).picture)[ground].mean()
    below = linear_of_srgb(taken(half_sky, EXPOSURE).picture)[ground].mean()
    assert np.log2(alone / below) > 1.5


def test_the_middle_weighs_more_than_the_edge() -> None:
    # Common practice: centre-weighted. A bright disc in the middle against the same area on the
    # edge.
    def bright(centre_deg: float) -> Painted:
        return Painted(
            lambda b, e, scale, at_s: np.where(np.hypot(b - centre_deg, e) < 0.8, 0.9, 0.05)
        )

    assert (
        taken(bright(0.0), EXPOSURE).record.exposure_s
        < taken(bright(2.6), EXPOSURE).record.exposure_s
    )


def test_the_meter_follows_the_light_and_the_aperture() -> None:
    # APEX: Tv = Ev - Av + Sv'. A stop less light doubles the time, a stop closed doubles it, a
    # stop of ISO halves it; the picture stays the same.
    base = taken(flat(0.2), EXPOSURE).record.exposure_s
    darker = taken(flat(0.2), EXPOSURE, FrameConditions(illumination_ev=-1.0))
    closed = taken(flat(0.2), replace(EXPOSURE, f_number=5.6 * np.sqrt(2.0)))
    faster = taken(flat(0.2), replace(EXPOSURE, iso=200.0))
    brighter = taken(flat(0.2), replace(EXPOSURE, compensation_ev=1.0))
    assert darker.record.exposure_s == pytest.approx(2.0 * base)
    assert closed.record.exposure_s == pytest.approx(2.0 * base)
    assert faster.record.exposure_s == pytest.approx(base / 2.0)
    assert brighter.record.exposure_s == pytest.approx(2.0 * base)
    assert middle(darker) == pytest.approx(middle(faster), rel=0.02)


def test_settings_by_hand_hold_whatever_is_in_the_frame() -> None:
    for level in (0.05, 0.8):
        frame = taken(flat(level), CameraSettings(focus_m=30.0))
        assert frame.record.exposure_s == CameraSettings().exposure_s
        assert frame.record.white_balance == (1.0, 1.0, 1.0)
        assert frame.record.focus_m == 30.0
        assert middle(frame) == pytest.approx([level] * 3, rel=0.01)


def test_dusk_needs_the_time_that_the_exposure_value_says() -> None:
    # EV = log2(N²/t · 100/S): at EV 3, f/5.6 and ISO 100 a scene exposed from black to white
    # takes 31.36/8 = 3.92 s; a mean of 18 % is metered to that, within a sixth of a stop.
    frame = taken(flat(0.18), EXPOSURE, FrameConditions(light_ev100=3.0))
    assert abs(np.log2(frame.record.exposure_s / 3.92)) <= 1.0 / 6.0 + 1e-6
    assert abs(ev100(5.6, frame.record.exposure_s, 100.0) - 3.0) <= 1.0 / 6.0 + 1e-6


def test_grey_world_turns_a_cast_to_grey_as_far_as_its_limits_go() -> None:
    # G. Buchsbaum, 1980: gains that make the mean grey. A mild cast goes, a strong one stays in
    # part: a wall of bricks comes out bluer than it is, and not grey.
    mild = middle(taken(flat(0.25, 0.2, 0.17), BALANCE))
    assert mild == pytest.approx([0.2] * 3, rel=0.02)
    strong = taken(flat(0.5, 0.2, 0.08), BALANCE)
    red, green, blue = middle(strong)
    assert red > 1.3 * green > 1.3 * blue
    assert red / blue < 0.6 * 0.5 / 0.08
    assert strong.record.white_balance[1] == 1.0


def test_white_balance_follows_the_colour_of_the_light() -> None:
    warm = FrameConditions(illuminant=(1.15, 1.0, 0.88))
    by_hand = middle(taken(flat(0.2), CameraSettings(), warm))
    assert by_hand == pytest.approx([0.23, 0.2, 0.176], rel=0.02)
    assert middle(taken(flat(0.2), BALANCE, warm)) == pytest.approx([0.2] * 3, rel=0.02)


def detailed(distance_m: float) -> Painted:
    places = np.random.default_rng(1).uniform(-0.6, 0.6, (60, 2))
    return dots(places, np.degrees(1.2 / 3000.0), distance_m)


def test_autofocus_takes_the_distance_of_the_middle() -> None:
    record = taken(detailed(17.0), FOCUS).record
    assert record.focus_found
    assert record.focus_m == pytest.approx(17.0)
    assert record.focus_s < 1.0
    assert record.defocus_px == pytest.approx((0.0, 0.0), abs=1e-6)


def test_autofocus_hunts_where_there_is_nothing_to_see_and_lands_wrong() -> None:
    # Common practice, no source: plain sky and haze give autofocus nothing to hold on to.
    records = [taken(flat(0.5), FOCUS, seed=seed).record for seed in range(20)]
    assert not any(record.focus_found for record in records)
    assert min(record.focus_s for record in records) > 1.0
    landed = [record.focus_m for record in records if record.focus_m is not None]
    assert min(landed) >= CLEAN.nearest_focus_m
    assert len(set(landed)) == 20
    # The sky is at infinity: most of them are badly out of focus, f²/(N s) on a pixel of 6 µm.
    for record in records:
        assert record.focus_m is not None
        disc_px = 50.0**2 / 5.6 / (record.focus_m * 1000.0 - 50.0) / 0.006
        assert record.defocus_px[1] == pytest.approx(disc_px, rel=1e-3)


def test_autofocus_hunts_in_the_dark() -> None:
    assert taken(detailed(17.0), FOCUS).record.focus_found
    night = FrameConditions(light_ev100=-3.0)
    assert not taken(detailed(17.0), FOCUS, night).record.focus_found


def test_same_seed_same_bytes_and_another_seed_other_noise() -> None:
    noisy = CameraTraits()
    first, again, other = (
        taken(detailed(17.0), AUTO, seed=seed, traits=noisy) for seed in (5, 5, 6)
    )
    assert first.picture.tobytes() == again.picture.tobytes()
    assert first.record == again.record
    assert first.picture.tobytes() != other.picture.tobytes()
