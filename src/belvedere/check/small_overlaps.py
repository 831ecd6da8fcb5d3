"""Overlaps in the small pictures: what two frames show of the same places, pixel beside pixel."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_pairs import PairEvidence
from belvedere.measure import Overlap
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
FloatImage = NDArray[np.float32]
Grey = NDArray[np.uint8]

#: Pixels that an overlap has at least each way; a border of the frames is left out.
_LEAST_PX, _BORDER_PX = 12, 2


@dataclass(frozen=True, slots=True)
class SmallOverlap:
    """What two frames, `a` and `b` by index, show of the same places.

    `in_a`, `in_b` (height, width) are encoded levels on the grid of a's small picture, whose
    pixel (`left`, `top`) comes first; `b_from_a` (3, 3) maps pixels of a's small picture to b's.
    `misfit_px` is how far registered patches lie off, px of the small picture; inf where they
    could not be registered, and the mapping is the one that was given.
    """

    a: int
    b: int
    in_a: FloatImage
    in_b: FloatImage
    left: int
    top: int
    b_from_a: FloatArray
    misfit_px: float

    def to_b(self, x: float, y: float) -> tuple[float, float]:
        """A pixel of this overlap (from its own corner) in b's small picture."""
        point = self.b_from_a @ np.array([x + self.left, y + self.top, 1.0])
        return float(point[0] / point[2]), float(point[1] / point[2])


def small_overlaps(
    frames: Sequence[Frame],
    overlaps: Sequence[Overlap],
    pairs: Sequence[PairEvidence],
    small: Mapping[str, Grey],
) -> Iterator[SmallOverlap]:
    """The measured overlaps, as the small pictures show them, one by one; the rest is left out."""
    seen = {(pair.a, pair.b): pair for pair in pairs}
    index = {frame.file: number for number, frame in enumerate(frames)}
    for overlap in overlaps:
        a, b = index.get(overlap.file_a, -1), index.get(overlap.file_b, -1)
        pair = seen.get((a, b))
        if pair is None:
            continue
        both = small.get(overlap.file_a), small.get(overlap.file_b)
        if both[0] is None or both[1] is None or not both[0].size or not both[1].size:
            continue
        one = _overlap(frames[a], pair, overlap, both[0], both[1])
        if one is not None:
            yield one


def _overlap(
    frame: Frame, pair: PairEvidence, overlap: Overlap, small_a: Grey, small_b: Grey
) -> SmallOverlap | None:
    shrink = frame.width_px / small_a.shape[1]
    full = overlap.b_from_a
    if pair.registered:
        full = _shifted(full, pair.shift_px, frame)
    half = (shrink - 1.0) / 2.0
    enlarge = np.array([[shrink, 0.0, half], [0.0, shrink, half], [0.0, 0.0, 1.0]])
    mapping = np.linalg.inv(enlarge) @ full @ enlarge
    box = _shared_box(mapping, small_a.shape, small_b.shape)
    if box is None:
        return None
    left, top, right, bottom = box
    moved = mapping @ np.array([[1.0, 0.0, left], [0.0, 1.0, top], [0.0, 0.0, 1.0]])
    in_b = cv2.warpPerspective(
        small_b.astype(np.float32),
        moved,
        (right - left, bottom - top),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return SmallOverlap(
        pair.a,
        pair.b,
        small_a[top:bottom, left:right].astype(np.float32),
        np.asarray(in_b, dtype=np.float32),
        left,
        top,
        mapping,
        pair.misfit_px / shrink if pair.registered else np.inf,
    )


def _shifted(b_from_a: FloatArray, shift_px: FloatArray, frame: Frame) -> FloatArray:
    """The mapping moved so that it agrees, in the middle of the overlap, with registration."""
    size = np.array([frame.width_px, frame.height_px], dtype=np.float64)
    middle = np.append(size / 2.0 + shift_px / 2.0, 1.0)
    there = b_from_a @ middle
    off = (middle[:2] - shift_px) - there[:2] / there[2]
    moved: FloatArray = np.array([[1.0, 0.0, off[0]], [0.0, 1.0, off[1]], [0.0, 0.0, 1.0]])
    return moved @ b_from_a


def _shared_box(
    mapping: FloatArray, shape_a: tuple[int, ...], shape_b: tuple[int, ...]
) -> tuple[int, int, int, int] | None:
    """The largest upright box of a's pixels that surely lies in b too: left, top, right, bottom."""
    back = np.linalg.inv(mapping)
    border = float(_BORDER_PX)
    corners = np.array(
        [
            [border, border, 1.0],
            [shape_b[1] - 1 - border, border, 1.0],
            [shape_b[1] - 1 - border, shape_b[0] - 1 - border, 1.0],
            [border, shape_b[0] - 1 - border, 1.0],
        ]
    )
    lifted = corners @ back.T
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = lifted[:, :2] / lifted[:, 2:]
    left = max(_BORDER_PX, int(np.ceil(max(x0, x3))))
    top = max(_BORDER_PX, int(np.ceil(max(y0, y1))))
    right = min(shape_a[1] - _BORDER_PX, int(np.floor(min(x1, x2))) + 1)
    bottom = min(shape_a[0] - _BORDER_PX, int(np.floor(min(y2, y3))) + 1)
    if right - left < _LEAST_PX or bottom - top < _LEAST_PX:
        return None
    return left, top, right, bottom
