"""The harbour's water: ripples that mirror the town, in true perspective.

Bearing and the logarithm of the distance are conformal coordinates of the water's plane, so
ripples that look alike in metres are isotropic there; each octave is weighted by its size in
metres, and fades where perspective makes it smaller than a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import scipy.sparse as sp
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
_AT_A_TIME = 65_536  # pixels whose colours are worked out together, in the processor's cache
_LIFT = 0.045  # far ripples are drawn a little steeper than life, or they would vanish


class Mirror:
    """A small picture of the land and sky, for reflections."""

    __slots__ = ("_left", "_picture", "_scale", "_top")

    def __init__(self, window: Window, picture: F32) -> None:
        # Four channels are sampled more than twice as fast as three.
        self._picture = cv2.cvtColor(cv2.GaussianBlur(picture, (0, 0), 0.8), cv2.COLOR_RGB2RGBA)
        self._left = window.left_deg
        self._top = window.top_deg
        self._scale = window.px_per_deg

    def look(self, bearing: F32, elevation: F32) -> F32:
        """Colours (h, w, 4) in these directions; the last channel says nothing."""
        x = bearing - np.float32(self._left)
        x *= np.float32(self._scale)
        x -= np.float32(0.5)
        y = np.float32(self._top) - elevation
        y *= np.float32(self._scale)
        y -= np.float32(0.5)
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
    ripples = Ripples.over(bearing, el, window.px_per_deg, seed, at_s)
    sea = _Sea.over(bearing, shore, mirror)
    few = max(8, _AT_A_TIME // len(bearing))
    for outer in bands(0, len(el)):
        wave = ripples.heights(outer)
        for band in bands(outer.start, outer.stop, few):
            here = slice(rows.start + band.start, rows.start + band.stop)
            now = wave[band.start - outer.start : band.stop - outer.start]
            inks = sea.colours(el[band], now, ripples.rough[band], grain[here])
            cover = _cover(shore, elevation[here], window.px_per_deg)
            _lay(pixels[here], inks, cover)


def _cover(shore: F64, elevation: F64, px_per_deg: float) -> F32 | None:
    """How much of each pixel lies below the shore line; None where all of all of them does."""
    if (shore.min() - elevation.max()) * px_per_deg + 0.5 >= 1.0:
        return None
    below = shore[None, :] - elevation[:, None]
    below *= px_per_deg
    below += 0.5
    return np.clip(below, 0.0, 1.0, out=below).astype(np.float32)


def _lay(pixels: NDArray[np.uint8], inks: list[F32], cover: F32 | None) -> None:
    """Put colours over pixels, and take their grain away."""
    planes: list[Any] = []
    for under, ink in zip(cv2.split(pixels), (*inks, None), strict=True):
        plane = under.astype(np.float32)
        change = -plane if ink is None else ink * np.float32(255.0) - plane
        if cover is not None:
            change *= cover
        plane += change
        plane += np.float32(0.5)
        planes.append(plane.astype(np.uint8))
    pixels[:] = cv2.merge(planes)


@dataclass(frozen=True, slots=True)
class _Octave:
    """Ripples of one size: rows ``part`` of the view see them, each with its weight."""

    part: slice
    lattice: Lattice
    across: sp.csr_array
    height: F64
    weight: F32


@dataclass(frozen=True, slots=True)
class Ripples:
    """The ripples over a view, and per row of it how ``rough`` the water is beside (h,)."""

    octaves: tuple[_Octave, ...]
    columns: int
    rough: F64

    @classmethod
    def over(
        cls, bearing: F64, elevation: F64, px_per_deg: float, seed: int, at_s: float = 0.0
    ) -> Ripples:
        """Octaves down to the pixel; what is finer is left to the roughness."""
        down = np.radians(-elevation)
        steep = down + _LIFT
        height = np.degrees(np.log(steep))
        metres = EYE_M / down
        octaves = []
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
            lattice = _lattice(level, cell, bearing, height[part], seed, at_s)
            strength = (weight * 0.46).astype(np.float32)
            octaves.append(_Octave(part, lattice, lattice.columns(bearing), height, strength))
        return cls(tuple(octaves), len(bearing), np.sqrt(lost))

    def heights(self, rows: slice) -> F32:
        """Height of some rows (rows, columns), unit variance near the mole."""
        # Column by column, as the octaves come: turned once, at the end.
        total = np.zeros((self.columns, rows.stop - rows.start), np.float32)
        for octave in self.octaves:
            start, stop = max(octave.part.start, rows.start), min(octave.part.stop, rows.stop)
            if start >= stop:
                continue
            some = octave.lattice.sample_rows(octave.height[start:stop], octave.across).T
            some *= octave.weight[start:stop]
            total[:, start - rows.start : stop - rows.start] += some
        turned: F32 = cv2.transpose(total).astype(np.float32, copy=False)
        return turned


def _lattice(level: int, cell: float, bearing: F64, height: F64, seed: int, at_s: float) -> Lattice:
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
    return Lattice(values * np.float32(1 / _UNIT), r0, c0, cell, wide / cell)


def _turn_rad(cell: float, rows: NDArray[np.int64], at_s: float) -> F32:
    """How far the waves of each lattice row have turned: two cells are one wave."""
    steep = np.exp(np.radians(rows * cell))
    metres = EYE_M / np.maximum(steep - _LIFT, 2e-4)
    length_m = 2.0 * np.radians(cell) * metres
    turn: F32 = ((wave_rate_rad_s(length_m) * at_s) % (2.0 * np.pi)).astype(np.float32)
    return turn


@dataclass(frozen=True, slots=True)
class _Sea:
    """What the columns of a view have in common, all (1, w) or (1, 1) where they are alike.

    ``foot`` is the elevation of what stands at the shore, ``open_sea`` how much the sky alone is
    mirrored, ``sparkle`` how much the sun glitters.
    """

    mirror: Mirror
    bearing: F32
    foot: F64
    open_sea: F32 | None
    sparkle: F32

    @classmethod
    def over(cls, bearing: F64, shore: F64, mirror: Mirror) -> _Sea:
        """For a view's columns."""
        b = (bearing + 180.0) % 360.0 - 180.0
        foot = np.clip(shore, _QUAY_FOOT_DEG, -0.6)[None, :]
        seaward = np.where(b < 0, -b - 31.0, b - 52.0)
        open_sea = np.clip(seaward / 26.0, 0.0, 1.0).astype(np.float32)
        away = (b + 75.0 + 180.0) % 360.0 - 180.0
        sparkle = (0.10 + 0.55 * np.exp(-((away / 38.0) ** 2))).astype(np.float32)
        return cls(
            mirror,
            b.astype(np.float32)[None, :],
            foot[:, :1] if np.ptp(foot) == 0.0 else foot,
            open_sea[None, :] * np.float32(6.5) if open_sea.any() else None,
            sparkle[None, :],
        )

    def colours(self, el: F64, wave: F32, rough: F64, grain: F32) -> list[F32]:
        """Red, green and blue of some rows (rows, w)."""
        mirrored = cv2.split(self._mirrored(el, wave, rough))[:3]
        # Schlick's approximation, with the waves tilting the facets.
        grazing = np.radians(-el)[:, None].astype(np.float32) * np.float32(1.6)
        share = (np.float32(0.08) + np.float32(0.80) * np.exp(-grazing * np.float32(4.0))) - (
            np.float32(0.07) * wave
        )
        np.clip(share, 0.1, 0.95, out=share)
        tint = np.float32(0.12) * wave
        tint += np.float32(0.35)
        np.clip(tint, 0.0, 1.0, out=tint)
        spark = wave - np.float32(1.7)
        spark *= np.float32(1.6)
        np.clip(spark, 0.0, 1.0, out=spark)
        spark *= self.sparkle
        gleam = np.float32(0.035) * grain
        gleam += np.float32(0.085) * wave
        np.exp(gleam, out=gleam)
        planes = []
        for deep, shallow, glint, seen in zip(_DEEP, _SHALLOW, _GLINT, mirrored, strict=True):
            body: F32 = np.float32(shallow - deep) * tint
            body += np.float32(deep)
            bright = seen * np.float32(0.96)
            bright -= body
            bright *= share
            body += bright
            body += spark * np.float32(glint)
            body *= gleam
            planes.append(np.clip(body, 0.0, 1.0, out=body))
        return planes

    def _mirrored(self, el: F64, wave: F32, rough: F64) -> F32:
        """What the water shows of land and sky, (rows, w, 4)."""
        foot = self.foot.astype(np.float32)
        swing = (0.9 + 0.28 * np.minimum(-el, 8.0)).astype(np.float32)[:, None]
        up = swing * wave
        up += (2.0 * self.foot - el[:, None]).astype(np.float32)
        up += (0.9 * rough.astype(np.float32))[:, None]
        up -= foot
        np.abs(up, out=up)
        up += foot
        if self.open_sea is not None:  # rough open water shows the sky from higher up
            up += self.open_sea
        side = np.float32(0.10) * swing * wave
        side += self.bearing
        return self.mirror.look(side, up)
