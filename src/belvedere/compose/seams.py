"""The label map: which frame is in charge where, on a small picture of the whole mosaic.

Frames are laid down one after the other. Where a new one meets what lies there already, the
deeper inside its frame a pixel is, the better its claim (least lens error, most to blend with);
about half way the minimum cut decides, so that seams go where the two pictures agree: round what
moved between two exposures, and along what fits badly rather than across it.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from belvedere.compose.blend import Frames, Placed, Placements, covers, warp
from belvedere.compose.cut import cut
from belvedere.compose.light import STEPS_PER_LEVEL
from belvedere.compose.model import Layout, Window
from belvedere.compose.outlines import Labels, Outlines
from belvedere.foundation import Progress, Steps

Values = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: Where the two depths differ by more than this the deeper frame has the pixel, come what may.
_UNDECIDED = 0.5
#: What a whole step of depth is worth, in grey levels per pixel of the map.
_DEPTH_WORTH = 0.3
#: Frames closer to their edge than this are kept away from seams, if anything else can be had.
_SHALLOW = 0.1
_SHALLOW_COST = 20.0
#: A doubtful frame counts as so much nearer to its edge, everywhere.
_DOUBTFUL_WORTH = 0.15


@dataclass(frozen=True, slots=True)
class _Laid:
    """What lies on the table: labels (-1: nothing), depth and picture at the map's level."""

    labels: Labels
    depth: Values
    picture: Values


def find_outlines(
    layout: Layout,
    placements: Placements,
    frames: Frames,
    level: int,
    doubtful: Set[int] = frozenset(),
) -> Steps[Outlines]:
    """Label every pixel of the map at `level`; `doubtful` frames give way to the others."""
    width, height = layout.size_at(level)
    whole = Window(0, 0, width, height)
    laid = _Laid(
        np.full((height, width), -1, np.int32),
        np.zeros((height, width), np.float32),
        np.zeros((height, width, 3), np.float32),
    )
    order = sorted(placements.placed, key=lambda p: (p.footprint.left, p.footprint.top))
    for done, placed in enumerate(order):
        yield Progress("find the seams", done, len(order), "frames")
        part = placed.at(level).within(whole)
        if not part.empty:
            worth = _DOUBTFUL_WORTH if placed.number in doubtful else 1.0
            _lay(laid, part, placed, frames, level, worth)
    yield Progress("find the seams", len(order), len(order), "frames")
    return Outlines(_spread(laid.labels), level, layout.full_turn)


def _lay(
    laid: _Laid, part: Window, placed: Placed, frames: Frames, level: int, worth: float
) -> None:
    """Lay one frame on what is there; `worth` scales its depth."""
    x, y = placed.mapping.over(level, part)
    covering = covers(placed.mapping, level, x, y)
    if not covering.any():
        return
    here = np.s_[part.top : part.bottom, part.left : part.right]
    depth = edge_depth(frames, level, x, y) * np.float32(worth)
    picture = warp(frames, placed.number, level, x, y) / np.float32(STEPS_PER_LEVEL)
    both = covering & (laid.labels[here] >= 0)
    deeper = depth - laid.depth[here]
    undecided = both & (np.abs(deeper) <= _UNDECIDED)
    certain = covering & (~both | (deeper > 0.0))
    mine = cut(
        undecided,
        certain,
        parting_cost(laid.picture[here], picture, both),
        _DEPTH_WORTH * deeper + _shallow(depth, laid.depth[here]),
    )
    laid.labels[here][mine] = placed.number
    laid.depth[here][mine] = depth[mine]
    laid.picture[here][mine] = picture[mine]


def _shallow(new: Values, old: Values) -> Values:
    """Positive where the old frame ends soon, negative where the new one does."""
    cost = _SHALLOW_COST * (
        np.maximum(0.0, 1.0 - old / _SHALLOW) ** 2 - np.maximum(0.0, 1.0 - new / _SHALLOW) ** 2
    )
    return np.asarray(cost, np.float32)


def parting_cost(old: Values, new: Values, both: Mask) -> Values:
    """Half the cost of a seam beside each pixel, in grey levels: (height, width).

    `old` and `new` (height, width, 3) count where `both` are there. What differs in detail counts
    in full, an even difference in brightness little: the blend takes care of that. Strong
    differences count by their square: better a long way round a moving subject than through it.
    """
    difference = np.where(both[..., None], new - old, np.float32(0.0))
    share = cv2.GaussianBlur(both.astype(np.float32), (0, 0), 6.0)
    even = cv2.GaussianBlur(difference, (0, 0), 6.0) / np.maximum(share, 1e-3)[..., None]
    detail = np.abs(difference - even).max(axis=-1)
    plain = np.abs(difference).max(axis=-1)
    texture = np.minimum(_steepness(old), _steepness(new))
    differs = cv2.GaussianBlur(detail + 0.3 * plain, (0, 0), 0.8)
    cost = 0.5 + differs + differs * differs / 16.0 + 0.1 * texture
    return np.asarray(cost, np.float32)


def _steepness(picture: Values) -> Values:
    grey = picture.mean(axis=-1)
    across = cv2.Sobel(grey, cv2.CV_32F, 1, 0, scale=0.125)
    down = cv2.Sobel(grey, cv2.CV_32F, 0, 1, scale=0.125)
    return np.asarray(cv2.magnitude(across, down), np.float32)


def edge_depth(frames: Frames, level: int, x: Values, y: Values) -> Values:
    """How deep inside the frame: 0 at its edge, 1 at half its short side; (height, width)."""
    width, height = frames.size(level)
    across = np.minimum(x + 0.5, width - 0.5 - x)
    down = np.minimum(y + 0.5, height - 0.5 - y)
    depth = np.minimum(across, down) * np.float32(2.0 / min(width, height))
    return np.asarray(np.maximum(depth, 0.0), np.float32)


def _spread(labels: Labels) -> Labels:
    """Give every pixel without a frame the label of the nearest that has one."""
    bare = labels < 0
    if not bare.any() or bare.all():
        return np.maximum(labels, 0)
    nearest = ndimage.distance_transform_edt(bare, return_distances=False, return_indices=True)
    spread: Labels = labels[tuple(nearest)]
    return spread
