"""The label map: which frame is in charge where, on a small picture of the whole mosaic."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from belvedere.compose.blend import Frames, Placements, covers
from belvedere.compose.model import Layout, Window
from belvedere.compose.outlines import Labels, Outlines
from belvedere.foundation import Progress, Steps

Depth = NDArray[np.float32]


def find_outlines(
    layout: Layout, placements: Placements, frames: Frames, level: int
) -> Steps[Outlines]:
    """Label every pixel of `level`."""
    width, height = layout.size_at(level)
    whole = Window(0, 0, width, height)
    labels = np.full((height, width), -1, np.int32)
    best = np.zeros((height, width), np.float32)
    for place, placed in enumerate(placements.placed):
        yield Progress("find the seams", place, len(placements.placed), "frames")
        part = placed.at(level).within(whole)
        if part.empty:
            continue
        x, y = placed.mapping.over(level, part)
        here = np.s_[part.top : part.bottom, part.left : part.right]
        depth = np.where(covers(placed.mapping, level, x, y), edge_depth(frames, level, x, y), 0)
        wins = depth > best[here]
        best[here][wins] = depth[wins]
        labels[here][wins] = placed.number
    yield Progress("find the seams", len(placements.placed), len(placements.placed), "frames")
    return Outlines(_spread(labels), level, layout.full_turn)


def edge_depth(frames: Frames, level: int, x: Depth, y: Depth) -> Depth:
    """How deep inside the frame: 0 at its edge, 1 at half its short side; (height, width)."""
    width, height = frames.size(level)
    across = np.minimum(x + 0.5, width - 0.5 - x)
    down = np.minimum(y + 0.5, height - 0.5 - y)
    depth: Depth = np.maximum(np.minimum(across, down) * np.float32(2.0 / min(width, height)), 1e-4)
    return depth.astype(np.float32)


def _spread(labels: Labels) -> Labels:
    """Give every pixel without a frame the label of the nearest that has one."""
    bare = labels < 0
    if not bare.any() or bare.all():
        return np.maximum(labels, 0)
    nearest = ndimage.distance_transform_edt(bare, return_distances=False, return_indices=True)
    spread: Labels = labels[tuple(nearest)]
    return spread
