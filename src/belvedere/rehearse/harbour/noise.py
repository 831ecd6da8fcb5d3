"""Procedural noise on hashed lattices, sampled exactly at any scale.

Every octave is a cubic B-spline whose coefficients are hashed from absolute lattice
indices, so a window of any size and place sees the same function. Octaves are summed by
B-spline subdivision (Lane & Riesenfeld 1980, "A theoretical development for the computer
generation and display of piecewise polynomial surfaces", IEEE PAMI 2(1)): the coarser sum is
refined exactly onto the finer lattice, and only the finest lattice is sampled per pixel.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]

_MARGIN = 3
_UNIT_STD = 0.277  # of a 2-D cubic B-spline with coefficients uniform in -1..1


@dataclass(frozen=True, slots=True)
class Fractal:
    """What a fractal field is made of.

    Parameters
    ----------
    seed : int
        Which field.
    coarse_exp : int
        Coarsest lattice spacing is ``2**-coarse_exp`` degrees (negative: several degrees).
    gain : float
        Standard deviation of an octave relative to the coarser one. 1 gives power falling as
        1/f² (Field 1987, J. Opt. Soc. Am. A 4(12)), smaller gains give smoother fields.
    finest_deg : float
        No octave is finer than this spacing, however far one zooms in.
    stretch : float
        How much longer than high the features are.
    """

    seed: int
    coarse_exp: int = -2
    gain: float = 0.9
    finest_deg: float = 0.0
    stretch: float = 1.0


def hashed(seed: int, rows: NDArray[np.int64], cols: NDArray[np.int64]) -> F32:
    """Uniform noise in -1..1 of shape (rows, cols), a pure function of the integer indices."""
    r = (rows.astype(np.uint64) * np.uint64(0x9E3779B1)).astype(np.uint32)
    c = (cols.astype(np.uint64) * np.uint64(0x85EBCA77)).astype(np.uint32)
    s = np.uint32((seed * 0x27D4EB2F + 0x165667B1) & 0xFFFFFFFF)
    r = _scramble(r ^ s)
    h = _scramble(r[:, None] + c[None, :])
    return h.astype(np.float32) * np.float32(2.0 / 4294967295.0) - np.float32(1.0)


def _scramble(h: NDArray[np.uint32]) -> NDArray[np.uint32]:
    h = h ^ (h >> np.uint32(16))
    h = h * np.uint32(0x7FEB352D)
    h = h ^ (h >> np.uint32(15))
    h = h * np.uint32(0x846CA68B)
    return h ^ (h >> np.uint32(16))


def spline_weights(u: F64, first: int, count: int, *, slope: bool = False) -> sp.csr_array:
    """Sparse matrix (len(u), count): cubic B-spline basis (or its derivative) at ``u``.

    ``u`` is in lattice units; the lattice holds the indices ``first … first + count - 1``.
    """
    i = np.floor(u).astype(np.int64)
    f = u - i
    if slope:
        taps = [
            -0.5 * (1 - f) ** 2,
            1.5 * f * f - 2 * f,
            -1.5 * f * f + f + 0.5,
            0.5 * f * f,
        ]
    else:
        taps = [
            (1 - f) ** 3 / 6,
            (3 * f**3 - 6 * f * f + 4) / 6,
            (-3 * f**3 + 3 * f * f + 3 * f + 1) / 6,
            f**3 / 6,
        ]
    n = len(u)
    data = np.stack(taps, axis=1).astype(np.float32).ravel()
    cols = (i[:, None] + np.arange(-1, 3)[None, :] - first).clip(0, count - 1).ravel()
    indptr = np.arange(0, 4 * n + 1, 4)
    return sp.csr_array((data, cols.astype(np.int32), indptr.astype(np.int32)), shape=(n, count))


def bands(start: int, stop: int, rows: int = 64) -> Iterator[slice]:
    """Slices of a few rows each: whole pictures would fall out of the processor's cache."""
    for first in range(start, stop, rows):
        yield slice(first, min(first + rows, stop))


