"""How much brighter, and of what other colour, one frame shows the scene than another."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.measure.colour import LUMINANCE, linear_table
from belvedere.measure.source import Pixels

FloatArray = NDArray[np.float64]
FloatImage = NDArray[np.float32]
IntArray = NDArray[np.intp]

#: Encoded values beyond which a sample says little: noise and black level, or clipping.
_DARK, _BRIGHT = 6.0, 243.0
#: A sample averages so many pixels of the small picture, each way; of one with the tints of a
#: thumbnail, which has half as many, and so many for the tints: they are rounded square by square.
_SAMPLE, _TINTED_SAMPLE, _TINT_SAMPLE = 5, 3, 13
_MOST_SAMPLES = 120
#: Places looked at: so many to a side of a square that is as large as the overlap.
_ACROSS = 22
#: Points to a side of the frame by which the overlap is found.
_COARSE = 24


@dataclass(frozen=True, slots=True)
class TonePicture:
    """A small picture of a frame in linear light, averaged over samples.

    `linear` (height, width, 3) float16, which is exact to 1/2000; `darkest` is the encoded mean of
    the darkest channel, `luma` that of the brightness, `brightest` the greatest encoded value of
    any channel near each pixel, all (height, width) uint8; `shrink` full pixels make one, and
    `sample` of these, each way, were averaged.
    `dark`, `clipped` are the shares of the frame that are almost black, and blown out.
    """

    linear: NDArray[np.float16]
    darkest: Pixels
    luma: Pixels
    brightest: Pixels
    shrink: int
    sample: int
    dark: float
    clipped: float


@dataclass(frozen=True, slots=True)
class ToneDifference:
    """Samples of an overlap, b against a: how much brighter in EV, and the tints.

    `exposure_ev` (n,) is log2 of the ratio of luminances; `tint` (m, 2) the natural logarithm of
    the ratios red to green and blue to green, where no channel is too dark. Squared distances
    from the frames' centres, in half diagonals, are `radius2_a`, `radius2_b` (n,): what vignetting
    depends on. `one_sided` says that the samples are too dark or too bright in one frame, so that
    the difference is a lower bound.
    """

    exposure_ev: FloatArray
    tint: FloatArray
    radius2_a: FloatArray
    radius2_b: FloatArray
    one_sided: bool


def tone_picture(colour: Pixels, shrink: int, tinted: bool = False) -> TonePicture:
    """Make a small picture (height, width, 3), RGB uint8, decoded at 1/`shrink`, ready.

    `tinted` says that its tints are a thumbnail's.
    """
    sample = _TINTED_SAMPLE if tinted else _SAMPLE
    size = (sample, sample)
    encoded = np.asarray(cv2.blur(colour, size), dtype=np.uint8)
    red, green, blue = cv2.split(encoded)
    darkest = cv2.min(cv2.min(red, green), blue)
    luma = cv2.cvtColor(encoded, cv2.COLOR_RGB2GRAY)
    red, green, blue = cv2.split(colour)
    high = cv2.max(cv2.max(red, green), blue)
    counts = cv2.calcHist([high], [0], None, [256], [0, 256]).ravel() / high.size
    return TonePicture(
        _linear(colour, sample, tinted).astype(np.float16),
        np.asarray(darkest, dtype=np.uint8),
        np.asarray(luma, dtype=np.uint8),
        np.asarray(cv2.dilate(high, np.ones(size, np.uint8)), dtype=np.uint8),
        shrink,
        sample,
        float(counts[:16].sum()),
        float(counts[254:].sum()),
    )


def _linear(colour: Pixels, sample: int, tinted: bool) -> FloatImage:
    """Linear light, averaged over samples; the tints of a thumbnail over wider ones."""
    light = cv2.LUT(colour, linear_table())
    fine = np.asarray(cv2.blur(light, (sample, sample)), dtype=np.float32)
    if not tinted:
        return fine
    wide = cv2.blur(light, (_TINT_SAMPLE, _TINT_SAMPLE))
    weights = np.array([LUMINANCE], dtype=np.float32)
    share = cv2.divide(cv2.transform(fine, weights), cv2.transform(wide, weights))
    return np.asarray(cv2.multiply(wide, cv2.merge([share, share, share])), dtype=np.float32)


def tone_difference(
    a: TonePicture, b: TonePicture, mapping: Callable[[FloatArray], FloatArray]
) -> ToneDifference:
    """Compare brightness and colour where two frames overlap.

    Parameters
    ----------
    a, b
        Small pictures of both frames.
    mapping
        Full-size pixels of a (n, 2) to those of b; a few pixels off does no harm.
    """
    points = _lattice(a, b, mapping)
    in_b = mapping(points) if len(points) else points
    margin = 2.0 * b.sample * b.shrink
    inside = np.all((in_b > margin) & (in_b < _size_px(b) - margin), axis=1)
    points, in_b = points[inside], in_b[inside]
    at_a, at_b = _cells(a, points), _cells(b, in_b)
    bright_a, bright_b = a.brightest[at_a] < _BRIGHT, b.brightest[at_b] < _BRIGHT
    good_a = bright_a & (a.luma[at_a] > _DARK)
    good_b = bright_b & (b.luma[at_b] > _DARK)
    both = good_a & good_b
    one_sided = bool(both.sum() < 12 and (good_a ^ good_b).sum() > 3 * both.sum() + 12)
    use = _some(good_a | good_b if one_sided else both)
    coloured = (bright_a & (a.darkest[at_a] > _DARK)) & (bright_b & (b.darkest[at_b] > _DARK))
    tinted = use if one_sided else _some(coloured)
    floor = float(linear_table()[int(_DARK) // 2])
    light_a = np.maximum(a.linear[at_a].astype(np.float64), floor)
    light_b = np.maximum(b.linear[at_b].astype(np.float64), floor)
    weights = np.array(LUMINANCE)
    ratio = np.log(light_b[tinted] / light_a[tinted])
    return ToneDifference(
        np.log2((light_b[use] @ weights) / (light_a[use] @ weights)),
        ratio[:, [0, 2]] - ratio[:, 1:2],
        _radius2(a, points[use]),
        _radius2(b, in_b[use]),
        one_sided,
    )


def _some(usable: NDArray[np.bool_]) -> NDArray[np.intp]:
    """At most `_MOST_SAMPLES` of the usable samples, evenly spread."""
    chosen = np.flatnonzero(usable)
    if len(chosen) > _MOST_SAMPLES:
        chosen = chosen[np.linspace(0, len(chosen) - 1, _MOST_SAMPLES).astype(int)]
    return chosen


def _size_px(picture: TonePicture) -> FloatArray:
    height, width = picture.luma.shape
    return np.array([width, height], dtype=np.float64) * picture.shrink


def _lattice(
    a: TonePicture, b: TonePicture, mapping: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Sample positions in the part of a that b shows too, full-size pixels (n, 2).

    Samples do not share pixels; where there are plenty they lie further apart.
    """
    coarse = _between(np.zeros(2), _size_px(a), a, _COARSE)
    in_b = mapping(coarse)
    shared = coarse[np.all((in_b > 0.0) & (in_b < _size_px(b)), axis=1)]
    if not len(shared):
        return shared
    reach = _size_px(a) / _COARSE
    low = np.maximum(shared.min(axis=0) - reach, 0.0)
    high = np.minimum(shared.max(axis=0) + reach, _size_px(a))
    return _between(low, high, a, _ACROSS)


def _between(low: FloatArray, high: FloatArray, picture: TonePicture, most: int) -> FloatArray:
    """A lattice from `low` to `high` of at most `most` points to a side of a square as large."""
    margin = least = float(picture.sample * picture.shrink)
    low = np.maximum(low, margin)
    high = np.minimum(high, _size_px(picture) - margin)
    step = max(least, float(np.sqrt(np.prod(np.maximum(high - low, 1.0)))) / most)
    across, down = np.arange(low[0], high[0], step), np.arange(low[1], high[1], step)
    lattice: FloatArray = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)
    return lattice


def _cells(picture: TonePicture, points: FloatArray) -> tuple[IntArray, IntArray]:
    """Rows and columns of a small picture under full-size pixels (n, 2)."""
    cell = ((points + 0.5) / picture.shrink).astype(np.intp)
    return cell[:, 1], cell[:, 0]


def _radius2(picture: TonePicture, points: FloatArray) -> FloatArray:
    height, width = picture.luma.shape
    centre = np.array([width, height]) * picture.shrink / 2.0 - 0.5
    radius2: FloatArray = np.square(points - centre).sum(axis=1) / np.square(centre).sum()
    return radius2
