"""Ridges in the haze, the headland, the town's hill: everything that is land and far."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from .ground import bumps, distance_of_haze_m
from .noise import F32, F64, Fractal, bands, profile
from .paint import Window
from .palette import HAZE, Rgb, rgb


@dataclass(frozen=True, slots=True)
class Ridge:
    """A layer of land: its skyline, colours in sun and shade, and how much air is before it.

    A hill that is near climbs away from us: ``climb`` has elevations with the metres there.
    """

    skyline: Callable[[F64], F64]
    rough_deg: float
    seed: int
    sunny: Rgb
    dark: Rgb
    haze: float
    contrast: float
    foot_deg: float
    climb: tuple[tuple[float, float], ...] = ()

    def metres(self, elevation: F64) -> F64:
        """How far away its ground is: up its climb, or as far as its haze says."""
        if not self.climb:
            return np.full(elevation.shape, distance_of_haze_m(self.haze))
        levels, metres = zip(*self.climb, strict=True)
        ground: F64 = np.interp(elevation, levels, metres)
        return ground


def _far_range(b: F64) -> F64:
    return (
        bumps(b, (52, 16, 3.4), (27, 11, 2.1), (-14, 13, 2.0), (-26, 7, 1.5), (85, 20, 2.5)) - 0.5
    )


def _middle_range(b: F64) -> F64:
    return bumps(b, (38, 11, 3.7), (60, 14, 3.0), (-20, 9, 1.6), (8, 12, 1.8)) - 0.55


def headland_hill(b: F64) -> F64:
    """Skyline of the headland."""
    cliff = 1.0 / (1.0 + np.exp(-(b + 46.2) * 3.2)) / (1.0 + np.exp((b + 27.5) * 0.75))
    return 2.15 * cliff * (1.0 + 0.16 * np.sin((b + 44) * 0.42)) - 0.75


# A little above the foot of the highest terrace that reaches so far (see town.py).
_HILL_BEARING = [
    -31, -27, -25.6, -22.8, -19.2, -16.2, -13.0, -9.6, -2,
    3, 8, 12.8, 15.8, 18.8, 19.8, 22.0, 24.4, 26.2, 30,
]  # fmt: skip
_HILL_ELEVATION = [
    -1.4, -1.1, -0.2, 1.35, 2.65, 3.8, 4.75, 5.4, 5.75,
    5.8, 5.7, 5.4, 4.75, 3.8, 2.65, 1.35, -0.2, -1.1, -1.4,
]  # fmt: skip
# The terraces of town.py, as elevation and distance; and the trees of shore.py.
_HILL_CLIMB = (
    (-1.14, 232.0), (-0.35, 262.0), (1.19, 290.0), (2.52, 318.0),
    (3.64, 346.0), (4.59, 380.0), (5.25, 420.0), (5.8, 440.0),
)  # fmt: skip
_WOOD_CLIMB = ((-1.0, 255.0), (3.5, 335.0))


def _town_hill(b: F64) -> F64:
    return np.interp((b + 180.0) % 360.0 - 180.0, _HILL_BEARING, _HILL_ELEVATION)


def wooded_hill(b: F64) -> F64:
    """Skyline of the wood behind the yard."""
    return bumps(b, (40, 12, 4.7), (28.5, 7, 2.6), (56, 9, 3.0)) - 1.25


RIDGES = (
    Ridge(_far_range, 0.10, 3, rgb(0xA9B3B4), rgb(0x8496A6), 0.62, 0.35, -0.6),
    Ridge(_middle_range, 0.09, 4, rgb(0x9AA384), rgb(0x5F7784), 0.38, 0.7, -0.7),
    Ridge(headland_hill, 0.10, 5, rgb(0xA9A272), rgb(0x5C7060), 0.17, 1.0, -0.9),
    Ridge(wooded_hill, 0.12, 6, rgb(0x8B9560), rgb(0x45604F), 0.10, 1.15, -2.0, _WOOD_CLIMB),
    Ridge(_town_hill, 0.06, 7, rgb(0x95985E), rgb(0x586B4C), 0.07, 1.0, -2.0, _HILL_CLIMB),
)


def skylines(window: Window, seed: int) -> tuple[F64, ...]:
    """The upper edge of every ridge over the columns of a window."""
    bearing, px_deg = window.bearings(), 1.0 / window.px_per_deg
    return tuple(skyline(ridge, bearing, px_deg, seed) for ridge in RIDGES)


def paint_hills(
    picture: F32, window: Window, relief: F32, grain: F32, tops: tuple[F64, ...]
) -> None:
    """Lay the ridges over the sky, far to near; ``tops`` are their `skylines`."""
    for ridge, top in zip(RIDGES, tops, strict=True):
        _paint_ridge(picture, window, relief, grain, ridge, top)


def over_hills_m(bearing: F64, elevation: F64, px_deg: float, seed: int) -> F64:
    """Metres to the nearest ridge, (rows, columns) of directions; infinite over all of them."""
    metres = np.full((len(elevation), len(bearing)), np.inf)
    for ridge in RIDGES:
        top = skyline(ridge, bearing, px_deg, seed)
        land = (elevation[:, None] < top[None, :]) & (elevation > ridge.foot_deg)[:, None]
        metres = np.where(land, ridge.metres(elevation)[:, None], metres)
    return metres


def rows_behind_hills(window: Window, tops: tuple[F64, ...]) -> NDArray[np.bool_]:
    """For every row of a window, whether land hides all of its sky; ``tops`` are `skylines`."""
    elevation = window.elevations()
    hidden = np.zeros(len(elevation), np.bool_)
    for ridge, top in zip(RIDGES, tops, strict=True):
        whole = top.min() - 1.0 / window.px_per_deg
        hidden |= (elevation < whole) & (elevation > ridge.foot_deg)
    return hidden


def skyline(ridge: Ridge, bearing: F64, px_deg: float, seed: int) -> F64:
    """Elevation of the ridge's upper edge, fractal down to the pixel."""
    spec = Fractal(ridge.seed + 31 * seed, coarse_exp=-1, gain=0.52)
    base = ridge.skyline(bearing)
    rough = ridge.rough_deg * profile(spec, bearing, px_deg)
    return base + rough * np.clip((base + 0.6) / 1.2, 0.0, 1.0)


