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

#: Encoded values beyond which a sample says little: noise and black level, or clipping.
_DARK, _BRIGHT = 6.0, 243.0
#: A sample averages so many pixels of the small picture, each way.
_SAMPLE = 5
_MOST_SAMPLES = 400


@dataclass(frozen=True, slots=True)
class TonePicture:
    """A small picture of a frame in linear light, averaged over samples.

    `linear` (height, width, 3) float32; `darkest` is the encoded mean of the darkest channel,
    `luma` that of the brightness, `brightest` the greatest encoded value of any channel near each
    pixel, all (height, width); `shrink` full pixels make one.
    `dark`, `clipped` are the shares of the frame that are almost black, and blown out.
    """

    linear: FloatImage
    darkest: FloatImage
    luma: FloatImage
    brightest: FloatImage
    shrink: int
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


def tone_picture(colour: Pixels, shrink: int) -> TonePicture:
    """Make a small picture (height, width, 3), RGB uint8, decoded at 1/`shrink`, ready."""
    size = (_SAMPLE, _SAMPLE)
    linear = cv2.blur(linear_table()[colour], size)
    encoded = cv2.split(cv2.blur(colour.astype(np.float32), size))
    darkest = cv2.min(cv2.min(encoded[0], encoded[1]), encoded[2])
    luma = cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY).astype(np.float32)
    red, green, blue = cv2.split(colour)
    high = cv2.max(cv2.max(red, green), blue)
    return TonePicture(
        linear.astype(np.float32),
        darkest.astype(np.float32),
        cv2.blur(luma, size).astype(np.float32),
        cv2.dilate(high, np.ones(size, np.uint8)).astype(np.float32),
        shrink,
        float(np.mean(high < 16)),
        float(np.mean(high >= 254)),
    )


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
    points = _lattice(a)
    in_b = mapping(points)
    margin = 2.0 * _SAMPLE * b.shrink
    size_b = np.array([b.linear.shape[1], b.linear.shape[0]]) * float(b.shrink)
    inside = np.all((in_b > margin) & (in_b < size_b - margin), axis=1)
    points, in_b = points[inside], in_b[inside]
    good_a, good_b = _bright_enough(a.luma, a, points), _bright_enough(b.luma, b, in_b)
    both = good_a & good_b
    one_sided = bool(both.sum() < 12 and (good_a ^ good_b).sum() > 3 * both.sum() + 12)
    use = _some(good_a | good_b if one_sided else both)
    coloured = _bright_enough(a.darkest, a, points) & _bright_enough(b.darkest, b, in_b)
    tinted = use if one_sided else _some(coloured)
    return ToneDifference(
        np.log2(_light(b, in_b[use]) / _light(a, points[use])),
        _tint(b, in_b[tinted]) - _tint(a, points[tinted]),
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


def _light(picture: TonePicture, points: FloatArray) -> FloatArray:
    """Luminance at points (n,), not less than half of what is too dark."""
    light = _at(picture.linear, points, picture.shrink) @ np.array(LUMINANCE)
    floored: FloatArray = np.maximum(light, _floor())
    return floored


def _tint(picture: TonePicture, points: FloatArray) -> FloatArray:
    """Natural logarithms of red to green and blue to green at points, (n, 2)."""
    logs = np.log(np.maximum(_at(picture.linear, points, picture.shrink), _floor()))
    tint: FloatArray = logs[:, [0, 2]] - logs[:, 1:2]
    return tint


def _floor() -> float:
    return float(linear_table()[int(_DARK) // 2])


def _lattice(picture: TonePicture) -> FloatArray:
    """Sample positions over the whole frame, full-size pixels (n, 2)."""
    height, width = picture.darkest.shape
    step = max(float(_SAMPLE), np.sqrt(height * width / 6000.0))
    x = np.arange(_SAMPLE, width - _SAMPLE, step)
    y = np.arange(_SAMPLE, height - _SAMPLE, step)
    lattice: FloatArray = (
        np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2) * picture.shrink
        + (picture.shrink - 1) / 2.0
    )
    return lattice


def _bright_enough(
    encoded: FloatImage, picture: TonePicture, points: FloatArray
) -> NDArray[np.bool_]:
    """Where `encoded` is not too dark, and no channel is blown out."""
    level = _at(encoded, points, picture.shrink)
    brightest = _at(picture.brightest, points, picture.shrink)
    enough: NDArray[np.bool_] = (level > _DARK) & (brightest < _BRIGHT)
    return enough


def _at(image: FloatImage, points: FloatArray, shrink: int) -> FloatArray:
    """Values of a small picture at full-size pixels (n, 2), between its pixels."""
    if not len(points):
        return np.zeros((0, *image.shape[2:]))
    small = ((points - (shrink - 1) / 2.0) / shrink).astype(np.float32)
    values = cv2.remap(
        image,
        small[:, None, 0],
        small[:, None, 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return values[:, 0].astype(np.float64)


def _radius2(picture: TonePicture, points: FloatArray) -> FloatArray:
    height, width = picture.darkest.shape
    centre = np.array([width, height]) * picture.shrink / 2.0 - 0.5
    radius2: FloatArray = np.square(points - centre).sum(axis=1) / np.square(centre).sum()
    return radius2
