"""Where two overlapping frames are best compared by eye: the same place in both, at 100 %."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.measure import Picture, phase_shift, picture_of, register

FloatArray = NDArray[np.float64]
Pixels = NDArray[np.uint8]
#: Pixels of one frame (n, 2) to those of another.
Where = Callable[[FloatArray], FloatArray]

#: Crops with a side shorter than this show too little.
_LEAST_PX = 48
#: Below this height of the correlation's peak the place is left where it was expected.
_FAITH = 0.08
_ROUNDS = 2


@dataclass(frozen=True, slots=True)
class Crops:
    """The same place cut out of two frames, each pixel as it is: (height, width, 3).

    `corner` and `there` are the upper left pixels (x, y); `aligned` says that the two
    were laid on each other by what they show, and not by the expected place alone.
    """

    mine: Pixels
    neighbour: Pixels
    corner: tuple[int, int]
    there: tuple[int, int]
    aligned: bool


@dataclass(frozen=True, slots=True)
class LaidOn:
    """A frame registered on its neighbour: `where` its pixels are seen there.

    `steady` (n, 2) are places of the frame that follow it; near things and moving ones do not.
    """

    where: Where
    steady: FloatArray


def laid_on(mine: Pixels, neighbour: Pixels, neighbour_from_mine: FloatArray) -> LaidOn | None:
    """Register a frame on its neighbour; None where they do not agree.

    `neighbour_from_mine` (3, 3) is the homography to begin with.
    """
    found = register(_picture(mine), _picture(neighbour), neighbour_from_mine)
    return LaidOn(found.mapping, found.centres_a[found.steady]) if found.registered else None


def by_homography(homography: FloatArray) -> Where:
    """A homography (3, 3) as a function of pixels."""

    def there(points: FloatArray) -> FloatArray:
        lifted = np.concatenate([points, np.ones((len(points), 1))], axis=1) @ homography.T
        mapped: FloatArray = lifted[:, :2] / lifted[:, 2:]
        return mapped

    return there


def _picture(frame: Pixels) -> Picture:
    return picture_of(np.asarray(cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY), dtype=np.uint8))


def telling_crops(
    mine: Pixels,
    neighbour: Pixels,
    neighbour_from_mine: Where,
    most_px: tuple[int, int],
    steady: FloatArray | None = None,
) -> Crops | None:
    """The most textured place that both frames show.

    Parameters
    ----------
    mine, neighbour
        Whole frames (height, width, 3) RGB.
    neighbour_from_mine
        Where pixels of `mine` are seen in `neighbour`, good to some tens of pixels.
    most_px
        Width and height of the crops, at most.
    steady
        Places (n, 2) of `mine` to choose from; everywhere where it is None.

    Returns
    -------
    Crops | None
        None where less than a small square is shared.
    """
    offset = _offset_at(neighbour_from_mine, _middle(mine, neighbour, neighbour_from_mine))
    left, top, right, bottom = _shared(mine, neighbour, offset)
    width, height = min(most_px[0], right - left), min(most_px[1], bottom - top)
    if min(width, height) < _LEAST_PX:
        return None
    texture = np.maximum(
        _texture(mine[top:bottom, left:right]),
        _texture(_at(neighbour, left + offset[0], top + offset[1], right - left, bottom - top)),
    )
    x, y = _fullest(texture, width, height, None if steady is None else steady - [left, top])
    x, y, aligned = x + left, y + top, False
    offset = _offset_at(neighbour_from_mine, np.array([x + width / 2.0, y + height / 2.0]))
    for _ in range(_ROUNDS):
        x, y = _inside(x, y, width, height, _shared(mine, neighbour, offset))
        other = _at(neighbour, x + offset[0], y + offset[1], width, height)
        shift = phase_shift(_grey(mine[y : y + height, x : x + width]), _grey(other))
        step = np.array([shift.dx_px, shift.dy_px])
        if shift.response < _FAITH or abs(step).max() > min(width, height) / 3.0:
            break
        aligned, offset = True, offset + np.round(step).astype(int)
    shared = _shared(mine, neighbour, offset)
    width, height = min(width, shared[2] - shared[0]), min(height, shared[3] - shared[1])
    x, y = _inside(x, y, width, height, shared)
    there = int(x + offset[0]), int(y + offset[1])
    return Crops(
        mine[y : y + height, x : x + width],
        _at(neighbour, *there, width, height),
        (x, y),
        there,
        aligned,
    )


def _offset_at(where: Where, point: FloatArray) -> NDArray[np.int64]:
    offset: NDArray[np.int64] = np.round(where(point[None])[0] - point).astype(np.int64)
    return offset


def _middle(mine: Pixels, neighbour: Pixels, where: Where) -> FloatArray:
    """The middle of what both show."""
    height, width = mine.shape[:2]
    centre = np.array([width / 2.0, height / 2.0])
    left, top, right, bottom = _shared(mine, neighbour, _offset_at(where, centre))
    return np.array([(left + right) / 2.0, (top + bottom) / 2.0])


def _shared(
    mine: Pixels, neighbour: Pixels, offset: NDArray[np.int64]
) -> tuple[int, int, int, int]:
    """Left, top, right and bottom in `mine` of what the neighbour shows as well."""
    height, width = mine.shape[:2]
    other_height, other_width = neighbour.shape[:2]
    dx, dy = int(offset[0]), int(offset[1])
    return max(0, -dx), max(0, -dy), min(width, other_width - dx), min(height, other_height - dy)


def _inside(
    x: int, y: int, width: int, height: int, shared: tuple[int, int, int, int]
) -> tuple[int, int]:
    left, top, right, bottom = shared
    return max(left, min(x, right - width)), max(top, min(y, bottom - height))


def _at(picture: Pixels, x: int, y: int, width: int, height: int) -> Pixels:
    """A window of a picture; what lies outside is white."""
    window = np.full((height, width, 3), 255, dtype=np.uint8)
    x, y = int(x), int(y)
    left, top = max(0, x), max(0, y)
    right, bottom = min(picture.shape[1], x + width), min(picture.shape[0], y + height)
    if right > left and bottom > top:
        window[top - y : bottom - y, left - x : right - x] = picture[top:bottom, left:right]
    return window


def _grey(picture: Pixels) -> NDArray[np.float32]:
    return cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.float32)


def _texture(picture: Pixels) -> NDArray[np.float32]:
    """How much fine detail there is around each pixel; noise and blown-out edges count little."""
    smooth = cv2.GaussianBlur(_grey(picture), (0, 0), 1.0)
    return np.minimum(np.abs(cv2.Laplacian(smooth, cv2.CV_32F)), 40.0)


def _fullest(
    texture: NDArray[np.float32], width: int, height: int, centres: FloatArray | None
) -> tuple[int, int]:
    """Upper left corner of the window with the most texture, around one of `centres` if given."""
    total = cv2.integral(texture)
    sums = (
        total[height:, width:] - total[:-height, width:] - total[height:, :-width]
        + total[:-height, :-width]
    )  # fmt: skip
    if centres is not None and len(centres):
        corners = np.round(centres - [width / 2.0, height / 2.0]).astype(int)
        corners = np.clip(corners, 0, np.array(sums.shape)[::-1] - 1)
        best = corners[int(sums[corners[:, 1], corners[:, 0]].argmax())]
        return int(best[0]), int(best[1])
    row, column = np.unravel_index(int(sums.argmax()), sums.shape)
    return int(column), int(row)
