"""Blending: what must come out of it whatever the picture is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.compose import UNCOVERED_RGB, Layout, Making, Window, compose, make_layout
from belvedere.compose.blend import warp
from belvedere.compose.frames import FrameStore
from belvedere.compose.mosaic import finished, place_frames
from belvedere.foundation import finish
from belvedere.optics import LensModel
from belvedere.orient import Orientation, OrientedFrame
from belvedere.sphere import camera_from_world
from compose_synthetic import (
    LENS,
    MemoryScratch,
    MemorySink,
    WaveScene,
    WaveSource,
    grid_shoot,
    truth,
)


def composed(orientation, source, layout: Layout | None = None, block_px: int = 256) -> MemorySink:
    sink = MemorySink(64)
    finish(
        compose(
            orientation,
            source,
            layout or make_layout(orientation),
            sink,
            MemoryScratch(),
            Making(block_px=block_px, workers=2),
        )
    )
    return sink


@pytest.mark.parametrize("projection", ["equirectangular", "cylindrical"])
def test_the_cut_into_blocks_does_not_show(projection: str) -> None:
    orientation, source = grid_shoot([0.0, 10.0, 20.0], [6.0, -2.0], offset={"r0c1.jpg": 12.0})
    layout = make_layout(orientation, projection)
    whole, small, odd = (composed(orientation, source, layout, n) for n in (2048, 64, 192))
    for level, pixels in enumerate(whole.levels):
        np.testing.assert_array_equal(small.levels[level], pixels)
        np.testing.assert_array_equal(odd.levels[level], pixels)


def test_every_pixel_of_every_level_comes_once() -> None:
    orientation, source = grid_shoot([0.0, 10.0], [0.0])
    sink = composed(orientation, source, block_px=128)
    assert len(sink.levels) > 2
    for times in sink.times:
        assert times.min() == times.max() == 1


def test_one_frame_is_the_warped_frame_bit_for_bit() -> None:
    """At every level: warped straight from the frame shrunk as often."""
    orientation, source = grid_shoot([0.0], [4.0])
    layout = make_layout(orientation)
    sink = composed(orientation, source, layout, 128)
    (placed,) = place_frames(orientation, layout).placed
    frames = FrameStore(orientation, source, MemoryScratch(), 4, 1 << 30)
    finish(frames.prepare())
    for level in range(3):
        width, height = layout.size_at(level)
        x, y = placed.mapping.over(level, Window(0, 0, width, height))
        expected = finished(warp(frames, 0, level, x, y), np.ones((height, width), np.bool_))
        covered = (sink.levels[level] != UNCOVERED_RGB).any(axis=-1)
        assert covered.mean() > 0.9
        np.testing.assert_array_equal(sink.levels[level][covered], expected[covered])


def test_away_from_seams_a_frame_among_others_stays_as_it_was() -> None:
    """The neighbour's brightness may bend it near the seam, and nowhere else."""
    orientation, source = grid_shoot([0.0, 12.0], [0.0], offset={"r0c1.jpg": 30.0})
    even, _ = grid_shoot([0.0, 12.0], [0.0])
    layout = make_layout(orientation)
    bent = composed(orientation, source, layout).levels[0]
    plain = composed(even, grid_shoot([0.0, 12.0], [0.0])[1], layout).levels[0]
    left = bent[40:-40, 4:80]
    np.testing.assert_array_equal(left, plain[40:-40, 4:80])
    assert np.abs(bent.astype(int) - plain)[40:-40].max() > 20


def test_constants_blend_to_a_monotonic_ramp_between_them() -> None:
    flat = WaveScene(contrast=0.0)
    orientation, source = grid_shoot(
        [0.0, 11.0], [0.0], scene=flat, offset={"r0c0.jpg": -20.0, "r0c1.jpg": 20.0}
    )
    orientation = type(orientation)(LENS, orientation.frames, 0.0, 0)
    row = composed(orientation, source).levels[0][110, 6:-6, 1].astype(int)
    assert (row[0], row[-1]) == (108, 148)
    assert np.diff(row).min() >= 0
    assert np.diff(row).max() <= 3
    step = np.flatnonzero((row > 110) & (row < 146))
    assert 20 <= step.size <= 160


def test_equal_constants_stay_constant() -> None:
    orientation, source = grid_shoot([0.0, 10.0], [3.0, -3.0], scene=WaveScene(contrast=0.0))
    pixels = composed(orientation, source).levels[0]
    covered = (pixels != UNCOVERED_RGB).any(axis=-1)
    assert set(np.unique(pixels[covered])) == {128}


def test_the_mosaic_is_the_scene() -> None:
    """Against the scene's own formula: what is left is rounding to whole grey levels, twice.

    Two roundings leave 0.41 levels rms; the rest is interpolation and seams.
    """
    orientation, source = grid_shoot([0.0, 10.0, 20.0], [6.0, -2.0])
    layout = make_layout(orientation)
    pixels = composed(orientation, source, layout).levels[0]
    inner = np.s_[20:-20, 20:-20]
    error = (pixels - truth(source.scene, layout))[inner]
    assert 0.3 < error.std() < 0.55
    assert abs(error.mean()) < 0.02


