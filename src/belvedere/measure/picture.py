"""One frame made ready for measuring: its grey pixels, a small copy, and where it has texture."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from belvedere.measure.patches import FloatArray, FloatImage, cut
from belvedere.measure.source import Pixels

#: The small copy's longer side is near this: enough for a coarse registration.
_SMALL_SIDE_PX = 1000
#: One value of the texture map covers so many pixels of the halved small copy, each way.
_TEXTURE_CELL = 4
#: The band of coarse detail lies between these blurs of the halved small copy, px: halving itself
#: blurs by 0.3 px.
_FINE_PX, _COARSE_PX = 0.5, 1.5
_FINE_SIZE, _COARSE_SIZE = (5, 5), (9, 9)


@dataclass(frozen=True, slots=True)
class Picture:
    """A frame's luma at full size and what follows from it.

    `grey` may be a window of the frame: all of it that neighbours still to come will show again.
    `corner_px` (left, top) is where it lies in the frame of `width_px` × `height_px`. `small` is
    the whole frame shrunk by `shrink` (1 for small frames). `texture` holds the variance of the
    small copy in a band of coarse detail, one value for each `texture_step_px` pixels of the full
    frame: strong where there is something to see, even in an unsharp frame.
    """

    grey: Pixels
    small: Pixels
    shrink: int
    texture: FloatImage
    texture_step_px: int
    width_px: int
    height_px: int
    corner_px: tuple[int, int] = (0, 0)

    def cut(self, centres: FloatArray) -> FloatImage:
        """Patches (n, PATCH_PX, PATCH_PX) around whole-pixel centres (n, 2) of the frame."""
        return cut(self.grey, centres - np.array(self.corner_px, dtype=np.float64))

    def window(self, left: int, top: int, right: int, bottom: int) -> Picture:
        """The same frame with only this part of its pixels (of the frame), and no others kept."""
        x, y = self.corner_px
        left, top = max(left, x), max(top, y)
        part = self.grey[top - y : max(top, bottom) - y, left - x : max(left, right) - x]
        return replace(self, grey=part.copy(), corner_px=(left, top))


def picture_of(grey: Pixels, half: Pixels | None = None) -> Picture:
    """Make a frame's luma (height, width), uint8, ready for measuring.

    `half` is the frame shrunk by 2, where it is there already.
    """
    longer = max(grey.shape)
    small, shrink = grey, 1
    while longer / (2 * shrink) >= _SMALL_SIDE_PX:
        small = half if shrink == 1 and half is not None else halved(small)
        shrink *= 2
    level = halved(small).astype(np.float32)
    fine = cv2.GaussianBlur(level, _FINE_SIZE, _FINE_PX)
    band = cv2.subtract(fine, cv2.GaussianBlur(level, _COARSE_SIZE, _COARSE_PX))
    height, width = (max(1, size // _TEXTURE_CELL) for size in level.shape)
    energy = cv2.multiply(band, band)[: height * _TEXTURE_CELL, : width * _TEXTURE_CELL]
    texture = cv2.resize(energy, (width, height), interpolation=cv2.INTER_AREA)
    return Picture(
        grey,
        small,
        shrink,
        np.asarray(texture, dtype=np.float32),
        2 * shrink * _TEXTURE_CELL,
        int(grey.shape[1]),
        int(grey.shape[0]),
    )


def halved(picture: Pixels) -> Pixels:
    """A picture (height, width) or (height, width, 3) shrunk by 2, an odd last line left out.

    By steps of two the library's quick path is taken: five times as fast as one large step.
    """
    height, width = picture.shape[0] // 2, picture.shape[1] // 2
    whole = picture[: 2 * height, : 2 * width]
    half = cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(half, dtype=np.uint8)
