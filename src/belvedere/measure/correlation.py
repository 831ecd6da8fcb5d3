"""Where one small picture lies on another, whatever the displacement: the whole plane at once.

Phase correlation answers best where the overlap is known beforehand. To place a frame we must
weigh displacements that were not expected, with little overlap, between pictures of different
brightness. So: locally normalised pictures, their cross-correlation over every displacement by
FFT, divided by the energy in each displacement's overlap (J. P. Lewis, "Fast normalized
cross-correlation", 1995; D. Padfield, "Masked object registration in the Fourier domain", IEEE
Trans. Image Processing 21(5), 2012), and turned into a log likelihood ratio of "these overlap so"
against "they have nothing in common".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

FloatImage = NDArray[np.float32]
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
    energy: NDArray[np.float64]
    slopes: NDArray[np.float64]

    @property
    def samples(self) -> float:
        """Independent textured samples in the whole picture."""
        return float(self.energy[-1, -1]) / (GATHERED * LEAST_SAMPLE_AREA_PX)


def normalised(grey: Grey, pattern: FloatImage | None = None) -> FloatImage:
    """A picture of local contrast: mean 0, spread 1 where there is texture, 0 in plain areas.

    `pattern` is what the camera adds to every frame (`fixed_pattern`); it is taken away first.
    """
    detail, spread = _detail(grey)
    if pattern is not None:
        detail = detail - pattern
        spread = _blurred(detail * detail)
    result: FloatImage = detail / np.sqrt(spread + NOISE_LEVELS**2)
    return np.clip(result, -3.0, 3.0)


def fixed_pattern(pictures: Sequence[Grey]) -> FloatImage:
    """What all frames of a camera share: falloff in the corners, dust; for pictures of one size.

    The mean of their detail, plain places counting most, since there nothing else is seen.
    Without it two frames of plain sky look like the same cell taken twice.
    """
    total = np.zeros(pictures[0].shape, dtype=np.float32)
    weights = np.zeros_like(total)
    for picture in pictures:
        detail, spread = _detail(picture)
        weight = 1.0 / (spread + NOISE_LEVELS**2)
        total += weight * detail
        weights += weight
    pattern: FloatImage = total / weights
    return pattern


def _detail(grey: Grey) -> tuple[FloatImage, FloatImage]:
    """Detail of a picture and its local variance."""
    picture = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 0.8)
    detail: FloatImage = picture - cv2.GaussianBlur(picture, (0, 0), 4.0)
    return detail, _blurred(detail * detail)


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
    size = cv2.getOptimalDFTSize(least)
    while size % 2:
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

    `support` (rows, columns) is the log likelihood ratio at each displacement, 0 where the
    overlap is too small; `samples` the independent textured samples the overlap holds; `centre`
    the index of displacement (0, 0). The ratio follows from the correlation ρ of n samples,
    -n/2 log(1 - ρ²), that of Gaussian variables, bounded softly by `MOST_SUPPORT`.

    Neighbouring pixels are not independent samples: unrelated pictures correlate with the
    variance of the summed product of their autocorrelations (M. S. Bartlett, "Some aspects of the
    time-correlation problem", J. Royal Statistical Society 98(3), 1935). A horizon and nothing
    else is thus one sample, not a thousand.
    """

    __slots__ = ("_likelihood", "centre", "samples", "support")

    def __init__(self, a: Prepared, b: Prepared) -> None:
        if (a.height, a.width) != (b.height, b.width):
            raise ValueError("pictures of one size are needed")
        height, width = a.height, a.width
        cross = np.conj(a.transform) * b.transform
        surface = fft.irfft2(cross, a.padded)
        area = _sample_area_px(a, b, cross)
        rows = np.arange(-height + 1, height)
        columns = np.arange(-width + 1, width)
        product = surface[np.ix_(rows % a.padded[0], columns % a.padded[1])]
        energy_a = _overlap_energy(a.energy, -rows, -columns)
        energy_b = _overlap_energy(b.energy, rows, columns)
        energy = np.sqrt(np.maximum(energy_a * energy_b, 1e-6)).astype(np.float32)
        share = np.outer(height - abs(rows), width - abs(columns)) / (height * width)
        self.samples: FloatImage = np.where(
            share >= LEAST_SHARE, energy / area * _many_sidedness(a, b), 0.0
        ).astype(np.float32)
        correlation = np.clip(product / np.maximum(energy, 10.0), 0.0, 0.995)
        support = -0.5 * self.samples * np.log1p(-(correlation**2))
        self.support: FloatImage = (support / (1.0 + support / MOST_SUPPORT)).astype(np.float32)
        # What a match says is discounted: the correlation was not known beforehand.
        self._likelihood: FloatImage = np.exp(self.support - _UNKNOWN_CORRELATION)
        self.centre = (height - 1, width - 1)

    def best(self) -> Peak:
        """The displacement with the most support."""
        return self._peak_in(0, 0, *self.support.shape)

    def near(self, dx_px: float, dy_px: float, reach_x_px: float, reach_y_px: float) -> Peak:
        """The displacement with the most support within reach of the expected one."""
        top, bottom, left, right = self._window(dx_px, dy_px, reach_x_px, reach_y_px)
        if bottom <= top or right <= left:
            return Peak(dx_px, dy_px, 0.0)
        return self._peak_in(top, left, bottom, right)

    def _peak_in(self, top: int, left: int, bottom: int, right: int) -> Peak:
        window = self.support[top:bottom, left:right]
        row, column = np.unravel_index(int(np.argmax(window)), window.shape)
        y, x = int(row) + top, int(column) + left
        fine_y = y + _vertex(self.support[:, x], y)
        fine_x = x + _vertex(self.support[y, :], x)
        return Peak(
            fine_x - self.centre[1],
            fine_y - self.centre[0],
            float(self.support[y, x]),
        )

    def ratio(self, dx_px: float, dy_px: float, sigma_x_px: float, sigma_y_px: float) -> float:
        """Log likelihood ratio of "displaced by about this much" against "unrelated".

        The displacement is expected at (dx, dy) with a spread; the answer is the mean of the
        likelihood over that expectation. Where the expected overlap holds no texture it is near
        0: nothing was to be seen. Where there is texture and no match it is negative, bounded,
        since blur, water and passing boats also break a match.
        """
        reach_x, reach_y = (min(6.0 * s, 3.0 * s + 20.0) + 1.0 for s in (sigma_x_px, sigma_y_px))
        top, bottom, left, right = self._window(dx_px, dy_px, reach_x, reach_y)
        if bottom <= top or right <= left:
            return 0.0
        y = (np.arange(top, bottom) - self.centre[0] - dy_px) / sigma_y_px
        x = (np.arange(left, right) - self.centre[1] - dx_px) / sigma_x_px
        # Student's t with 4 degrees of freedom: heads err more often than a normal law says.
        spread = 1.0 + ((y * y)[:, None] + x * x) / 4.0
        weight = 1.0 / (spread * spread * spread * (2.0 * np.pi * sigma_x_px * sigma_y_px))
        matched = float((weight * self._likelihood[top:bottom, left:right]).sum())
        blind = self._blindness(dx_px, dy_px)
        return float(np.log((1.0 - blind) * matched + blind))

    def elsewhere(self) -> float:
        """Log likelihood ratio of "displaced by any amount" against "unrelated"."""
        mean = float(self._likelihood.mean(dtype=np.float64))
        return float(np.log(0.5 * mean + 0.5))

    def _blindness(self, dx_px: float, dy_px: float) -> float:
        """Chance that a true overlap at this displacement shows no match."""
        y = int(np.clip(round(dy_px) + self.centre[0], 0, self.samples.shape[0] - 1))
        x = int(np.clip(round(dx_px) + self.centre[1], 0, self.samples.shape[1] - 1))
        return float(0.02 + 0.98 * np.exp(-self.samples[y, x] / _ENOUGH_SAMPLES))

    def _window(
        self, dx_px: float, dy_px: float, reach_x_px: float, reach_y_px: float
    ) -> tuple[int, int, int, int]:
        rows, columns = self.support.shape
        y, x = dy_px + self.centre[0], dx_px + self.centre[1]
        return (
            max(0, round(y - reach_y_px)),
            min(rows, round(y + reach_y_px) + 1),
            max(0, round(x - reach_x_px)),
            min(columns, round(x + reach_x_px) + 1),
        )


