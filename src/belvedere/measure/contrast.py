"""Where a small picture shows hard detail: houses, rocks and masts, not clouds, haze or waves."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
FloatImage = NDArray[np.float32]

#: Side of the squares that are said to have hard detail or not, px.
_SQUARE_PX = 8
#: Coarse enough that half a pixel of displacement does no harm, px.
_FINE_PX, _COARSE_PX = 1.5, 6.0


@dataclass(frozen=True, slots=True)
class HardDetail:
    """Detail (height, width) of a small picture and where it is hard, pixel by pixel."""

    detail: FloatImage
    hard: NDArray[np.bool_]


def hard_detail(grey: Grey, least_levels: float, shrink: int = 1) -> HardDetail:
    """What a small picture, shrunk by a whole number, shows between 1.5 and 6 px.

    A square of 8 px is hard where the standard deviation of its finer detail (0.8 to 4 px) is
    `least_levels` (of 255) or more.
    """
    picture = grey.astype(np.float32)
    if min(grey.shape) < shrink:
        return HardDetail(picture, picture > 0.0)
    height, width = (size // shrink for size in grey.shape)
    picture = np.asarray(cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA))
    rows, columns = -(-height // _SQUARE_PX), -(-width // _SQUARE_PX)
    power = np.square(_between(picture, 0.8, 4.0))
    squares = cv2.resize(power, (columns, rows), interpolation=cv2.INTER_AREA)
    hard = cv2.resize(
        (np.asarray(squares) >= least_levels**2).astype(np.uint8),
        (width, height),
        interpolation=cv2.INTER_NEAREST,
    )
    return HardDetail(_between(picture, _FINE_PX, _COARSE_PX), np.asarray(hard) > 0)


def _between(picture: FloatImage, fine_px: float, coarse_px: float) -> FloatImage:
    fine = cv2.GaussianBlur(picture, (0, 0), fine_px)
    return np.asarray(cv2.subtract(fine, cv2.GaussianBlur(picture, (0, 0), coarse_px)))


def hard_overlap(
    a: HardDetail,
    b: HardDetail,
    dx_px: float,
    dy_px: float,
    within: tuple[slice, slice] | None = None,
) -> tuple[float, float]:
    """Share of an overlap that is hard, the lesser of both pictures, and whether both agree there.

    What is at (x, y) in `a` is expected at (x + dx, y + dy) in `b`. The second number is the
    correlation of the detail wherever it is hard in one of them, -1 to 1; 0 where nothing is.
    `within` are rows and columns of `a` to which the overlap is limited.
    """
    if a.detail.shape != b.detail.shape:
        return 0.0, 0.0
    here = shared_part(a.detail.shape, dx_px, dy_px)
    if within is not None:
        here = _both(here[0], within[0]), _both(here[1], within[1])
    there = _moved(here[0], round(dy_px)), _moved(here[1], round(dx_px))
    hard_a, hard_b = a.hard[here], b.hard[there]
    if not hard_a.size:
        return 0.0, 0.0
    share = float(min(hard_a.mean(), hard_b.mean()))
    where = hard_a | hard_b
    one, other = a.detail[here][where], b.detail[there][where]
    energy = float(np.sqrt((one @ one) * (other @ other)))
    return share, float(one @ other) / energy if energy > 0.0 else 0.0


def shared_part(shape: tuple[int, ...], dx_px: float, dy_px: float) -> tuple[slice, slice]:
    """Rows and columns of a picture (height, width) that one of its size, displaced, shows too."""
    height, width = shape
    return _common(height, round(dy_px)), _common(width, round(dx_px))


def _common(size: int, moved: int) -> slice:
    """The pixels along one side that both frames show, seen in the first."""
    return slice(max(0, -moved), max(0, min(size, size - moved)))


def _both(one: slice, other: slice) -> slice:
    start = max(one.start, other.start)
    return slice(start, max(start, min(one.stop, other.stop)))


def _moved(part: slice, by: int) -> slice:
    return slice(part.start + by, part.stop + by)
