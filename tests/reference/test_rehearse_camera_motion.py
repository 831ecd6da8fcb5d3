"""Motion while the shutter is open: paths against closed forms, kernels against moments."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from belvedere.optics import ev100
from belvedere.rehearse import (
    Blur,
    CameraSettings,
    FrameConditions,
    Gusts,
    Oscillation,
    linear_of_srgb,
    take_frame,
)
from belvedere.rehearse.vibration import (
    gust_path_px,
    joined,
    oscillation_path_px,
    path_kernel,
)
from belvedere.sphere import camera_from_world
from camera_scenes import CLEAN, NARROW, dots, moments

AHEAD = camera_from_world(0.0, 0.0)
PX_PER_ARCSEC = np.radians(1.0 / 3600.0) * 3000.0


def spread(conditions: FrameConditions, settings: CameraSettings, reach: int = 60) -> np.ndarray:
    """Covariance of a dot in the middle of the picture, without that of the dot itself."""
    light = ev100(settings.f_number, settings.exposure_s, settings.iso)
    scene = dots(np.array([[0.0, 0.0]]), np.degrees(1.2 / 3000.0))
    found = []
    for met in (conditions, FrameConditions()):
        lit = FrameConditions(
            light_ev100=light, oscillation=met.oscillation, gusts=met.gusts, blur=met.blur
        )
        frame = take_frame(scene, NARROW, AHEAD, CLEAN, settings, lit, np.random.default_rng(4))
        seen = linear_of_srgb(frame.picture)[:, :, 1]
        found.append(moments(seen, np.array([159.5, 119.5]), reach)[1])
    return np.asarray(found[0] - found[1])


def test_a_swing_is_that_of_a_damped_oscillator() -> None:
    # Oracle: scipy integrates x'' + 2 ζ ω x' + ω² x = 0, which the closed form solves.
    swing = Oscillation(40.0, rate_hz=7.0, damping=0.05, since_stop_s=0.3, phase=0.1)
    exposure_s, omega = 0.25, 2.0 * np.pi * 7.0
    path = oscillation_path_px(swing, exposure_s, 3000.0)
    times = 0.3 + (np.arange(len(path)) + 0.5) / len(path) * exposure_s
    damped = omega * np.sqrt(1.0 - 0.05**2)
    size, turn = 40.0 * PX_PER_ARCSEC, 2.0 * np.pi * 0.1
    start = [
        size * np.sin(turn),
        size * (damped * np.cos(turn) - 0.05 * omega * np.sin(turn)),
    ]
    solved = solve_ivp(
        lambda _, state: [state[1], -2.0 * 0.05 * omega * state[1] - omega**2 * state[0]],
        (0.0, 0.6),
        start,
        t_eval=times,
        rtol=1e-9,
        atol=1e-12,
    )
    assert path[:, 0] == pytest.approx(solved.y[0], abs=1e-5)
    assert np.abs(path[:, 1]).max() == 0.0


def test_many_swings_spread_a_point_by_the_variance_of_a_sinusoid() -> None:
    # A sinusoid of amplitude a has the variance a²/2; bilinear shares add up to 1/4 px².
    swing = Oscillation(400.0, rate_hz=20.0, damping=0.0, direction_deg=30.0)
    found = spread(FrameConditions(oscillation=swing), CameraSettings(exposure_s=1.0))
    variances, axes = np.linalg.eigh(found)
    amplitude = 400.0 * PX_PER_ARCSEC
    assert variances[1] == pytest.approx(amplitude**2 / 2.0, rel=0.02)
    assert variances[0] < 0.3
    assert np.degrees(np.arctan2(axes[1, 1], axes[0, 1])) % 180.0 == pytest.approx(30.0, abs=1.0)


def test_settling_makes_frames_sharper_by_the_decay_of_the_swing() -> None:
    # Amplitude falls as exp(-2π ζ f t): with ζ = 0.05 and 8 Hz in 0.6 s to exp(-1.508) = 0.2214.
    def deviation_px(since_stop_s: float) -> float:
        swing = Oscillation(600.0, 8.0, 0.05, since_stop_s)
        path = oscillation_path_px(swing, 0.125, 3000.0)  # a whole swing
        return float(path[:, 0].std())

    assert deviation_px(0.6) / deviation_px(0.0) == pytest.approx(0.2214, rel=0.05)


def test_a_short_exposure_catches_a_straight_streak() -> None:
    # Through the middle at its fastest, a swing moves by 2π f a t: 8 Hz, 500 arcsec, 1/400 s.
    path = oscillation_path_px(Oscillation(500.0, 8.0, 0.0), 1 / 400, 3000.0)
    expected = 2.0 * np.pi * 8.0 * 500.0 * PX_PER_ARCSEC / 400.0
    assert np.ptp(path[:, 0]) * len(path) / (len(path) - 1) == pytest.approx(expected, rel=0.01)


def test_gusts_have_the_deviation_asked_for_and_push_slowly() -> None:
    # Over long times the sway's deviation along each axis is the one asked for; half its power
    # lies below the rate (a first-order low-pass: Φ(f) = 2/π · atan(f / r), a half at f = r).
    rng = np.random.default_rng(1)
    paths = [gust_path_px(Gusts(50.0, 2.0), 40.0, 3000.0, rng) for _ in range(40)]
    asked_px = 50.0 * PX_PER_ARCSEC
    assert np.std([path - path.mean(axis=0) for path in paths]) == pytest.approx(asked_px, rel=0.1)
    power = np.zeros(len(paths[0]) // 2 + 1)
    for path in paths:
        for axis in (0, 1):
            power += np.abs(np.fft.rfft(path[:, axis] - path[:, axis].mean())) ** 2
    rates = np.fft.rfftfreq(len(paths[0]), 40.0 / len(paths[0]))
    assert power[rates <= 2.0].sum() / power.sum() == pytest.approx(0.5, abs=0.08)


def test_the_wind_blurs_long_exposures_more_than_short_ones() -> None:
    def blur_px(exposure_s: float) -> float:
        rng = np.random.default_rng(3)
        paths = [gust_path_px(Gusts(60.0), exposure_s, 3000.0, rng) for _ in range(60)]
        return float(np.mean([path.std(axis=0) for path in paths]))

    assert blur_px(1 / 400) < 0.1 * blur_px(1.0)


@given(st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=3, max_size=40))
def test_a_kernel_has_the_moments_of_its_path(points: list[tuple[float, float]]) -> None:
    # Bilinear shares keep the mean, and add frac (1 - frac), at most a quarter, to each variance.
    path = np.array(points)
    kernel = path_kernel(path).astype(np.float64)
    half = kernel.shape[0] // 2
    y, x = np.mgrid[-half : half + 1, -half : half + 1]
    assert kernel.sum() == pytest.approx(1.0, abs=1e-5)
    assert kernel.min() >= 0.0
    for axis, at in ((0, x), (1, y)):
        assert (kernel * at).sum() == pytest.approx(0.0, abs=1e-4)
        added = (kernel * at * at).sum() - path[:, axis].var()
        assert -1e-3 < added < 0.2501


def test_a_kernel_is_not_turned_about() -> None:
    # A point that lingers at its start and then darts right leaves its tail on the right.
    path = np.concatenate([np.zeros((80, 2)), np.linspace([0.0, 0.0], [20.0, 0.0], 20)])
    kernel = path_kernel(path)
    row = kernel[kernel.shape[0] // 2]
    lit = np.flatnonzero(row > 1e-6)
    peak = int(row.argmax())
    assert lit.max() - peak > 10
    assert peak - lit.min() <= 1


def test_light_goes_where_the_motion_takes_it() -> None:
    # A fast swing that dies away: the camera lingers near its end, and the long tail of a bright
    # dot lies on the side that the path's skewness says.
    swing = Oscillation(1500.0, rate_hz=1.0, damping=0.9, phase=0.25)
    settings = CameraSettings(exposure_s=1.0)
    path = oscillation_path_px(swing, 1.0, 3000.0)[:, 0]
    skew = float(((path - path.mean()) ** 3).mean())
    scene = dots(np.array([[0.0, 0.0]]), np.degrees(1.2 / 3000.0))
    met = FrameConditions(oscillation=swing, light_ev100=ev100(5.6, 1.0, 100.0))
    frame = take_frame(scene, NARROW, AHEAD, CLEAN, settings, met, np.random.default_rng(1))
    row = linear_of_srgb(frame.picture)[:, :, 1].sum(axis=0, dtype=np.float64)
    x = np.arange(320) - (row * np.arange(320)).sum() / row.sum()
    assert abs(skew) > 1.0
    assert np.sign((row * x**3).sum()) == np.sign(skew)


def test_two_motions_at_once_add() -> None:
    # Independent motions: the second moments add.
    swing = oscillation_path_px(Oscillation(300.0, 25.0, 0.0), 1.0, 3000.0)
    slow = np.stack([np.zeros(64), np.linspace(-3.0, 3.0, 64)], axis=1)
    both = joined(swing, slow)
    assert both[:, 0].var() == pytest.approx(swing[:, 0].var(), rel=1e-6)
    assert both[:, 1].var() == pytest.approx(6.0**2 / 12.0, rel=0.05)


def test_the_record_tells_the_blur_of_the_picture() -> None:
    # The kernel's deviations in the record are those of a dot in the picture.
    blur = Blur(defocus_px=2.0, motion_px=12.0, motion_direction_deg=120.0)
    frame = take_frame(
        dots(np.array([[0.0, 0.0]]), 0.01),
        NARROW,
        AHEAD,
        CLEAN,
        CameraSettings(),
        FrameConditions(blur=blur),
        np.random.default_rng(1),
    )
    variances, _ = np.linalg.eigh(spread(FrameConditions(blur=blur), CameraSettings()))
    said = frame.record.kernel
    assert said.along_px == pytest.approx(np.sqrt(variances[1]), abs=0.1)
    assert said.across_px == pytest.approx(np.sqrt(variances[0]), abs=0.1)
    assert said.along_px == pytest.approx(np.sqrt(2.0**2 + 12.0**2 / 12.0), abs=0.1)
    assert said.direction_deg == pytest.approx(120.0, abs=2.0)


def test_a_subject_that_moves_is_smeared_in_a_long_exposure_only() -> None:
    # 0.05 °/s for 0.4 s is 0.02°, 1.05 px at 3000 px; drawn at 4 moments, evenly apart: the
    # variance of 4 places over the length L is L² (1 - 1/16) / 12.
    sigma = np.degrees(1.5 / 3000.0)
    variances = []
    for exposure_s, speed in ((1 / 400, 0.5), (0.4, 0.5), (0.4, 0.0)):
        scene = dots(np.array([[0.0, 0.0]]), sigma, moving_deg_s=speed)
        met = FrameConditions(light_ev100=ev100(5.6, exposure_s, 100.0))
        frame = take_frame(
            scene,
            NARROW,
            AHEAD,
            CLEAN,
            CameraSettings(exposure_s=exposure_s),
            met,
            np.random.default_rng(1),
        )
        light = linear_of_srgb(frame.picture)[:, :, 1]
        variances.append(moments(light, np.array([159.5, 119.5]), 25)[1][0, 0])
    length_px = np.radians(0.5 * 0.4) * 3000.0
    assert variances[0] == pytest.approx(variances[2], abs=0.02)
    expected = length_px**2 * (1.0 - 1.0 / 16.0) / 12.0
    assert variances[1] - variances[2] == pytest.approx(expected, rel=0.05)
