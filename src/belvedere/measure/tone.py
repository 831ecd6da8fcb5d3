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
_DARK, _BRIGHT = 10.0, 243.0
#: A sample averages so many pixels of the small picture, each way.
_SAMPLE = 5
_MOST_SAMPLES = 400


@dataclass(frozen=True, slots=True)
class TonePicture:
    """A small picture of a frame in linear light, averaged over samples.

    `linear` (height, width, 3) float32; `darkest` and `brightest` (height, width) are the least and
    the greatest encoded value among the channels near each pixel; `shrink` full pixels make one.
    `dark`, `clipped` are the shares of the frame that are almost black, and blown out.
    """

    linear: FloatImage
    darkest: FloatImage
    brightest: FloatImage
    shrink: int
    dark: float
    clipped: float


@dataclass(frozen=True, slots=True)
class ToneDifference:
    """Samples of an overlap, b against a: how much brighter in EV, and the tints.

    `exposure_ev` (n,) is log2 of the ratio of luminances; `tint` (n, 2) the natural logarithm of
    the ratios red to green and blue to green. `radius2_a`, `radius2_b` (n,) are squared distances
    from the frames' centres, in half diagonals: what vignetting depends on. `one_sided` says that
    the samples are too dark or too bright in one frame, so that the difference is a lower bound.
    """

    exposure_ev: FloatArray
    tint: FloatArray
    radius2_a: FloatArray
    radius2_b: FloatArray
    one_sided: bool


def tone_picture(colour: Pixels, shrink: int) -> TonePicture:
    """Make a small picture (height, width, 3), RGB uint8, decoded at 1/`shrink`, ready."""
    linear = cv2.blur(linear_table()[colour], (_SAMPLE, _SAMPLE))
    kernel = np.ones((_SAMPLE, _SAMPLE), np.uint8)
    red, green, blue = cv2.split(colour)
    low, high = cv2.min(cv2.min(red, green), blue), cv2.max(cv2.max(red, green), blue)
    return TonePicture(
        linear.astype(np.float32),
        cv2.erode(low, kernel).astype(np.float32),
        cv2.dilate(high, kernel).astype(np.float32),
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
    if len(points) > _MOST_SAMPLES:
        keep = np.linspace(0, len(points) - 1, _MOST_SAMPLES).astype(int)
        points, in_b = points[keep], in_b[keep]
    good_a, good_b = _usable(a, points), _usable(b, in_b)
    use = good_a & good_b
    one_sided = use.sum() < 12 and (good_a ^ good_b).sum() > 3 * use.sum() + 12
    if one_sided:
        use = good_a | good_b
    points, in_b = points[use], in_b[use]
    floor = float(linear_table()[int(_DARK) // 2])
    light_a = np.maximum(_at(a.linear, points, a.shrink), floor)
    light_b = np.maximum(_at(b.linear, in_b, b.shrink), floor)
    ratio = np.log(light_b / light_a)
    weights = np.array(LUMINANCE)
    exposure = np.log2((light_b @ weights) / (light_a @ weights))
    tint = np.stack([ratio[:, 0] - ratio[:, 1], ratio[:, 2] - ratio[:, 1]], axis=1)
    return ToneDifference(exposure, tint, _radius2(a, points), _radius2(b, in_b), bool(one_sided))


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


def _usable(picture: TonePicture, points: FloatArray) -> NDArray[np.bool_]:
    darkest = _at(picture.darkest, points, picture.shrink)
    brightest = _at(picture.brightest, points, picture.shrink)
    usable: NDArray[np.bool_] = (darkest > _DARK) & (brightest < _BRIGHT)
    return usable


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