def _slopes(detail: FloatImage) -> NDArray[np.float64]:
    """The structure tensor of W. Förstner and E. Gülch, 1987, summed over squares."""
    height, width = detail.shape
    rows, columns = -(-height // _SQUARE_PX), -(-width // _SQUARE_PX)
    whole = np.zeros((rows * _SQUARE_PX, columns * _SQUARE_PX), dtype=np.float32)
    integrals = np.zeros((3, rows + 1, columns + 1))
    x, y = cv2.Sobel(detail, cv2.CV_32F, 1, 0), cv2.Sobel(detail, cv2.CV_32F, 0, 1)
    for number, product in enumerate((x * x, y * y, x * y)):
        whole[:height, :width] = product
        squares = whole.reshape(rows, _SQUARE_PX, columns, _SQUARE_PX).sum(axis=(1, 3))
        integrals[number, 1:, 1:] = squares.cumsum(axis=0).cumsum(axis=1)
    return integrals


def _many_sidedness(a: Prepared, b: Prepared) -> FloatImage:
    """How far each displacement's overlap has edges of more than one direction, 0 to 1.

    A lone horizon, or a mast, lies on itself however far it is moved along: it tells little.
    Computed for displacements by whole squares, enlarged to (2 height - 1, 2 width - 1).
    """
    high, wide = a.slopes.shape[1] - 1, a.slopes.shape[2] - 1
    rows, columns = np.arange(-high + 1, high), np.arange(-wide + 1, wide)
    xx, yy, xy = (
        _overlap_energy(a.slopes[i], -rows, -columns) + _overlap_energy(b.slopes[i], rows, columns)
        for i in range(3)
    )
    middle, half = (xx + yy) / 2.0, np.hypot((xx - yy) / 2.0, xy)
    ratio = np.maximum(middle - half, 0.0) / np.maximum(middle + half, 1e-6)
    sided = np.clip(ratio / _MANY_SIDED, _LEAST_SIDED, 1.0).astype(np.float32)
    # Of the enlarged map the middle is wanted: displacement 0 must stay in its middle.
    size = ((2 * wide - 1) * _SQUARE_PX, (2 * high - 1) * _SQUARE_PX)
    fine = np.asarray(cv2.resize(sided, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32)
    fine = np.pad(fine, _SQUARE_PX, mode="edge")
    top = (fine.shape[0] - (2 * a.height - 1)) // 2
    left = (fine.shape[1] - (2 * a.width - 1)) // 2
    return fine[top : top + 2 * a.height - 1, left : left + 2 * a.width - 1]


def _integral(values: FloatImage) -> NDArray[np.float64]:
    return np.asarray(cv2.integral(values), dtype=np.float64)


def _sample_area_px(a: Prepared, b: Prepared, cross: NDArray[np.complex64]) -> float:
    """Pixels per independent sample, by Bartlett's formula, summed in the frequency domain."""
    power = cross.real**2 + cross.imag**2
    # The real transform leaves out the mirrored half of the columns.
    total = 2.0 * float(power.sum(dtype=np.float64)) - float(power[:, 0].sum(dtype=np.float64))
    energies = float(a.energy[-1, -1]) * float(b.energy[-1, -1])
    if energies <= 0.0:
        return GATHERED * LEAST_SAMPLE_AREA_PX
    area = total / (a.padded[0] * a.padded[1] * energies)
    return GATHERED * max(LEAST_SAMPLE_AREA_PX, area)


def _overlap_energy(
    integral: NDArray[np.float64], rows: NDArray[np.int64], columns: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Energy of a picture inside its overlap with one displaced by (rows, columns)."""
    height, width = integral.shape[0] - 1, integral.shape[1] - 1
    top, bottom = np.maximum(rows, 0), np.minimum(height + rows, height)
    left, right = np.maximum(columns, 0), np.minimum(width + columns, width)
    bands = integral.take(bottom, axis=0) - integral.take(top, axis=0)
    energy: NDArray[np.float64] = bands.take(right, axis=1) - bands.take(left, axis=1)
    return energy


def _vertex(values: FloatImage, index: int) -> float:
    """Offset of the vertex of the parabola through the value at `index` and its neighbours."""
    if not 0 < index < len(values) - 1:
        return 0.0
    before, here, after = (float(v) for v in values[index - 1 : index + 2])
    bend = before - 2.0 * here + after
    return 0.0 if bend >= 0.0 else float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
