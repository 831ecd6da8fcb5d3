"""The simulated sensor: noise against photon transfer, the dark, lamps on the mains."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from belvedere.foundation import linear_from_srgb, srgb_from_linear
from belvedere.optics import LensModel, ev100
from belvedere.rehearse import (
    CameraSettings,
    CameraTraits,
    Flicker,
    FrameConditions,
    Optic,
    linear_of_srgb,
    take_frame,
)
from belvedere.rehearse.sensor import counted, counting, numbers
from belvedere.sphere import camera_from_world
from camera_scenes import CLEAN, NARROW, flat

AHEAD = camera_from_world(0.0, 0.0)
PLAIN = CameraTraits(corner_falloff_ev=0.0, lens_blur_px=0.0, hot_pixels_per_mp=0.0)


def frame(
    level: float,
    settings: CameraSettings,
    traits: CameraTraits = PLAIN,
    seed: int = 1,
    conditions: FrameConditions | None = None,
    lens: LensModel = NARROW,
) -> np.ndarray:
    """Linear light of a flat scene; the light is such that the settings show it as painted."""
    light = ev100(settings.f_number, settings.exposure_s, settings.iso)
    met = replace(conditions or FrameConditions(), light_ev100=light)
    taken = take_frame(
        flat(level), lens, AHEAD, traits, settings, met, np.random.default_rng(seed), Optic(50, 6)
    )
    return linear_of_srgb(taken.picture).astype(np.float64)


def code_step(level: float) -> float:
    """One step of 8-bit sRGB at a level of linear light."""
    code = 255.0 * srgb_from_linear(np.array(level))
    return float(linear_from_srgb((code + 0.5) / 255.0) - linear_from_srgb((code - 0.5) / 255.0))


@pytest.mark.parametrize("iso", [100.0, 400.0, 1600.0])
@pytest.mark.parametrize("level", [0.05, 0.2, 0.5])
def test_noise_follows_the_photon_transfer_relation_at_every_iso(iso: float, level: float) -> None:
    # J. R. Janesick, "Photon Transfer", SPIE 2007: var(DN) = g² (mean_e + read²), from half the
    # difference of two frames. g is one over the electrons at white, which fall as the ISO rises
    # (10,000 at ISO 100, 625 at 1600). Rounding to 12 bits and to a code adds step²/12 each.
    settings = CameraSettings(iso=iso, exposure_s=1.0 / 400.0)
    white_e = PLAIN.full_well_e * 100.0 / iso
    first, second = (frame(level, settings, seed=seed)[60:180, 60:260] for seed in (1, 2))
    measured = float(np.var(first - second) / 2.0)
    expected = (level * white_e + PLAIN.read_noise_e**2) / white_e**2
    expected += (code_step(level) ** 2 + (1.0 / 4095.0) ** 2) / 12.0
    # 72,000 samples: a standard error of 0.7 %; the curve's bend under the widest noise: some 2 %.
    assert measured == pytest.approx(expected, rel=0.05)
    assert first.mean() == pytest.approx(level, rel=0.01)


@pytest.mark.parametrize(
    ("mean_e", "variance_dn"), [(100.0, 31.25), (1000.0, 256.25), (10_000.0, 2506.25)]
)
def test_photon_transfer_table(mean_e: float, variance_dn: float) -> None:
    # Worked values for g = 0.5 DN per electron and a read noise of 5 e: var = g² (mean + read²).
    traits = CameraTraits(full_well_e=20_000.0, read_noise_e=5.0, dark_current_e_s=0.0)
    how = counting(traits, iso=100.0, exposure_s=0.01, dark_frame=False)
    light = np.full((400, 400, 3), mean_e / 20_000.0, dtype=np.float32)
    signal = counted(light, how, np.random.default_rng(1)) * 10_000.0  # 0.5 DN per electron
    assert signal.var(dtype=np.float64) == pytest.approx(variance_dn, rel=0.01)


def test_the_sensor_counts_in_whole_numbers_of_its_depth() -> None:
    # 12 bits: 4096 numbers from black to white.
    how = counting(replace(CLEAN, bits=12), 100.0, 0.01, False)
    ramp = np.linspace(-0.1, 1.1, 20_000, dtype=np.float32)[None, :, None].repeat(3, axis=2)
    seen = numbers(ramp.copy(), how)
    assert (seen.min(), seen.max()) == (0, 4095)
    assert len(np.unique(seen)) == 4096
    assert np.abs(seen / 4095.0 - np.clip(ramp, 0, 1)).max() <= 0.5 / 4095.0 + 1e-6


def test_the_dark_adds_its_mean_and_its_noise_and_a_dark_frame_takes_the_mean_away() -> None:
    # Dark current D for t seconds is D t electrons with the variance D t (Poisson; Janesick 2007,
    # chapter on dark current). A dark frame's noise comes on top: twice the variance, no mean.
    traits = replace(PLAIN, dark_current_e_s=20.0, full_well_e=10_000.0)
    level, exposure_s = 0.1, 30.0
    dark_e, signal_e = 20.0 * 30.0, level * 10_000.0
    settings = CameraSettings(exposure_s=exposure_s)
    with_dark = frame(level, settings, traits)[60:180, 60:260]
    without = frame(level, replace(settings, dark_frame=True), traits)[60:180, 60:260]
    assert with_dark.mean() == pytest.approx((signal_e + dark_e) / 10_000.0, rel=0.01)
    assert without.mean() == pytest.approx(level, rel=0.01)
    rounding = code_step(level) ** 2 / 12.0
    expected = (signal_e + 2.0 * (dark_e + 25.0)) / 10_000.0**2 + rounding
    assert without.var() == pytest.approx(expected, rel=0.05)
    expected = (signal_e + dark_e + 25.0) / 10_000.0**2 + code_step(0.16) ** 2 / 12.0
    assert with_dark.var() == pytest.approx(expected, rel=0.05)


def test_hot_pixels_show_in_long_exposures_stay_in_place_and_leave_with_a_dark_frame() -> None:
    # Common practice, no source: what long-exposure noise reduction is for.
    traits = replace(PLAIN, hot_pixels_per_mp=300.0, dark_current_e_s=0.0)
    short, long = CameraSettings(exposure_s=1 / 400), CameraSettings(exposure_s=30.0)

    def spots(settings: CameraSettings, camera_seed: int = 1, seed: int = 1) -> set[int]:
        seen = frame(0.02, settings, replace(traits, camera_seed=camera_seed), seed)
        return set(np.flatnonzero(seen.max(axis=2) > 0.06).tolist())

    hot = spots(long)
    assert 12 <= len(hot) <= 23  # 300 in a million of 76,800 pixels are 23, most of them hot enough
    assert len(spots(long, seed=2) & hot) >= 0.9 * len(hot)
    assert not spots(short)
    assert not spots(long, camera_seed=2) & hot
    assert len(spots(replace(long, dark_frame=True)) & hot) <= 0.2 * len(hot)


def test_bad_pixels_say_the_same_whatever_they_see() -> None:
    traits = replace(PLAIN, bad_pixels_per_mp=300.0)
    dim, bright = (frame(level, CameraSettings(), traits) for level in (0.2, 0.6))
    black = (dim < 0.01) & (bright < 0.01)
    white = (dim > 0.99) & (bright > 0.99)
    assert black.sum() + white.sum() == 23
    assert black.sum() > 0
    assert white.sum() > 0


@pytest.mark.parametrize(("mains_hz", "exposure_s"), [(50.0, 1 / 400), (60.0, 1 / 250)])
def test_flicker_draws_bands_at_twice_the_mains(mains_hz: float, exposure_s: float) -> None:
    # Lamps on the mains are brightest twice in a period. A row that opens at t takes the mean of
    # 1 + m cos(2π F t) over its exposure T: the swing is m sinc(F T), the bands are F · readout.
    lens = LensModel.ideal(64, 600, 6000.0)
    traits = replace(PLAIN, full_well_e=1e9, readout_s=0.05)
    met = FrameConditions(flicker=Flicker(mains_hz, 0.4, 0.1))
    rows = frame(0.3, CameraSettings(exposure_s=exposure_s), traits, conditions=met, lens=lens)
    rows = rows[:, :, 1].mean(axis=1) / 0.3 - 1.0
    per_s, time_s = 2.0 * mains_hz, np.arange(600) / 600 * 0.05
    waves = np.exp(-2j * np.pi * np.arange(20.0, 300.0)[:, None] * time_s)
    strength = np.abs(waves @ rows)
    assert 20.0 + strength.argmax() == pytest.approx(per_s, abs=2.0)
    x = np.pi * per_s * exposure_s
    swing = 2.0 * np.abs(np.exp(-2j * np.pi * per_s * time_s) @ rows) / 600
    assert swing == pytest.approx(0.4 * np.sin(x) / x, abs=0.015)


def test_flicker_vanishes_where_the_exposure_holds_whole_swings() -> None:
    # Common practice: 1/50 s or 1/100 s under 50 Hz lamps.
    met = FrameConditions(flicker=Flicker(50.0, 0.4))
    traits = replace(PLAIN, full_well_e=1e9)
    rows = frame(0.3, CameraSettings(exposure_s=1 / 100), traits, conditions=met)[:, :, 1]
    assert np.ptp(rows.mean(axis=1)) < 0.004


def test_dust_is_small_and_dark_at_f22_wide_and_faint_at_f4() -> None:
    # A grain of diameter g on glass h before the pixels takes away light in proportion to its
    # area, whatever the aperture: pixels see a cone of h/N, so the shadow's sum is that of the
    # grain, and its deepest is (g N / h)² where the cone is the wider one (geometry; the glass is
    # taken as 1 mm, common practice, no source).
    def shadow(f_number: float) -> np.ndarray:
        stops = 2.0 * np.log2(f_number / 5.6)
        met = FrameConditions(dust_grains=6, error_ev=stops)
        taken = take_frame(
            flat(0.6),
            LensModel.ideal(640, 480, 9000.0),
            AHEAD,
            CLEAN,
            CameraSettings(f_number=f_number),
            met,
            np.random.default_rng(1),
            Optic(50.0, 6.0),
        )
        return 1.0 - linear_of_srgb(taken.picture)[:, :, 1].astype(np.float64) / 0.6

    wide, small = shadow(4.0), shadow(22.0)
    assert small.max() > 4.0 * wide.max()
    assert (small > 0.02).sum() < 0.3 * (wide > 0.004).sum()
    peak = np.unravel_index(small.argmax(), small.shape)
    near = tuple(slice(max(at - 12, 0), at + 13) for at in peak)
    spot = np.where(small[near] > 0.01, small[near], 0.0)  # not the rounding of plain light
    grain_um = np.sqrt(spot.sum() * 36.0 * 4.0 / np.pi)
    assert 8.0 < grain_um < 60.0
    assert wide[near].max() == pytest.approx((grain_um * 4.0 / 1000.0) ** 2, rel=0.35, abs=0.003)
