"""Something that moved: it is in one frame of an overlap and elsewhere, or gone, in the other.

Water and foliage change everywhere and seams hide it; a boat that stands out of still surroundings
is cut in half by a seam. Nobody's fault, so it is a remark, with where to look.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check.model import Finding
from belvedere.check.small_overlaps import SmallOverlap
from belvedere.check.thresholds import (
    CHANGED_LEVELS,
    MOVED_AREA,
    MOVED_EDGE,
    MOVED_ELSEWHERE,
    MOVED_LEVELS,
    MOVED_MISFIT_PX,
    MOVED_TIMES,
)
from belvedere.shoot import Frame

FloatImage = NDArray[np.float32]
Box = tuple[float, float, float, float]
BoolImage = NDArray[np.bool_]

#: Levels between which a difference means something; a subject's parts this near are one, px.
_DARK, _BRIGHT, _JOINED_PX = 12.0, 240.0, 5
#: A subject is at least so thick, px: what is thinner is an edge a little out of place.
_THICK_PX = 3
#: Of a subject's surroundings the rows beside it tell most: water and grass lie in bands. They
#: reach so many px at least above and below.
_BAND_PX = 10
#: Change (levels) that surroundings are taken to have at least.
_STILL_LEVELS = 5.0
#: Surroundings are looked for so far from their place, px, with so much around the subject.
_REACH_PX, _CONTEXT_PX = 5, 6
_NAMED = 3


@dataclass(frozen=True, slots=True)
class Moved:
    """A place that two frames, by index, show differently.

    `box_a`, `box_b` are left, top, right, bottom as shares of each frame's width and height.
    """

    a: int
    b: int
    box_a: Box
    box_b: Box


def judge_subjects(
    frames: Sequence[Frame], moved: Sequence[Moved], cells: Mapping[str, tuple[int, int]]
) -> list[Finding]:
    """A remark for each subject, with each frame that has it or lacks it; the words are the same.

    `moved` are the places of all overlaps; those between two frames of one cell do not count, as
    only one of the two is used.
    """

    def of_two_cells(one: Moved) -> bool:
        cell = cells.get(frames[one.a].file)
        return cell is None or cell != cells.get(frames[one.b].file)

    subjects = _same_subjects([one for one in moved if of_two_cells(one)])
    return [finding for subject in subjects for finding in _remarks(frames, subject, cells)]


def moved_in(
    overlap: SmallOverlap, shape_a: tuple[int, int], shape_b: tuple[int, int]
) -> list[Moved]:
    """Subjects that moved within one overlap."""
    if overlap.misfit_px > MOVED_MISFIT_PX:
        return []
    even = _evened(overlap)
    if even is None:
        return []
    change = _change(overlap.in_a, even)
    changed = change > CHANGED_LEVELS
    if not changed.any():
        return []
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_JOINED_PX, _JOINED_PX))
    joined = cv2.morphologyEx(changed.astype(np.uint8), cv2.MORPH_CLOSE, kernel)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined)
    steep = np.maximum(_slope(overlap.in_a), _slope(even))
    found = []
    for label in range(1, count):
        left, top, width, height, area = (int(value) for value in stats[label])
        corners = (left, top, left + width, top + height)
        if area < MOVED_AREA * shape_a[0] * shape_a[1]:
            continue
        if not _stands_out(change, labels == label, steep, corners):
            continue
        if _out_of_place(overlap.in_a, even, corners):
            continue
        found.append(
            Moved(
                overlap.a,
                overlap.b,
                _box_in_a(overlap, corners, shape_a),
                _box_in_b(overlap, corners, shape_b),
            )
        )
    return found


def _evened(overlap: SmallOverlap) -> FloatImage | None:
    """B's levels made as bright as a's, a plane of exposure, vignetting and shade taken out."""
    a, b = overlap.in_a, overlap.in_b
    usable = (np.minimum(a, b) > _DARK) & (np.maximum(a, b) < _BRIGHT)
    if usable.mean() < 0.05:
        return None
    even = b * np.float32(np.median(a[usable] / b[usable]))
    evened: FloatImage = even * _slow_ratio(a, even, usable)
    return evened


def _change(a: FloatImage, b: FloatImage) -> FloatImage:
    """How far (levels) each pixel is beyond all levels next to it in the other, both ways.

    A pixel's play in place is thus allowed for.
    """
    near = np.ones((3, 3), dtype=np.uint8)
    above = np.maximum(a - cv2.dilate(b, near), cv2.erode(b, near) - a)
    below = np.maximum(b - cv2.dilate(a, near), cv2.erode(a, near) - b)
    change: FloatImage = np.maximum(np.minimum(above, below), np.float32(0.0))
    return change


def _slope(picture: FloatImage) -> FloatImage:
    """Steepness, levels for each px, by Sobel's operator."""
    x, y = (cv2.Sobel(picture, cv2.CV_32F, *order, scale=1.0 / 8.0) for order in ((1, 0), (0, 1)))
    return np.asarray(cv2.magnitude(x, y), dtype=np.float32)


