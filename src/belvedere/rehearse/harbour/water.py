"""The harbour's water: ripples that mirror the town, in true perspective.

Bearing and the logarithm of the distance are conformal coordinates of the water's plane, so
ripples that look alike in metres are isotropic there; each octave is weighted by its size in
metres, and fades where perspective makes it smaller than a pixel.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .ground import EYE_M, shore_elevation
from .motion import wave_rate_rad_s
from .noise import F32, F64, Fractal, Lattice, bands, hashed
from .paint import Window
from .palette import Rgb

_WAVES = Fractal(seed=71, stretch=1.9)
_UNIT = 0.277
_QUAY_FOOT_DEG = -2.0
_DEEP: Rgb = (0.115, 0.275, 0.300)
_SHALLOW: Rgb = (0.205, 0.400, 0.395)
_GLINT: Rgb = (1.0, 0.9, 0.7)
_OTHER_PHASE = 977
_LIFT = 0.045  # far ripples are drawn a little steeper than life, or they would vanish


class Mirror:
    """A small picture of the land and sky, for reflections."""

    __slots__ = ("_left", "_picture", "_scale", "_top")

    def __init__(self, window: Window, picture: F32) -> None:
        self._picture = cv2.GaussianBlur(picture, (0, 0), 0.8)
        self._left = window.left_deg
        self._top = window.top_deg
        self._scale = window.px_per_deg

    def look(self, bearing: F32, elevation: F32) -> F32:
        """Colours (h, w, 3) in these directions."""
        x = (bearing - np.float32(self._left)) * np.float32(self._scale) - np.float32(0.5)
        y = (np.float32(self._top) - elevation) * np.float32(self._scale) - np.float32(0.5)
        seen: F32 = cv2.remap(
            self._picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        ).astype(np.float32, copy=False)
        return seen


def paint_water(
    pixels: NDArray[np.uint8],
    window: Window,
    mirror: Mirror,
    grain: F32,
    seed: int,
    at_s: float = 0.0,
) -> None:
    """Paint the water over whatever lies below the shore line of ``pixels`` (h, w, 4)."""
    bearing, elevation = window.bearings(), window.elevations()
    shore = shore_elevation(bearing)
    seen = np.flatnonzero((elevation < shore.max() + 0.02) & (elevation > -16.0))
    if not seen.size:
        return
    rows = slice(int(seen[0]), int(seen[-1]) + 1)
    el = np.minimum(elevation[rows], -0.012)
    wave, rough = waves(bearing, el, window.px_per_deg, seed, at_s)
    b = (bearing + 180.0) % 360.0 - 180.0
    for band in bands(0, len(el)):
        here = slice(rows.start + band.start, rows.start + band.stop)
        below = shore[None, :] - elevation[here, None]
        cover = np.clip(below * window.px_per_deg + 0.5, 0.0, 1.0).astype(np.float32)
        colour = _surface(b, el[band], shore, wave[band], rough[band], mirror, grain[here])
        planes = [plane.astype(np.float32) for plane in cv2.split(pixels[here])]
        for plane, tone in zip(planes, (*colour, np.zeros_like(cover)), strict=True):
            plane += (tone * np.float32(255.0) - plane) * cover
            plane += np.float32(0.5)
        pixels[here] = cv2.merge([plane.astype(np.uint8) for plane in planes])


def waves(
    bearing: F64, elevation: F64, px_per_deg: float, seed: int, at_s: float = 0.0
) -> tuple[F32, F64]:
    """Height of the ripples (h, w), unit variance near the mole, and per row what is unresolved."""
    down = np.radians(-elevation)
    steep = down + _LIFT
    height = np.degrees(np.log(steep))
    metres = EYE_M / down
    total = np.zeros((len(elevation), len(bearing)), np.float32)
    lost = np.zeros(len(elevation))
    for level in range(-2, 12):
        cell = 2.0**-level
        size_m = np.radians(cell) * metres
        spectrum = np.clip(np.log2(size_m / 0.10), 0, 1) * np.clip(np.log2(9.0 / size_m), 0, 1)
        spectrum = spectrum * np.clip(size_m / 1.2, 0.25, 1.0) ** 0.5
        cell_px = cell * steep * px_per_deg
        sharp = np.clip(np.log2(np.maximum(cell_px, 1e-6) / 1.1), 0.0, 1.0)
        lost += (spectrum * (1 - sharp)) ** 2
        weight = spectrum * sharp
        here = np.flatnonzero(weight > 0.004)
        if here.size == 0:
            continue
        part = slice(int(here[0]), int(here[-1]) + 1)
        layer = _layer(level, cell, bearing, height[part], seed, at_s)
        total[part] += layer * (weight[part, None] * 0.46).astype(np.float32)
    return total, np.sqrt(lost)


def _layer(level: int, cell: float, bearing: F64, height: F64, seed: int, at_s: float) -> F32:
    wide = cell * _WAVES.stretch
    around = round(360.0 / wide)
    wide = 360.0 / around
    r0, r1 = int(np.floor(height.min() / cell)) - 3, int(np.floor(height.max() / cell)) + 3
    c0, c1 = int(np.floor(bearing.min() / wide)) - 3, int(np.floor(bearing.max() / wide)) + 3
    rows = np.arange(r0, r1 + 1, dtype=np.int64)
    columns = np.arange(c0, c1 + 1, dtype=np.int64) % around
    key = (_WAVES.seed + seed) * 64 + level + 8
    values = hashed(key, rows, columns)
    if at_s != 0.0:
        turned = _turn_rad(cell, rows, at_s)
        other = hashed(key + _OTHER_PHASE, rows, columns)
        values *= np.cos(turned)[:, None]
        values += np.sin(turned)[:, None] * other
    lattice = Lattice(values * np.float32(1 / _UNIT), r0, c0, cell, wide / cell)
    return lattice.sample(bearing, height)


def _turn_rad(cell: float, rows: NDArray[np.int64], at_s: float) -> F32:
    """How far the waves of each lattice row have turned: two cells are one wave."""
    steep = np.exp(np.radians(rows * cell))
    metres = EYE_M / np.maximum(steep - _LIFT, 2e-4)
    length_m = 2.0 * np.radians(cell) * metres
    turn: F32 = ((wave_rate_rad_s(length_m) * at_s) % (2.0 * np.pi)).astype(np.float32)
    return turn


def _surface(
    bearing: F64,
    el: F64,
    shore: F64,
    wave: F32,
    rough: F64,
    mirror: Mirror,
    grain: F32,
) -> tuple[F32, F32, F32]:
    # Mirrored elevation of what stands at the shore; the open sea mirrors the sky.
    foot = np.clip(shore, _QUAY_FOOT_DEG, -0.6)
    flat = (2.0 * foot[None, :] - el[:, None]).astype(np.float32)
    swing = (0.9 + 0.28 * np.minimum(-el, 8.0)).astype(np.float32)[:, None]
    up = flat + swing * wave + (0.9 * rough.astype(np.float32))[:, None]
    up = np.abs(up - foot[None, :].astype(np.float32)) + foot[None, :].astype(np.float32)
    # Rough open water shows the sky from higher up.
    seaward = np.where(bearing < 0, -bearing - 31.0, bearing - 52.0)
    open_sea = np.clip(seaward / 26.0, 0.0, 1.0).astype(np.float32)
    up += open_sea[None, :] * np.float32(6.5)
    side = bearing.astype(np.float32)[None, :] + np.float32(0.10) * swing * wave
    reflected = mirror.look(np.broadcast_to(side, up.shape).astype(np.float32), up)
    # Schlick's approximation, with the waves tilting the facets.
    grazing = np.radians(-el)[:, None].astype(np.float32) * np.float32(1.6)
    share = np.clip(
        np.float32(0.08)
        + np.float32(0.80) * np.exp(-grazing * np.float32(4.0))
        - np.float32(0.07) * wave,
        0.1,
        0.95,
    )
    tint = np.clip(np.float32(0.35) + np.float32(0.12) * wave, 0.0, 1.0)
    away = (bearing + 75.0 + 180.0) % 360.0 - 180.0
    strength = (0.10 + 0.55 * np.exp(-((away / 38.0) ** 2))).astype(np.float32)[None, :]
    spark = np.clip((wave - np.float32(1.7)) * np.float32(1.6), 0.0, 1.0) * strength
    gleam = np.exp(np.float32(0.035) * grain + np.float32(0.085) * wave)
    planes = []
    for deep, shallow, glint, seen in zip(
        _DEEP, _SHALLOW, _GLINT, cv2.split(reflected), strict=True
    ):
        body = np.float32(deep) + np.float32(shallow - deep) * tint
        body += (seen * np.float32(0.96) - body) * share
        body += spark * np.float32(glint)
        body *= gleam
        planes.append(np.clip(body, 0.0, 1.0, out=body))
    return planes[0], planes[1], planes[2]
