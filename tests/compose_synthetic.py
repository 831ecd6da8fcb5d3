"""Frames of an analytic scene with known rotations, for the tests of the compose room."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from belvedere.compose import Layout, Window
from belvedere.compose.warp import mosaic_rays
from belvedere.optics import LensModel
from belvedere.orient import Orientation, OrientedFrame
from belvedere.sphere import bearing_elevation, camera_from_world

LENS = LensModel(320, 240, 1200.0, 161.0, 118.0, k1=-0.12, k2=0.05)


@dataclass(frozen=True)
class WaveScene:
    """Waves of many lengths and directions: known exactly in every direction."""

    seed: int = 0
    shortest_deg: float = 0.35
    longest_deg: float = 12.0
    contrast: float = 14.0

    def at(self, rays: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 3) world directions to (..., 3) grey levels, 0 to 255, of each colour."""
        random = np.random.default_rng(self.seed)
        bearing, elevation = bearing_elevation(rays)
        light = np.full((*bearing.shape, 3), 128.0)
        for _ in range(14):
            length = np.exp(random.uniform(np.log(self.shortest_deg), np.log(self.longest_deg)))
            angle, phase = random.uniform(0, 2 * np.pi, 2)
            # Whole waves around the turn, so that the scene meets itself.
            across = np.rint(360.0 / length * np.cos(angle))
            down = 360.0 / length * np.sin(angle)
            wave = np.sin(np.radians(across * bearing + down * elevation) + phase)
            light += self.contrast * wave[..., None] * random.uniform(0.5, 1.0, 3)
        return light


@dataclass(frozen=True)
class WaveSource:
    """A `FrameSource` that looks at a scene with known rotations, gains and noise."""

    scene: WaveScene
    lens: LensModel
    rotations: dict[str, NDArray[np.float64]]
    offset: dict[str, float]
    seen: dict[str, NDArray[np.uint8]] = field(default_factory=dict)

    def colour(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        assert shrink == 1
        if file not in self.seen:
            self.seen[file] = self._look(file)
        return self.seen[file]

    def _look(self, file: str) -> NDArray[np.uint8]:
        x, y = np.meshgrid(np.arange(self.lens.width_px), np.arange(self.lens.height_px))
        rays = self.lens.unproject(np.stack([x, y], axis=-1).astype(float))
        light = self.scene.at(rays @ self.rotations[file]) + self.offset.get(file, 0.0)
        return np.clip(np.rint(light), 0, 255).astype(np.uint8)

    def grey(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        return self.colour(file, shrink)[..., 1]


def grid_shoot(
    bearings_deg: list[float],
    elevations_deg: list[float],
    *,
    lens: LensModel = LENS,
    seed: int = 1,
    scene: WaveScene | None = None,
    offset: dict[str, float] | None = None,
) -> tuple[Orientation, WaveSource]:
    """One frame for every bearing and elevation, each a little off and rolled."""
    random = np.random.default_rng(seed)
    rotations = {}
    for row, elevation in enumerate(elevations_deg):
        for column, bearing in enumerate(bearings_deg):
            off = random.normal(0.0, 0.15, 3)
            rotations[f"r{row}c{column}.jpg"] = camera_from_world(
                bearing + off[0], elevation + off[1], 2.0 * off[2]
            )
    frames = tuple(OrientedFrame(file, turn, np.ones(3)) for file, turn in rotations.items())
    source = WaveSource(scene or WaveScene(), lens, rotations, offset or {})
    return Orientation(lens, frames, 0.0, 0), source


class MemoryScratch:
    """A `Scratch` in memory."""

    def __init__(self) -> None:
        self.arrays: dict[str, NDArray[Any]] = {}

    def create(self, name: str, shape: tuple[int, ...], dtype: type[np.generic]) -> None:
        self.arrays[name] = np.zeros(shape, dtype)

    def write(self, name: str, at: tuple[slice | int, ...], values: NDArray[Any]) -> None:
        self.arrays[name][at] = values

    def read(self, name: str, at: tuple[slice | int, ...]) -> NDArray[Any]:
        return self.arrays[name][at].copy()

    def drop(self, name: str) -> None:
        del self.arrays[name]


class MemorySink:
    """A `BlockSink` that keeps the whole pyramid."""

    def __init__(self, tile_px: int = 64) -> None:
        self._tile_px = tile_px
        self.levels: list[NDArray[np.uint8]] = []
        self.times: list[NDArray[np.int32]] = []

    @property
    def tile_px(self) -> int:
        return self._tile_px

    def begin(self, layout: Layout, levels: int) -> None:
        sizes = [layout.size_at(level) for level in range(levels)]
        self.levels = [np.zeros((h, w, 3), np.uint8) for w, h in sizes]
        self.times = [np.zeros((h, w), np.int32) for w, h in sizes]

    def put(self, level: int, window: Window, rgb: NDArray[np.uint8]) -> None:
        here = np.s_[window.top : window.bottom, window.left : window.right]
        self.levels[level][here] = rgb
        self.times[level][here] += 1


def truth(scene: WaveScene, layout: Layout, level: int = 0) -> NDArray[np.float64]:
    """The scene on a level's pixels (centres; no mean over the pixel)."""
    width, height = layout.size_at(level)
    unit = 1 << level
    x, y = np.meshgrid(
        (np.arange(width) + 0.5) * unit - 0.5, (np.arange(height) + 0.5) * unit - 0.5
    )
    return scene.at(mosaic_rays(layout, x, y))