def _stands_out(
    change: FloatImage, subject: BoolImage, steep: FloatImage, corners: tuple[int, int, int, int]
) -> bool:
    """Whether a place is thick, strongly changed, sharply bounded and unlike its surroundings."""
    core = subject & (change > CHANGED_LEVELS)
    thick = cv2.erode(core.astype(np.uint8), np.ones((_THICK_PX, _THICK_PX), np.uint8))
    strength = float(change[core].mean())
    if not thick.any() or strength < MOVED_LEVELS:
        return False
    edge = cv2.morphologyEx(subject.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    if float(np.percentile(steep[edge > 0], 75)) < MOVED_EDGE:
        return False
    _, top, _, bottom = corners
    reach = max(_BAND_PX, bottom - top)
    band = slice(max(0, top - reach), bottom + reach)
    others = change[band][~subject[band]]
    if not others.size:
        return False
    return strength > MOVED_TIMES * max(_STILL_LEVELS, float(np.percentile(others, 95)))


def _out_of_place(a: FloatImage, b: FloatImage, corners: tuple[int, int, int, int]) -> bool:
    """Whether the subject with its surroundings is found a little further on in the other frame.

    Then nothing changed: the overlap is out of place there, since clouds drew it along, or since
    near things shift.
    """
    left, top, right, bottom = corners
    height, width = a.shape
    window = (
        slice(max(0, top - _CONTEXT_PX), min(height, bottom + _CONTEXT_PX)),
        slice(max(0, left - _CONTEXT_PX), min(width, right + _CONTEXT_PX)),
    )
    patch = a[window]
    padded = cv2.copyMakeBorder(b, _REACH_PX, _REACH_PX, _REACH_PX, _REACH_PX, cv2.BORDER_REPLICATE)
    search = padded[
        window[0].start : window[0].stop + 2 * _REACH_PX,
        window[1].start : window[1].stop + 2 * _REACH_PX,
    ]
    match = cv2.matchTemplate(search, patch, cv2.TM_CCOEFF_NORMED)
    return bool(match.max() > MOVED_ELSEWHERE)


def _slow_ratio(a: FloatImage, b: FloatImage, usable: BoolImage) -> FloatImage:
    """A to b as a plane in the picture's coordinates, by reweighted least squares."""
    height, width = a.shape
    y, x = np.nonzero(usable)
    step = max(1, len(y) // 1500)
    y, x = y[::step], x[::step]
    terms = np.stack([np.ones(len(y)), x / width, y / height], axis=1)
    ratio = np.log(a[y, x] / b[y, x]).astype(np.float64)
    weight: NDArray[np.float64] = np.ones(len(y))
    plane = np.zeros(3)
    for _ in range(3):
        normal = terms.T @ (terms * weight[:, None]) + np.eye(3) * 1e-6
        plane = np.asarray(np.linalg.solve(normal, terms.T @ (ratio * weight)))
        weight = 1.0 / (1.0 + np.square((ratio - terms @ plane) / 0.05))
    across = np.exp(plane[0] + plane[1] * np.arange(width) / width).astype(np.float32)
    down = np.exp(plane[2] * np.arange(height) / height).astype(np.float32)
    evening: FloatImage = np.outer(down, across)
    return evening


def _box_in_a(
    overlap: SmallOverlap, corners: tuple[int, int, int, int], shape: tuple[int, int]
) -> Box:
    left, top, right, bottom = corners
    height, width = shape
    return (
        (overlap.left + left) / width,
        (overlap.top + top) / height,
        (overlap.left + right) / width,
        (overlap.top + bottom) / height,
    )


def _box_in_b(
    overlap: SmallOverlap, corners: tuple[int, int, int, int], shape: tuple[int, int]
) -> Box:
    left, top, right, bottom = corners
    places = [overlap.to_b(x, y) for x in (left, right) for y in (top, bottom)]
    x, y = np.array(places).T
    height, width = shape
    box = (x.min() / width, y.min() / height, x.max() / width, y.max() / height)
    return tuple(float(side) for side in box)  # type: ignore[return-value]


def _same_subjects(moved: Sequence[Moved]) -> list[list[Moved]]:
    """Places that meet in a frame belong to the same subject."""
    group = list(range(len(moved)))

    def root(number: int) -> int:
        while group[number] != number:
            number = group[number]
        return number

    seen: dict[int, list[tuple[int, Box]]] = {}
    for number, one in enumerate(moved):
        for frame, box in ((one.a, one.box_a), (one.b, one.box_b)):
            for other, there in seen.setdefault(frame, []):
                if _meet(box, there):
                    group[root(number)] = root(other)
            seen[frame].append((number, box))
    subjects: dict[int, list[Moved]] = {}
    for number, one in enumerate(moved):
        subjects.setdefault(root(number), []).append(one)
    return list(subjects.values())


def _meet(one: Box, other: Box, slack: float = 0.02) -> bool:
    return (
        one[0] < other[2] + slack
        and other[0] < one[2] + slack
        and one[1] < other[3] + slack
        and other[1] < one[3] + slack
    )


def _remarks(
    frames: Sequence[Frame], subject: Sequence[Moved], cells: Mapping[str, tuple[int, int]]
) -> list[Finding]:
    boxes: dict[int, list[Box]] = {}
    for one in subject:
        boxes.setdefault(one.a, []).append(one.box_a)
        boxes.setdefault(one.b, []).append(one.box_b)
    places, sizes_px = [], []
    for number, here in sorted(boxes.items()):
        left, top = (min(box[side] for box in here) for side in (0, 1))
        right, bottom = (max(box[side] for box in here) for side in (2, 3))
        wide_px = (right - left) * frames[number].width_px
        high_px = (bottom - top) * frames[number].height_px
        across, down = (left + right) / 2.0, (top + bottom) / 2.0
        sizes_px.append(max(wide_px, high_px))
        places.append(
            f"{_named(frames[number], cells)}, {across:.0%} across and {down:.0%} down, "
            f"{wide_px:.0f} × {high_px:.0f} px"
        )
    says = (
        f"something moved, or came or went: look at {_and(places)}. If it matters, take one of "
        f"them again"
    )
    return [
        Finding("moving", says, frames[number].file, round(size_px), "px")
        for number, size_px in zip(sorted(boxes), sizes_px, strict=True)
    ]


def _and(places: Sequence[str]) -> str:
    if len(places) > _NAMED:
        return f"{'; '.join(places[:_NAMED])}; and {len(places) - _NAMED} more"
    return "; and ".join(filter(None, ["; ".join(places[:-1]), places[-1]]))


def _named(frame: Frame, cells: Mapping[str, tuple[int, int]]) -> str:
    name = PurePosixPath(frame.file).name
    cell = cells.get(frame.file)
    return name if cell is None else f"{name} (row {cell[0]}, column {cell[1]})"
