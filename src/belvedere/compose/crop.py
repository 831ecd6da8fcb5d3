"""The largest rectangle of the mosaic that frames cover without a gap."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from belvedere.compose.blend import Placements, covers
from belvedere.compose.model import Layout, Window

Mask = NDArray[np.bool_]

#: The search runs on a picture of the mosaic about this large.
_SEARCH_PX = 400_000


def covered_window(layout: Layout, placements: Placements) -> Window:
    """The largest window of level 0 that is covered everywhere; the whole where nothing is.

    Found on a small picture of the mosaic and drawn in by one of its pixels, so it may be a
    little smaller than the very largest.
    """
    level = 0
    while np.prod(layout.size_at(level), dtype=np.int64) > _SEARCH_PX:
        level += 1
    covered = coverage(layout, placements, level)
    inner = np.asarray(
        ndimage.binary_erosion(covered, np.ones((3, 3), np.bool_), border_value=1), np.bool_
    )
    if layout.full_turn:
        whole_rows = np.all(inner, axis=1, keepdims=True)
        inner = np.broadcast_to(whole_rows, inner.shape)
    found = largest_rectangle(inner)
    whole = Window(0, 0, layout.width_px, layout.height_px)
    if found.empty:
        return whole
    return Window(
        found.left << level, found.top << level, found.right << level, found.bottom << level
    ).within(whole)


def coverage(layout: Layout, placements: Placements, level: int) -> Mask:
    """Where some frame covers the mosaic: (height, width) of `level`."""
    width, height = layout.size_at(level)
    whole = Window(0, 0, width, height)
    covered = np.zeros((height, width), np.bool_)
    for placed in placements.placed:
        part = placed.at(level).within(whole)
        if not part.empty:
            x, y = placed.mapping.over(level, part)
            covered[part.top : part.bottom, part.left : part.right] |= covers(
                placed.mapping, level, x, y
            )
    return covered


def largest_rectangle(mask: Mask) -> Window:
    """The largest rectangle of true pixels: row by row, the largest under a histogram."""
    best, found = 0, Window(0, 0, 0, 0)
    heights = np.zeros(mask.shape[1] + 1, np.int64)
    for row in range(mask.shape[0]):
        heights[:-1] = np.where(mask[row], heights[:-1] + 1, 0)
        open_: list[tuple[int, int]] = []
        for column, height in enumerate(heights.tolist()):
            start = column
            while open_ and open_[-1][1] > height:
                start, tall = open_.pop()
                if tall * (column - start) > best:
                    best = tall * (column - start)
                    found = Window(start, row + 1 - tall, column, row + 1)
            if height and (not open_ or open_[-1][1] < height):
                open_.append((start, height))
    return found
