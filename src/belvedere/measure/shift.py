"""How far one picture is moved against another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

FloatImage = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Shift:
    """`b` shows at (x, y) what `a` shows at (x - dx_px, y - dy_px).

    `response` is the share of the correlation's energy in its peak, 0 to 1: about 0.03 and less
    is noise.
    """

    dx_px: float
    dy_px: float
    response: float


def phase_shift(a: FloatImage, b: FloatImage) -> Shift:
    """Shift between two equally large grey pictures by phase correlation.

    Kuglin and Hines, "The phase correlation image alignment method", 1975. The pictures are cut
    to even sizes: OpenCV's peak is half a pixel off where the transform's size is odd.

    Parameters
    ----------
    a, b
        (height, width) float32, same shape, any grey scale.
    """
    height, width = (size - size % 2 for size in a.shape)
    height, width = _fast_even(height), _fast_even(width)
    a, b = a[:height, :width], b[:height, :width]
    window = _hann(width, height)
    (dx, dy), response = cv2.phaseCorrelate(
        np.ascontiguousarray(a - a.mean()), np.ascontiguousarray(b - b.mean()), window
    )
    return Shift(float(dx), float(dy), float(response))


@lru_cache(16)
def _hann(width: int, height: int) -> FloatImage:
    return np.asarray(cv2.createHanningWindow((width, height), cv2.CV_32F), dtype=np.float32)


def _fast_even(size: int) -> int:
    """The largest even size up to `size` that the transform takes without padding."""
    while size > 2 and (size % 2 or cv2.getOptimalDFTSize(size) != size):
        size -= 1
    return size
