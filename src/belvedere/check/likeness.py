"""How far each frame is just the same picture as the one before, place by place.

Two pictures of one cell are the same down to the noise wherever the scene stands still, and no
chance likeness is: windows repeat, but not the stains between them. A horizon lies on itself
however far it is moved along, so only detail across the main direction of a place counts, by the
structure tensor of W. Förstner and E. Gülch, 1987.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check.thresholds import HARD_DETAIL, SAME_DETAIL, SHOWN_DETAIL

Grey = NDArray[np.uint8]
FloatImage = NDArray[np.float32]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Side of a place, in pixels of the small picture halved.
_PLACE_PX = 6
#: Correlation of detail below which a place shows something else.
_OTHER = 0.4
#: A picture with less of its places showing anything is plain.
_PLAIN = 0.1
#: Columns and rows of the smooth brightness.
_SMOOTH = (48, 36)


@dataclass(frozen=True, slots=True)
class Likeness:
    """Each frame against the one before, by places.

    How many places show something (T,), how many of those are the same, both for hard places, and
    how many hard ones show something else; 0 where a frame is missing or damaged. `firm` (T,) is
    how many places of a frame itself are hard; clouds, haze and calm water have hardly any.
    `smooth` (T, rows, columns) is the logarithm of its brightness over its median, nan there.
    """

    shows: FloatArray
    same: FloatArray
    hard: FloatArray
    hard_same: FloatArray
    hard_other: FloatArray
    firm: FloatArray
    smooth: FloatImage

    def of_first(self, count: int) -> Likeness:
        """The same of the first `count` frames alone."""
        return Likeness(*(getattr(self, field.name)[:count] for field in fields(self)))


def likeness(pictures: Sequence[Grey | None], moved_px: FloatArray) -> Likeness:
    """Compare each small picture with the one before; None for one that is not to be used.

    `moved_px` (T, 2) is how far the whole content moved between the two, where that is as little as
    a tripod trembles; 0 elsewhere.
    """
    count = len(pictures)
    shape = next((_look(one).detail.shape for one in pictures if one is not None), (1, 1))
    shows, hard, same, other, firm = (np.zeros((count, *shape), dtype=bool) for _ in range(5))
    smooth = np.full((count, _SMOOTH[1], _SMOOTH[0]), np.nan, dtype=np.float32)
    before: _Look | None = None
    for t, picture in enumerate(pictures):
        look = None if picture is None else _look(picture)
        if picture is not None and look is not None:
            smooth[t], firm[t] = _smooth(picture), look.detail > HARD_DETAIL
        if look is not None and before is not None:
            shows[t], hard[t], same[t], other[t] = _compared(before, look)
            if np.any(moved_px[t]):
                trembled = _compared(_moved(before, moved_px[t]), look)
                if trembled[2].sum() > same[t].sum():
                    same[t], other[t] = trembled[2:]
        before = look
    kept = ~_dust(shows, same)
    return Likeness(
        shows=_count(shows & kept),
        same=_count(shows & same & kept),
        hard=_count(hard & kept),
        hard_same=_count(hard & same & kept),
        hard_other=_count(hard & other & kept),
        firm=_count(firm & kept),
        smooth=smooth,
    )


def _count(places: BoolArray) -> FloatArray:
    counted: FloatArray = places.sum(axis=(1, 2)).astype(np.float64)
    return counted


def _dust(shows: BoolArray, same: BoolArray) -> BoolArray:
    """Places that plain pictures all show something at: dust on the sensor."""
    plain = shows.mean(axis=(1, 2)) < _PLAIN
    usual, still = shows[plain].sum(axis=0), (shows & same)[plain].sum(axis=0)
    dust: BoolArray = (usual >= 3) & (2 * still > usual)
    return dust


@dataclass(frozen=True, slots=True)
class _Look:
    """A picture, its fine detail, and of each place the variance of that.

    `energy` is all of it, `detail` that across the main direction.
    """

    picture: FloatImage
    fine: FloatImage
    energy: FloatImage
    detail: FloatImage


def _look(small: Grey) -> _Look:
    half = cv2.resize(small, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    picture = half.astype(np.float32)
    fine = picture - cv2.GaussianBlur(picture, (0, 0), 2.0)
    x, y = cv2.Sobel(picture, cv2.CV_32F, 1, 0), cv2.Sobel(picture, cv2.CV_32F, 0, 1)
    xx, yy, xy = _places(x * x), _places(y * y), _places(x * y)
    middle, apart = (xx + yy) / 2.0, np.hypot((xx - yy) / 2.0, xy)
    energy = _places(fine * fine)
    return _Look(picture, fine, energy, energy * (1.0 - apart / np.maximum(middle, 1e-6)))


def _moved(look: _Look, moved_px: FloatArray) -> _Look:
    matrix = np.array([[1.0, 0.0, moved_px[0] / 2.0], [0.0, 1.0, moved_px[1] / 2.0]])
    picture, fine = _shifted(look.picture, matrix), _shifted(look.fine, matrix)
    return _Look(picture, fine, look.energy, look.detail)


def _shifted(values: FloatImage, matrix: FloatArray) -> FloatImage:
    high, wide = values.shape
    shifted = cv2.warpAffine(values, matrix, (wide, high), borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(shifted, dtype=np.float32)


def _places(values: FloatImage) -> FloatImage:
    high, wide = (size // _PLACE_PX for size in values.shape)
    inside = values[: high * _PLACE_PX, : wide * _PLACE_PX]
    means = cv2.resize(inside, (wide, high), interpolation=cv2.INTER_AREA)
    return np.asarray(means, dtype=np.float32)


def _compared(a: _Look, b: _Look) -> tuple[BoolArray, BoolArray, BoolArray, BoolArray]:
    """Which places show something, are hard, are the same, show something else."""
    gain = float(np.median((b.picture[::4, ::4] + 1.0) / (a.picture[::4, ::4] + 1.0)))
    apart = b.picture - gain * a.picture
    difference = _places(apart * apart) / 2.0
    detail = (b.detail + gain * gain * a.detail) / 2.0
    other = _places(a.fine * b.fine) < _OTHER * np.sqrt(a.energy * b.energy)
    return detail > SHOWN_DETAIL, detail > HARD_DETAIL, difference < SAME_DETAIL * detail, other


def _smooth(small: Grey) -> FloatImage:
    grid = cv2.resize(small.astype(np.float32), _SMOOTH, interpolation=cv2.INTER_AREA)
    grid = np.log(np.maximum(grid, 1.0))
    return np.asarray(cv2.blur(grid - np.median(grid), (2, 2)), dtype=np.float32)
