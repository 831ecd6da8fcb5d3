"""Where one small picture lies on another, whatever the displacement: the whole plane at once.

Phase correlation answers best where the overlap is known beforehand. To place a frame we must
weigh displacements that were not expected, with little overlap, between pictures of different
brightness. So: locally normalised pictures, their cross-correlation over every displacement by
FFT, divided by the energy in each displacement's overlap (J. P. Lewis, "Fast normalized
cross-correlation", 1995; D. Padfield, "Masked object registration in the Fourier domain", IEEE
Trans. Image Processing 21(5), 2012), and turned into a log likelihood ratio of "these overlap so"
against "they have nothing in common".

The plane is looked at in blocks of `_BLOCK_PX` squared: what divides the correlation changes
slowly, so once for a block is enough. Kept are the blocks with most support, and coarse maps of
what remains: a few kilobytes for a pair, so that every pair is matched once only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

FloatImage = NDArray[np.float32]
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Grey = NDArray[np.uint8] | NDArray[np.float32]

_SPREAD_SIGMA_PX = 6.0

#: Grey levels (of 255) below which local contrast counts as noise.
NOISE_LEVELS = 1.5
#: Pixels of a locally normalised picture that carry one independent sample: at least what the
#: filter makes of white noise. Texture makes it more, a lone horizon very much more.
LEAST_SAMPLE_AREA_PX = 12.0
#: The formula holds for Gaussian textures; real ones gather their detail in fewer places.
GATHERED = 1.5
#: Displacements that leave less than this share of the picture in common are not looked at.
LEAST_SHARE = 0.03
#: No pair of pictures may say more than this (natural log): textures repeat, models err.
MOST_SUPPORT = 80.0
#: Price (natural log) of having fitted the correlation to the very pictures.
_UNKNOWN_CORRELATION = 2.0
#: Side of the squares in which the directions of edges are summed.
_SQUARE_PX = 8
#: Ratio of the structure tensor's eigenvalues from which an overlap counts in full, and what is
#: left of one whose edges are all parallel.
_MANY_SIDED, _LEAST_SIDED = 0.2, 0.02
#: Textured samples needed before a missing match means anything.
_ENOUGH_SAMPLES = 20.0
#: Side of the blocks in which the plane of displacements is searched, and of a place of the maps.
_BLOCK_PX, _PLACE_PX = 4, 16
#: Blocks of the plane that are remembered one by one, and the support from which they may be.
_MOST_BLOCKS, _LEAST_SUPPORT = 48, 1.0
#: Mean of exp(support) - 1 in a block of chance matches, as a share of the highest.
_CHANCE_SHARE = 0.35
#: Chance that a head, or a knocked tripod, is off by more than its spread suggests, and how far
#: it may be then, as a share of the picture each way.
_FAR_OFF, _FAR_SHARE = 0.02, 0.2


@dataclass(frozen=True, slots=True)
class Prepared:
    """A small picture ready to be matched: transform and running energy.

    `transform` is the real FFT of the normalised picture padded to `padded` (height, width);
    `energy` (height + 1, width + 1) the integral of its square; `slopes` (3, rows + 1,
    columns + 1) the integral over squares of `_SQUARE_PX` of its gradient's products xx, yy, xy.
    """

    height: int
    width: int
    padded: tuple[int, int]
    transform: NDArray[np.complex64]
    energy: FloatImage
    slopes: FloatImage

    @property
    def nbytes(self) -> int:
        """What it holds of memory."""
        return self.transform.nbytes + self.energy.nbytes + self.slopes.nbytes

    @property
    def samples(self) -> float:
        """Independent textured samples in the whole picture."""
        return float(self.energy[-1, -1]) / (GATHERED * LEAST_SAMPLE_AREA_PX)


def normalised(grey: Grey, pattern: FloatImage | None = None) -> FloatImage:
    """A picture of local contrast: mean 0, spread 1 where there is texture, 0 in plain areas.

    `pattern` is what the camera adds to every frame (`fixed_pattern`); it is taken away first.
    """
    detail = _detail(grey)
    if pattern is not None:
        detail = detail - pattern
    spread = cv2.sqrt(_blurred(detail * detail) + NOISE_LEVELS**2)
    return np.clip(detail / np.asarray(spread, dtype=np.float32), -3.0, 3.0)


def fixed_pattern(pictures: Sequence[Grey]) -> FloatImage:
    """What all frames of a camera share: falloff in the corners, dust; for pictures of one size.

    The mean of their detail, plain places counting most, since there nothing else is seen.
    Without it two frames of plain sky look like the same cell taken twice.
    """
    total = np.zeros(pictures[0].shape, dtype=np.float32)
    weights = np.zeros_like(total)
    for picture in pictures:
        detail = _detail(picture)
        weight = 1.0 / (_blurred(detail * detail) + NOISE_LEVELS**2)
        total += weight * detail
        weights += weight
    pattern: FloatImage = total / weights
    return pattern


def _detail(grey: Grey) -> FloatImage:
    picture = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 0.8)
    detail: FloatImage = picture - cv2.GaussianBlur(picture, (0, 0), 4.0)
    return detail


def _blurred(values: FloatImage) -> FloatImage:
    return np.asarray(cv2.GaussianBlur(values, (0, 0), _SPREAD_SIGMA_PX), dtype=np.float32)


def prepare(
    grey: Grey, whole_rows: int | None = None, pattern: FloatImage | None = None
) -> Prepared:
    """Ready a grey picture (height, width), levels 0 to 255, for `Matching`.

    `whole_rows`: only so many rows from the top are picture, the rest is filler. `pattern`: see
    `fixed_pattern`.
    """
    height, width = grey.shape
    padded = (_fft_size(2 * height), _fft_size(2 * width))
    detail = normalised(grey, pattern)
    if whole_rows is not None:
        detail[whole_rows:] = 0.0
    return Prepared(
        height,
        width,
        padded,
        fft.rfft2(detail, padded),
        _integral(detail * detail),
        _slopes(detail),
    )


def _fft_size(least: int) -> int:
    """A quick size for an FFT that places of the maps divide, on either side of 0."""
    size = cv2.getOptimalDFTSize(least)
    while size % (2 * _PLACE_PX):
        size = cv2.getOptimalDFTSize(size + 1)
    return int(size)


@dataclass(frozen=True, slots=True)
class Peak:
    """The best displacement: what is at (x, y) in `a` is at (x + dx, y + dy) in `b`."""

    dx_px: float
    dy_px: float
    support: float


class Matching:
    """Two prepared pictures of one size against each other, at every displacement.

    The support of a displacement is its log likelihood ratio, 0 where the overlap is too small.
    It follows from the correlation ρ of n samples, -n/2 log(1 - ρ²), that of Gaussian variables,
    bounded softly by `MOST_SUPPORT`.

    Neighbouring pixels are not independent samples: unrelated pictures correlate with the
    variance of the summed product of their autocorrelations (M. S. Bartlett, "Some aspects of the
    time-correlation problem", J. Royal Statistical Society 98(3), 1935). A horizon and nothing
    else is thus one sample, not a thousand.
    """

    # Of the blocks that stand out: displacement (B, 2) and support of the highest, and the sum of
    # the likelihood over the block; for each place of the wrapped plane: samples, and mean
    # likelihood of all other blocks.
    __slots__ = ("_mass", "_mean", "_peaks", "_reach", "_rest", "_samples", "_support")

    def __init__(self, a: Prepared, b: Prepared) -> None:
        if (a.height, a.width) != (b.height, b.width):
            raise ValueError("pictures of one size are needed")
        cross = np.conj(a.transform)
        cross *= b.transform
        area = _sample_area_px(a, b, cross)
        surface = np.asarray(fft.irfft2(cross, a.padded, overwrite_x=True), dtype=np.float32)
        dy, dx = (_block_displacements(size) for size in a.padded)
        energy = _energies(a, b, dy, dx)
        samples = energy * _many_sidedness(a, b, dy, dx) / area
        samples[~_enough_common(a, dy, dx)] = 0.0
        support = _support(_highest(surface), energy, samples)
        chosen = _outstanding(support)
        likelihood = np.exp(support - _UNKNOWN_CORRELATION)
        quiet = np.exp(-_UNKNOWN_CORRELATION)
        rest = quiet + _CHANCE_SHARE * (likelihood - quiet)
        rest.flat[chosen] = quiet
        self._peaks, self._support, self._mass = _blocks(surface, energy, samples, chosen)
        self._samples = _places(samples)
        self._rest = _places(rest)
        plane = (2 * a.height - 1) * (2 * a.width - 1)
        self._mean = float(self._mass.sum() / plane + rest.mean())
        self._reach = (_FAR_SHARE * a.width, _FAR_SHARE * a.height)

    def best(self) -> Peak:
        """The displacement with the most support."""
        if not len(self._support):
            return Peak(0.0, 0.0, 0.0)
        return self._peak(int(self._support.argmax()))

    def peaks(self) -> tuple[FloatImage, FloatImage]:
        """All displacements (B, 2) that stand out, with their support (B,)."""
        return self._peaks, self._support

    def near(self, dx_px: float, dy_px: float, reach_x_px: float, reach_y_px: float) -> Peak:
        """The displacement with the most support within reach of the expected one."""
        off = np.abs(self._peaks - (dx_px, dy_px))
        inside = np.flatnonzero((off[:, 0] <= reach_x_px + 0.5) & (off[:, 1] <= reach_y_px + 0.5))
        if not len(inside):
            return Peak(dx_px, dy_px, 0.0)
        return self._peak(int(inside[self._support[inside].argmax()]))

    def _peak(self, index: int) -> Peak:
        dx, dy = self._peaks[index]
        return Peak(float(dx), float(dy), float(self._support[index]))

    def ratios(self, displacements_px: FloatArray, sigma_px: FloatArray) -> FloatArray:
        """Log likelihood ratios (N,) of displacements (N, 2), each with a spread (N,).

        Each is the mean of the likelihood over what is expected. Where the expected overlap holds
        no texture it is near 0: nothing was to be seen. Where there is texture and no match it is
        negative, bounded, since blur, water and passing boats also break a match.
        """
        off = np.abs(self._peaks[None] - displacements_px[:, None])
        sigma = np.asarray(sigma_px)[:, None]
        # Student's t with 4 degrees of freedom: heads err more often than a normal law says.
        weight = (1.0 + np.square(off / sigma[:, :, None]).sum(axis=2) / 4.0) ** -3
        weight *= off.max(axis=2) <= np.minimum(6.0 * sigma, 3.0 * sigma + 20.0) + 1.0
        across, down = self._reach
        far = (off[:, :, 0] < across) & (off[:, :, 1] < down)
        weight *= (1.0 - _FAR_OFF) / (2.0 * np.pi * np.square(sigma))
        weight += _FAR_OFF / (4.0 * across * down) * far
        at = self._at(displacements_px)
        matched = weight @ self._mass + self._rest[at]
        blind = 0.02 + 0.98 * np.exp(-self._samples[at].astype(np.float64) / _ENOUGH_SAMPLES)
        ratios: FloatArray = np.log((1.0 - blind) * matched + blind)
        return ratios

    def elsewhere(self) -> float:
        """Log likelihood ratio of "displaced by any amount" against "unrelated"."""
        return float(np.log(0.5 * self._mean + 0.5))

    def _at(self, displacements_px: FloatArray) -> tuple[IntArray, IntArray]:
        """The places of the maps that hold displacements (N, 2)."""
        high, wide = self._samples.shape
        place = np.floor(displacements_px / _PLACE_PX).astype(np.int64)
        return place[:, 1].clip(-high // 2, high // 2 - 1), place[:, 0].clip(
            -wide // 2, wide // 2 - 1
        )


@cache
def _block_displacements(padded: int) -> IntArray:
    """Displacements at the middles of the blocks along one axis of the wrapped plane."""
    middle = np.arange(0, padded, _BLOCK_PX) + _BLOCK_PX // 2
    return np.where(middle < padded // 2, middle, middle - padded)


def _energies(a: Prepared, b: Prepared, dy_px: IntArray, dx_px: IntArray) -> FloatImage:
    """Geometric mean of what both pictures hold in their overlap at (rows) × (columns)."""
    product = _overlap_energy(a.energy, -dy_px, -dx_px) * _overlap_energy(b.energy, dy_px, dx_px)
    energy: FloatImage = np.sqrt(np.maximum(product, np.float32(1e-6)))
    return energy


def _enough_common(a: Prepared, dy_px: IntArray, dx_px: IntArray) -> NDArray[np.bool_]:
    down = np.maximum(a.height - np.abs(dy_px), 0) / a.height
    across = np.maximum(a.width - np.abs(dx_px), 0) / a.width
    common: NDArray[np.bool_] = np.outer(down, across) >= LEAST_SHARE
    return common


def _highest(surface: FloatImage) -> FloatImage:
    """The highest value of each block."""
    rows = surface[0::_BLOCK_PX]
    for row in range(1, _BLOCK_PX):
        rows = np.maximum(rows, surface[row::_BLOCK_PX])
    highest = rows[:, 0::_BLOCK_PX]
    for column in range(1, _BLOCK_PX):
        highest = np.maximum(highest, rows[:, column::_BLOCK_PX])
    return highest


def _support(product: FloatImage, energy: FloatImage, samples: FloatImage) -> FloatImage:
    correlation = product / np.maximum(energy, np.float32(10.0))
    correlation = np.minimum(np.maximum(correlation, np.float32(0.0)), np.float32(0.995))
    support = -0.5 * samples * np.log1p(-np.square(correlation))
    bounded: FloatImage = (support / (1.0 + support / MOST_SUPPORT)).astype(np.float32)
    return bounded


def _outstanding(support: FloatImage) -> IntArray:
    """Flat indices of the blocks with most support."""
    chosen = np.flatnonzero(support > _LEAST_SUPPORT)
    if len(chosen) > _MOST_BLOCKS:
        order = np.argpartition(-support.flat[chosen], _MOST_BLOCKS)
        chosen = chosen[order[:_MOST_BLOCKS]]
    return chosen


def _blocks(
    surface: FloatImage, energy: FloatImage, samples: FloatImage, chosen: IntArray
) -> tuple[FloatImage, FloatImage, FloatArray]:
    """Displacement (B, 2) and support (B,) of the highest in each block, and its likelihood."""
    high, wide = surface.shape
    block_row, block_column = np.divmod(chosen, wide // _BLOCK_PX)
    row, column = _BLOCK_PX * block_row, _BLOCK_PX * block_column
    inside = np.arange(_BLOCK_PX)
    values = surface[
        (row[:, None, None] + inside[:, None]), (column[:, None, None] + inside[None, :])
    ].reshape(len(chosen), _BLOCK_PX**2)
    support = _support(values, energy.flat[chosen][:, None], samples.flat[chosen][:, None])
    top = values.argmax(axis=1)
    row, column = row + top // _BLOCK_PX, column + top % _BLOCK_PX
    here = surface[row, column]
    dy = row + _vertices(surface[row - 1, column], here, surface[(row + 1) % high, column])
    dx = column + _vertices(surface[row, column - 1], here, surface[row, (column + 1) % wide])
    dy, dx = np.where(dy < high / 2, dy, dy - high), np.where(dx < wide / 2, dx, dx - wide)
    mass = np.exp(support.astype(np.float64) - _UNKNOWN_CORRELATION).sum(axis=1)
    return np.column_stack([dx, dy]).astype(np.float32), support.max(axis=1, initial=0.0), mass


def _places(blocks: FloatImage) -> NDArray[np.float16]:
    """A coarse map: means of the blocks in each place."""
    side = _PLACE_PX // _BLOCK_PX
    high, wide = blocks.shape[0] // side, blocks.shape[1] // side
    means = cv2.resize(blocks, (wide, high), interpolation=cv2.INTER_AREA)
    return np.minimum(means, np.finfo(np.float16).max).astype(np.float16)


def _slopes(detail: FloatImage) -> FloatImage:
    """The structure tensor of W. Förstner and E. Gülch, 1987, summed over squares."""
    height, width = detail.shape
    rows, columns = -(-height // _SQUARE_PX), -(-width // _SQUARE_PX)
    whole = np.zeros((rows * _SQUARE_PX, columns * _SQUARE_PX), dtype=np.float32)
    integrals = np.zeros((3, rows + 1, columns + 1), dtype=np.float32)
    x, y = cv2.Sobel(detail, cv2.CV_32F, 1, 0), cv2.Sobel(detail, cv2.CV_32F, 0, 1)
    for number, product in enumerate((x * x, y * y, x * y)):
        whole[:height, :width] = product
        mean = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)
        squares = np.asarray(mean, dtype=np.float32) * np.float32(_SQUARE_PX**2)
        integrals[number, 1:, 1:] = squares.cumsum(axis=0).cumsum(axis=1)
    return integrals


def _many_sidedness(a: Prepared, b: Prepared, dy_px: IntArray, dx_px: IntArray) -> FloatImage:
    """How far the overlaps at displacements (rows) × (columns) have edges of many directions.

    From 0 to 1, looked at by whole squares. A lone horizon, or a mast, lies on itself however far
    it is moved along: it tells little.
    """
    high, wide = a.slopes.shape[1] - 1, a.slopes.shape[2] - 1
    rows, columns = np.arange(-high + 1, high), np.arange(-wide + 1, wide)
    xx, yy, xy = (
        _overlap_energy(a.slopes[i], -rows, -columns) + _overlap_energy(b.slopes[i], rows, columns)
        for i in range(3)
    )
    middle, half = (xx + yy) / 2.0, np.sqrt(np.square((xx - yy) / 2.0) + np.square(xy))
    ratio = np.maximum(middle - half, 0.0) / np.maximum(middle + half, 1e-6)
    sided = np.minimum(np.maximum(ratio / _MANY_SIDED, _LEAST_SIDED), 1.0)
    down = _held(np.rint(dy_px / _SQUARE_PX).astype(np.int64) + high - 1, 2 * high - 2)
    across = _held(np.rint(dx_px / _SQUARE_PX).astype(np.int64) + wide - 1, 2 * wide - 2)
    found: FloatImage = sided.take(down, axis=0).take(across, axis=1)
    return found


def _integral(values: FloatImage) -> FloatImage:
    return np.asarray(cv2.integral(values), dtype=np.float32)


def _sample_area_px(a: Prepared, b: Prepared, cross: NDArray[np.complex64]) -> float:
    """Pixels per independent sample, by Bartlett's formula, summed in the frequency domain."""
    every, first = cross.ravel(), np.ascontiguousarray(cross[:, 0])
    # The real transform leaves out the mirrored half of the columns.
    total = 2.0 * float(np.vdot(every, every).real) - float(np.vdot(first, first).real)
    energies = float(a.energy[-1, -1]) * float(b.energy[-1, -1])
    if energies <= 0.0:
        return GATHERED * LEAST_SAMPLE_AREA_PX
    area = total / (a.padded[0] * a.padded[1] * energies)
    return GATHERED * max(LEAST_SAMPLE_AREA_PX, area)


def _held(values: IntArray, most: int) -> IntArray:
    """Values from 0 to `most`; on a few numbers `np.clip` takes longer than all the rest."""
    return np.minimum(np.maximum(values, 0), most)


def _overlap_energy(integral: FloatImage, rows: IntArray, columns: IntArray) -> FloatImage:
    """Energy of a picture inside its overlap with one displaced by (rows) × (columns)."""
    height, width = integral.shape[0] - 1, integral.shape[1] - 1
    top, bottom = _held(rows, height), _held(height + rows, height)
    left, right = _held(columns, width), _held(width + columns, width)
    bands = integral.take(bottom, axis=0) - integral.take(top, axis=0)
    energy: FloatImage = bands.take(right, axis=1) - bands.take(left, axis=1)
    return energy


def _vertices(before: FloatImage, here: FloatImage, after: FloatImage) -> FloatImage:
    """Offsets of the vertices of parabolas through values and their neighbours."""
    bend = before - 2.0 * here + after
    offset = 0.5 * (before - after) / np.where(bend < 0.0, bend, -1.0)
    vertices: FloatImage = np.where(bend < 0.0, np.clip(offset, -0.5, 0.5), 0.0).astype(np.float32)
    return vertices