@dataclass(frozen=True, slots=True)
class Lattice:
    """B-spline coefficients with the index of the first row and column, and the spacing."""

    values: F32
    row0: int
    col0: int
    spacing_deg: float
    stretch: float

    def sample(
        self, bearing_deg: F64, height_deg: F64, *, slope: bool = False, out: F32 | None = None
    ) -> F32:
        """Values (len(height), len(bearing)); with ``slope``, change per cell along bearing."""
        across = self.columns(bearing_deg, slope=slope)
        if out is None:
            out = np.empty((len(height_deg), len(bearing_deg)), np.float32)
        for band in bands(0, len(height_deg)):
            out[band] = self.sample_rows(height_deg[band], across)
        return out

    def columns(self, bearing_deg: F64, *, slope: bool = False) -> sp.csr_array:
        """The weights of the columns for `sample_rows`."""
        spacing = self.spacing_deg * self.stretch
        return spline_weights(bearing_deg / spacing, self.col0, self.values.shape[1], slope=slope)

    def sample_rows(self, height_deg: F64, across: sp.csr_array) -> F32:
        """Values (len(height), columns) of a few rows."""
        down = spline_weights(height_deg / self.spacing_deg, self.row0, self.values.shape[0])
        rows = down @ self.values
        values: F32 = (across @ np.ascontiguousarray(rows.T)).T
        return values


def build(
    spec: Fractal, bearing_deg: F64, height_deg: F64, px_deg: float, *, min_px: float = 1.5
) -> Lattice:
    """Sum the octaves over the window down to the pixel size.

    Parameters
    ----------
    spec : Fractal
        The field.
    bearing_deg, height_deg : array
        Pixel coordinates, monotonic (either direction); only their ranges matter.
    px_deg : float
        Size of a pixel in degrees of the lattice's coordinates.
    min_px : float
        The octave with this spacing fades to nothing, one of twice that is whole.
    """
    u0, u1 = float(bearing_deg.min()), float(bearing_deg.max())
    v0, v1 = float(height_deg.min()), float(height_deg.max())
    spacing = 2.0 ** (-spec.coarse_exp)
    row0, row1 = _span(v0, v1, spacing)
    col0, col1 = _span(u0, u1, spacing * spec.stretch)
    total = _octave(spec, 0, row0, row1, col0, col1, spacing, 1.0)
    level, amplitude = 0, 1.0
    while True:
        fine = spacing / 2
        fade = min(max(np.log2(fine / (min_px * px_deg)), 0.0), 1.0)
        if fade <= 0 or fine < spec.finest_deg:
            return Lattice(total, row0, col0, spacing, spec.stretch)
        total = _refine(total)
        row0, col0 = 2 * (row0 + 1), 2 * (col0 + 1)
        spacing, level, amplitude = fine, level + 1, amplitude * spec.gain
        r0, r1 = _span(v0, v1, spacing)
        c0, c1 = _span(u0, u1, spacing * spec.stretch)
        total = total[r0 - row0 : r1 - row0 + 1, c0 - col0 : c1 - col0 + 1]
        row0, col0 = r0, c0
        total = total + _octave(spec, level, r0, r1, c0, c1, spacing, amplitude * fade)


def _span(low: float, high: float, spacing: float) -> tuple[int, int]:
    return int(np.floor(low / spacing)) - _MARGIN, int(np.floor(high / spacing)) + _MARGIN


def _octave(
    spec: Fractal,
    level: int,
    row0: int,
    row1: int,
    col0: int,
    col1: int,
    spacing: float,
    amplitude: float,
) -> F32:
    around = max(round(360.0 / (spacing * spec.stretch)), 1)
    rows = np.arange(row0, row1 + 1, dtype=np.int64)
    cols = np.arange(col0, col1 + 1, dtype=np.int64) % around
    noise = hashed(spec.seed * 64 + level, rows, cols)
    return noise * np.float32(amplitude / _UNIT_STD)


def _refine(c: F32) -> F32:
    """One subdivision step of a uniform cubic B-spline along both axes."""
    return _refine_rows(np.ascontiguousarray(_refine_rows(c).T)).T


def _refine_rows(c: F32) -> F32:
    out = np.empty((2 * (c.shape[0] - 2), c.shape[1]), np.float32)
    mid = c[1:-1]
    out[0::2] = (c[:-2] + c[2:]) * np.float32(0.125) + mid * np.float32(0.75)
    out[1::2] = (mid + c[2:]) * np.float32(0.5)
    return out


def fractal(
    spec: Fractal, bearing_deg: F64, height_deg: F64, px_deg: float, *, slope: bool = False
) -> F32:
    """Build and sample in one go; shape (len(height), len(bearing))."""
    return build(spec, bearing_deg, height_deg, px_deg).sample(bearing_deg, height_deg, slope=slope)


def profile(spec: Fractal, bearing_deg: F64, px_deg: float, line: float = 0.5) -> F64:
    """A fractal line: one row of the field, shape (len(bearing),)."""
    row = np.array([line])
    line_values: F64 = fractal(spec, bearing_deg, row, px_deg)[0].astype(np.float64)
    return line_values