def _paint_ridge(
    picture: F32, window: Window, relief: F32, grain: F32, ridge: Ridge, top: F64
) -> None:
    elevation = window.elevations()
    seen = np.flatnonzero((elevation < top.max() + 0.1) & (elevation > ridge.foot_deg))
    if not seen.size or top.max() <= ridge.foot_deg:
        return
    for rows in bands(int(seen[0]), int(seen[-1]) + 1):
        level = elevation[rows]
        over = np.flatnonzero((top - level.min()) * window.px_per_deg > -1.0)
        if over.size == 0:
            continue
        columns = slice(int(over[0]), int(over[-1]) + 1)
        depth = (top[None, columns] - level[:, None]).astype(np.float32)
        cover = depth * np.float32(window.px_per_deg)
        cover += np.float32(0.5)
        np.clip(cover, 0.0, 1.0, out=cover)
        area = rows, columns
        picture[area] = cv2.merge(
            _land(ridge, cv2.split(picture[area]), depth, cover, relief[area], grain[area])
        )


def _land(
    ridge: Ridge, under: Sequence[Any], depth: F32, cover: F32, relief: F32, grain: F32
) -> list[F32]:
    """Red, green and blue of a piece of the view with a ridge laid over it."""
    light = np.float32(0.34) * relief
    light += np.float32(0.48)
    texture = np.float32(0.10) * grain
    light += texture
    np.clip(light, np.float32(0.0), np.float32(1.0), out=light)
    np.multiply(np.float32(0.13 * ridge.contrast), grain, out=texture)
    np.exp(texture, out=texture)
    clear: F32 | np.float32 = np.float32(1.0 - ridge.haze)
    if ridge.haze > 0.2:  # air gathers at the foot of a far ridge
        depth /= np.float32(3.0)
        low = np.clip(depth, 0.0, 1.0, out=depth)
        low *= np.float32(0.22)
        clear = clear * (np.float32(1.0) - low)
    planes = []
    for c, plane in enumerate(under):
        land = np.float32(ridge.sunny[c] - ridge.dark[c]) * light
        land += np.float32(ridge.dark[c])
        land *= texture
        land -= np.float32(HAZE[c])
        land *= clear
        land += np.float32(HAZE[c])
        land -= plane
        land *= cover
        land += plane
        planes.append(land)
    return planes