def test_coarse_levels_lie_on_the_fine_ones() -> None:
    """Level k is the scene at the centres of 2**k × 2**k pixels: no shift from level to level."""
    orientation, source = grid_shoot([0.0, 10.0], [0.0], scene=WaveScene(shortest_deg=3.0))
    layout = make_layout(orientation)
    sink = composed(orientation, source, layout)
    for level in (1, 2):
        error = (sink.levels[level] - truth(source.scene, layout, level))[6:-6, 6:-6]
        assert error.std() < 1.0


def test_a_full_turn_meets_itself() -> None:
    lens = LensModel.ideal(240, 160, 220.0)
    scene = WaveScene(shortest_deg=6.0, longest_deg=90.0)
    orientation, source = grid_shoot(
        [float(b) for b in range(0, 360, 40)], [0.0], lens=lens, scene=scene
    )
    layout = make_layout(orientation)
    assert layout.full_turn
    assert layout.width_px / layout.scale_px_per_deg == pytest.approx(360.0, abs=1e-9)
    for level, pixels in enumerate(composed(orientation, source, layout).levels[:3]):
        rows = np.s_[24 >> level : -(24 >> level)]
        error = (pixels - truth(scene, layout, level))[rows]
        assert np.abs(error[:, [0, 1, -2, -1]]).max() < 4.0
        assert error.std() < 0.8


def test_holes_are_filled_with_the_stated_colour_and_nothing_bleeds_into_them() -> None:
    orientation, source = grid_shoot([0.0, 22.0], [0.0])
    pixels = composed(orientation, source).levels[0]
    hole = (pixels == UNCOVERED_RGB).all(axis=-1)
    assert hole[:, pixels.shape[1] // 2].all()
    assert 0.1 < hole.mean() < 0.5


def test_gains_are_applied_in_linear_light() -> None:
    """Half the light of sRGB 188 is sRGB 137 (IEC 61966-2-1: 0.5028 → 0.2514 → 0.5381)."""
    flat = WaveScene(contrast=0.0)
    orientation, source = grid_shoot([0.0], [0.0], scene=flat, offset={"r0c0.jpg": 60.0})
    frame = type(orientation.frames[0])(
        "r0c0.jpg", orientation.frames[0].camera_from_world, np.array([0.5, 1.0, 2.0])
    )
    dimmed = type(orientation)(LENS, (frame,), 0.0, 0)
    middle = composed(dimmed, source).levels[0][100, 150]
    assert middle.tolist() == [137, 188, 255]


def test_falloff_is_taken_out() -> None:
    orientation, source = grid_shoot([0.0], [0.0], scene=WaveScene(contrast=0.0))
    bright = type(orientation)(LENS, orientation.frames, 0.0, 0, falloff=(-0.3, -0.1))
    pixels = composed(bright, source).levels[0]
    assert pixels[120, 160, 1] == pytest.approx(128, abs=1)
    # At the corner 60 % of the light is left: 128 is 0.2159 linear, 0.2159 / 0.6 = 0.3598, that
    # is sRGB 162 (IEC 61966-2-1).
    assert pixels[6, 6, 1] == pytest.approx(160, abs=4)


@dataclass(frozen=True)
class BallScene:
    """Smooth in the direction itself, so that it has no seam and no trouble at the poles."""

    def at(self, rays: NDArray[np.float64]) -> NDArray[np.float64]:
        return 128.0 + 50.0 * rays + 30.0 * np.sin(9.0 * rays[..., [1, 2, 0]])


def test_a_whole_sphere_with_its_poles() -> None:
    lens = LensModel.ideal(200, 200, 110.0)
    scene = BallScene()
    turns = {
        f"{elevation}/{bearing}": camera_from_world(bearing, elevation, 3.0)
        for elevation in (-45.0, 0.0, 45.0)
        for bearing in range(0, 360, 60)
    }
    turns |= {"up": camera_from_world(20.0, 89.0), "down": camera_from_world(50.0, -88.0)}
    frames = tuple(OrientedFrame(file, turn, np.ones(3)) for file, turn in turns.items())
    orientation = Orientation(lens, frames, 0.0, 0)
    layout = make_layout(orientation)
    assert layout.full_turn
    assert (layout.top_deg, layout.height_px / layout.scale_px_per_deg) == pytest.approx(
        (90.0, 180.0), abs=0.6
    )
    source = WaveSource(scene, lens, turns, {})  # type: ignore[arg-type]
    pixels = composed(orientation, source, layout).levels[0]
    error = pixels - truth(scene, layout)  # type: ignore[arg-type]
    inside = error[: int(180.0 * layout.scale_px_per_deg) - 1]
    assert np.abs(inside).max() < 4.0
    assert inside.std() < 0.6
