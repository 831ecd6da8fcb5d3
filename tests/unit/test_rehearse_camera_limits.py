"""The simulated camera at its limits: refusals, strips without seams, drops and dust."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.optics import LensModel
from belvedere.rehearse import (
    Blur,
    CameraSettings,
    CameraTraits,
    Exposure,
    FrameConditions,
    Gusts,
    Optic,
    Oscillation,
    linear_of_srgb,
    render_frame,
    take_frame,
)
from belvedere.sphere import camera_from_world
from camera_scenes import CLEAN, NARROW, dots, flat

AHEAD = camera_from_world(0.0, 0.0)
OPTIC = Optic(50.0, 6.0)


def taken(
    scene: object,
    settings: CameraSettings | None = None,
    conditions: FrameConditions | None = None,
    optic: Optic | None = OPTIC,
    lens: LensModel = NARROW,
    traits: CameraTraits = CLEAN,
) -> np.ndarray:
    frame = take_frame(
        scene,  # type: ignore[arg-type]
        lens,
        AHEAD,
        traits,
        settings or CameraSettings(),
        conditions or FrameConditions(),
        np.random.default_rng(1),
        optic,
    )
    return linear_of_srgb(frame.picture).astype(np.float64)


def test_dust_needs_the_pixel_pitch() -> None:
    with pytest.raises(PlanError, match="grains of dust have no size without the pixel pitch"):
        taken(flat(0.5), conditions=FrameConditions(dust_grains=3), optic=None)


@pytest.mark.parametrize(
    "wrong",
    [
        {"f_number": 0.0},
        {"exposure_s": 0.0},
        {"iso": -100.0},
        {"focus_m": 0.04},  # nearer than the focal length
    ],
)
def test_settings_that_cannot_be_are_refused_in_one_sentence(wrong: dict[str, float]) -> None:
    with pytest.raises(PlanError):
        taken(flat(0.5), CameraSettings(**wrong))


def test_an_optic_has_sizes() -> None:
    for wrong in ((0.0, 6.0), (50.0, -1.0)):
        with pytest.raises(PlanError, match="is not to be had"):
            Optic(*wrong)


def test_motions_that_cannot_be_are_refused() -> None:
    for wrong in ({"rate_hz": 0.0}, {"damping": 1.0}, {"damping": -0.1}, {"since_stop_s": -1.0}):
        with pytest.raises(PlanError, match="after the stop, is not to be had"):
            Oscillation(10.0, **wrong)
    with pytest.raises(PlanError, match="Gusts of 5 arcsec at 0 Hz"):
        Gusts(5.0, 0.0)


@pytest.mark.parametrize(
    ("settings", "conditions"),
    [
        (CameraSettings(), FrameConditions(blur=Blur(defocus_px=9.0))),
        (CameraSettings(focus_m=2.0, f_number=5.6), FrameConditions()),
        (CameraSettings(), FrameConditions(oscillation=Oscillation(9_000.0), gusts=Gusts(900.0))),
    ],
)
def test_no_strip_leaves_a_seam_and_no_edge_a_rim(
    settings: CameraSettings, conditions: FrameConditions
) -> None:
    # A plain scene stays plain, whatever blurs it: kernels have the sum 1 to the last row.
    seen = taken(flat(0.3), settings, conditions, lens=LensModel.ideal(200, 333, 9000.0))
    assert np.ptp(seen) == 0.0


def test_the_short_way_and_the_long_one_take_the_same_picture() -> None:
    # ev, gains and blur mean the same by either way.
    scene = dots(np.array([[0.5, 0.3], [-1.0, -0.4]]), 0.05)
    exposure = Exposure(0.5, (1.2, 1.0, 0.9), Blur(1.5, 6.0, 30.0))
    traits = CameraTraits()
    short = render_frame(scene, NARROW, AHEAD, traits, exposure, np.random.default_rng(3))
    long = take_frame(
        scene,
        NARROW,
        AHEAD,
        traits,
        CameraSettings(white_balance=(1.2, 1.0, 0.9)),
        FrameConditions(error_ev=0.5, blur=exposure.blur),
        np.random.default_rng(3),
    )
    assert np.array_equal(short, long.picture)
    assert long.record.ev == pytest.approx(0.5)


def test_drops_soften_patches_and_leave_the_rest() -> None:
    places = np.stack(
        [a.ravel() for a in np.meshgrid(np.linspace(-2.8, 2.8, 57), np.linspace(-2.1, 2.1, 43))],
        axis=1,
    )
    scene = dots(places, np.degrees(1.0 / 3000.0))
    dry, wet = (taken(scene, conditions=FrameConditions(drops=count))[:, :, 1] for count in (0, 2))

    def tiles(light: np.ndarray) -> np.ndarray:
        return light.reshape(12, 20, 16, 20).std(axis=(1, 3))

    kept = tiles(wet) / tiles(dry)
    assert kept.min() < 0.7  # soft somewhere
    assert np.median(kept) > 0.97  # and untouched over most of the picture
    assert wet.mean() == pytest.approx(dry.mean(), rel=0.05)


def test_dust_stays_where_it_is_and_more_of_it_moves_none() -> None:
    settings = CameraSettings(f_number=22.0)
    lit = FrameConditions(error_ev=2.0 * float(np.log2(22.0 / 5.6)))
    few, more = (
        taken(flat(0.5), settings, replace(lit, dust_grains=count))[:, :, 1] < 0.47
        for count in (3, 9)
    )
    assert few.any()
    assert more.sum() > few.sum()
    assert not (few & ~more).any()
