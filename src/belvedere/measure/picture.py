"""One frame made ready for measuring: its grey pixels, a small copy, and where it has texture."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.measure.source import Pixels

FloatImage = NDArray[np.float32]

#: The small copy's longer side is near this: enough for a coarse registration.
_SMALL_SIDE_PX = 1000
#: One value of the texture map covers so many pixels of the small copy, each way.
_TEXTURE_CELL = 8


@dataclass(frozen=True, slots=True)
class Picture:
    """A frame's luma at full size and what follows from it.

    `small` is `grey` shrunk by `shrink` (1 for small frames). `texture` holds the variance of
    the small copy in a band of coarse detail, one value for each `texture_step_px` pixels of the
    full frame: strong where there is something to see, even in an unsharp frame.
    """

    grey: Pixels
    small: FloatImage
    shrink: int
    texture: FloatImage
    texture_step_px: int

    @property
    def width_px(self) -> int:
        """Width of the full frame."""
        return int(self.grey.shape[1])

    @property
    def height_px(self) -> int:
        """Height of the full frame."""
        return int(self.grey.shape[0])


def picture_of(grey: Pixels) -> Picture:
    """Make a frame's luma (height, width), uint8, ready for measuring."""
    longer = max(grey.shape)
    shrink = 1
    while longer / (2 * shrink) >= _SMALL_SIDE_PX:
        shrink *= 2
    small = _shrunk(grey, shrink).astype(np.float32)
    band = cv2.GaussianBlur(small, (0, 0), 1.2) - cv2.GaussianBlur(small, (0, 0), 3.0)
    height, width = (max(1, size // _TEXTURE_CELL) for size in small.shape)
    energy = np.square(band)[: height * _TEXTURE_CELL, : width * _TEXTURE_CELL]
    texture = cv2.resize(energy, (width, height), interpolation=cv2.INTER_AREA)
    return Picture(grey, small, shrink, texture.astype(np.float32), shrink * _TEXTURE_CELL)


def _shrunk(grey: Pixels, shrink: int) -> Pixels:
    if shrink == 1:
        return grey
    size = (grey.shape[1] // shrink, grey.shape[0] // shrink)
    whole = grey[: size[1] * shrink, : size[0] * shrink]
    return cv2.resize(whole, size, interpolation=cv2.INTER_AREA).astype(np.uint8, copy=False)
