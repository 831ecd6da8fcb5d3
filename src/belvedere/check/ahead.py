"""Compare neighbours while the card is still being read.

Frames come in the order of their names, which is nearly always that of the sweep. So each is taken
for the next cell, or one soon after it where the pictures say so, and compared at once with the
frames before it that should show the same. Nothing rests on these guesses: the frames are placed
when all are read, and a pair that was guessed wrongly is then measured anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from threading import Event
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from belvedere.check.moves import Moves
from belvedere.check.overlaps import translation, turned_mapping
from belvedere.check.pair_notes import (
    Look,
    PairMemory,
    is_corner,
    look_at,
    measure_pair,
    side_key,
    tone_shrink,
    wants_corners,
)
from belvedere.check.thresholds import LEAST_SHARE
from belvedere.measure import edge_blur_px, halved, phase_shift
from belvedere.shoot import Frame, Plan

FloatArray = NDArray[np.float64]
Grey = NDArray[np.uint8]

#: Share of the correlation's energy in its peak from which a shift is believed, and from which
#: it is believed against what was expected.
_SEEN, _SEEN_AGAINST = 0.12, 0.25
#: The longer side of the pictures that tell shifts is this or up to twice as much, px.
_TINY_PX = 160
#: Cells tried when the next one is not seen: two of them may have been missed.
_TRIED = (1, 2, 3, 0)
#: At the beginning of a line so many frames are held against the line before, and may be so many
#: cells off.
_HELD, _OFF = 4, (1, -1, 2, -2, 3, -3)
#: Frames are kept a few cells longer than the plan asks for: frames may be missing.
_GRACE_CELLS = 4
#: Of a frame's pixels a margin is kept around what later neighbours show again, as a share of it.
_MARGIN = 0.06
#: Pixels of frames that wait for their neighbours, bytes.
MEMORY_BYTES = 300_000_000
#: So many frames tell how sharp edges are at all.
_EDGE_FRAMES = 4


class Decoded(Protocol):
    """A frame as it was decoded: luma, the same at half its size, colours at 1/`shrink`."""

    @property
    def luma(self) -> Grey:
        """Full size (height, width)."""
        ...

    @property
    def half(self) -> Grey:
        """Half size."""
        ...

    @property
    def colour(self) -> Grey:
        """Small, (rows, columns, 3)."""
        ...

    @property
    def shrink(self) -> int:
        """Pixels of the frame for each of `colour`."""
        ...

    @property
    def tinted(self) -> bool:
        """Whether the colours are those of a thumbnail."""
        ...


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A frame that was read, the cell it is taken for, and if it was seen to follow the last.

    `compared` is set when it was compared with the frames before it.
    """

    frame: Frame
    look: Look
    tiny: Grey
    cell: int
    follows: bool
    compared: Event
    trimmed: bool = False


class Ahead:
    """A `Looker` that fills a `PairMemory` while a card is read."""

    def __init__(self, plan: Plan, memory: PairMemory, files: int) -> None:
        self._plan = plan
        self._memory = memory
        self._moves: Moves | None = None
        self._waiting: list[_Waiting] = []
        self._cell = -1
        self._arrived = 0
        #: Files of frames that are neighbours by the guess, for who compares them in other ways.
        self.met: list[tuple[str, str]] = []
        self._sides: dict[str, int] = {}
        self._neighbours: dict[int, NDArray[np.intp]] = {}
        self._edge_step = max(1, files // _EDGE_FRAMES)

    def colour_shrink(self, width_px: int, height_px: int) -> int:
        """At which fraction of a frame its colours are compared."""
        return tone_shrink(max(width_px, height_px))

    def look(self, picture: Decoded) -> Look:
        """What is to be kept of a frame."""
        return look_at(picture.luma, picture.colour, picture.shrink, picture.half, picture.tinted)

    def arrived(self, frame: Frame, look: object) -> Callable[[], None] | None:
        """Guess the cell of the next frame; comparing it with its neighbours is the work."""
        self._arrived += 1
        self._cell += 1
        if not isinstance(look, Look):
            return None
        if self._moves is None:
            self._moves = Moves.of_plan(self._plan, frame.width_px)
        moves = self._moves
        if (frame.width_px, frame.height_px) != (moves.width_px, moves.height_px):
            return None
        self._memory.keep_frame(frame, look.notes)
        tiny = look.picture.small
        while max(tiny.shape) >= 2 * _TINY_PX:
            tiny = halved(tiny)
        self._cell, seen = self._guess(moves, tiny)
        off, moved = self._offset(moves, tiny, seen)
        self._cell += off
        here = _Waiting(frame, look, tiny, self._cell, seen, Event())
        if self._cell >= moves.count:
            return None
        latest = self._waiting[-1] if self._waiting else None
        if latest is not None:
            self.met.append((latest.frame.file, frame.file))
        others = [
            one
            for one, share in zip(
                self._waiting, _shares(moves, self._waiting, here.cell), strict=True
            )
            if share >= LEAST_SHARE
        ]
        self.met += [(one.frame.file, frame.file) for one in others if one is not latest]
        edges = self._arrived % self._edge_step == 1
        again = [(one, self._now_met(moves, one)) for one in moved]
        job = partial(_compare, moves, others, here, self._memory, self._sides, edges, again)
        self._waiting.append(here)
        self._tidy(moves)
        return job

    def _now_met(self, moves: Moves, moved: _Waiting) -> list[_Waiting]:
        """Frames of other lines, before one that was moved, that meet it where it lies now."""
        place = next(k for k, one in enumerate(self._waiting) if one.frame is moved.frame)
        line = moves.line[moved.cell]
        return [
            one
            for one in self._waiting[:place]
            if moves.line[one.cell] != line and self._meets(moves, one.cell, moved.cell)
        ]

    def _guess(self, moves: Moves, tiny: Grey) -> tuple[int, bool]:
        """The cell of a frame that follows the latest one, and whether it was seen to."""
        if not self._waiting:
            return self._cell, False
        latest = self._waiting[-1]
        scale = moves.width_px / tiny.shape[1]
        best, most = self._cell, 0.0
        for step in _TRIED:
            cell = self._cell - 1 + step
            if not 0 <= cell < moves.count or not self._meets(moves, latest.cell, cell):
                continue
            _, response = _shift(latest.tiny, tiny, _expected(moves, latest.cell, cell), scale)
            if response > max(most, _SEEN if step == 1 else _SEEN_AGAINST):
                best, most = cell, response
            if step == 1 and response > 2.0 * _SEEN:
                break
        return best, most > 0.0

    def _offset(self, moves: Moves, tiny: Grey, follows: bool) -> tuple[int, list[_Waiting]]:
        """How many cells further than guessed this frame lies, as another line shows.

        If it `follows` the latest frame as it should, or begins a line, then those before it lie
        elsewhere too, back to where one was not seen to follow: there frames are missing. Those
        are moved, and given back.
        """
        cell = self._cell
        if not self._waiting or not 0 <= cell < moves.count:
            return 0, []
        line = moves.line[cell]
        if follows and cell - int(np.searchsorted(moves.line, line)) >= _HELD:
            return 0, []
        if self._seen_across(moves, tiny, cell) > _SEEN:
            return 0, []
        response, off = max((self._seen_across(moves, tiny, cell + off), off) for off in _OFF)
        if response < _SEEN_AGAINST:
            return 0, []
        latest = self._waiting[-1].cell
        if follows or moves.line[cell + off] != moves.line[latest]:
            return off, self._moved_back_to_gap(moves, off)
        return off, []

    def _seen_across(self, moves: Moves, tiny: Grey, cell: int) -> float:
        """How clearly the frame is seen to be of this cell by one of another line."""
        if not 0 <= cell < moves.count:
            return 0.0
        line = moves.line[cell]
        others = [one for one in self._waiting if moves.line[one.cell] != line]
        shares = _shares(moves, others, cell)
        if not len(shares) or shares.max() < LEAST_SHARE:
            return 0.0
        one = others[int(np.argmax(shares))]
        scale = moves.width_px / tiny.shape[1]
        return _shift(one.tiny, tiny, _expected(moves, one.cell, cell), scale)[1]

    def _moved_back_to_gap(self, moves: Moves, off: int) -> list[_Waiting]:
        """Move the latest frames of one line by `off` cells, back to one that did not follow."""
        line = moves.line[self._waiting[-1].cell]
        moved: list[_Waiting] = []
        for place in range(len(self._waiting) - 1, -1, -1):
            one = self._waiting[place]
            if moves.line[one.cell] != line or not 0 <= one.cell + off < moves.count:
                break
            self._waiting[place] = replace(one, cell=one.cell + off)
            moved.append(self._waiting[place])
            if not one.follows:
                break
        return moved[::-1]

    def _meets(self, moves: Moves, first: int, second: int) -> bool:
        if not 0 <= second < moves.count:
            return False
        shift = _expected(moves, first, second)
        return bool(moves.share(shift[None])[0] >= LEAST_SHARE)

    def _later(self, moves: Moves, cell: int) -> NDArray[np.intp]:
        """Cells after this one that show a part of the same."""
        known = self._neighbours.get(cell)
        if known is not None:
            return known
        reach = 2.0 * np.arctan(np.hypot(moves.width_px, moves.height_px) / 2.0 / moves.focal_px)
        near = moves.directions[cell + 1 :] @ moves.directions[cell] > np.cos(min(reach, np.pi))
        later = np.flatnonzero(near) + cell + 1
        shifts = moves.expected(np.full(len(later), cell), later)
        meets: NDArray[np.intp] = later[moves.share(shifts) >= LEAST_SHARE]
        self._neighbours[cell] = meets
        return meets

    def _tidy(self, moves: Moves) -> None:
        """Drop frames that no later cell meets, and the pixels that none will show again."""
        kept: list[_Waiting] = []
        for one in self._waiting:
            later = self._later(moves, one.cell)
            later = later[later > self._cell - _GRACE_CELLS]
            if not len(later):
                continue
            kept.append(_trimmed(moves, one, later) if one.cell < self._cell - 2 else one)
        while sum(one.look.nbytes for one in kept) > MEMORY_BYTES and len(kept) > 2:
            kept.pop(0)
        self._waiting = kept


def _trimmed(moves: Moves, one: _Waiting, later: NDArray[np.intp]) -> _Waiting:
    """Keep of a frame's pixels what later cells show too, and a margin."""
    if one.trimmed:
        return one
    size = np.array([moves.width_px, moves.height_px], dtype=np.float64)
    shifts = moves.expected(np.full(len(later), one.cell), later)
    low = np.maximum(-shifts, 0.0).min(axis=0) - _MARGIN * size
    high = np.minimum(size - shifts, size).max(axis=0) + _MARGIN * size
    left, top = np.maximum(np.floor(low), 0.0).astype(int)
    right, bottom = np.minimum(np.ceil(high), size).astype(int)
    if (right - left) * (bottom - top) > 0.75 * size.prod():
        return one
    picture = one.look.picture.window(int(left), int(top), int(right), int(bottom))
    return replace(one, look=replace(one.look, picture=picture), trimmed=True)


def _compare(
    moves: Moves,
    others: list[_Waiting],
    here: _Waiting,
    memory: PairMemory,
    sides: dict[str, int],
    edges: bool,
    again: list[tuple[_Waiting, list[_Waiting]]],
) -> None:
    """Measure a frame against those before it, and once more those that lie elsewhere now."""
    if edges:
        blur_px = edge_blur_px(here.look.picture.grey)
        memory.keep_edges(here.frame, np.nan if blur_px is None else blur_px)
    for moved, met in again:
        moved.compared.wait()
        _measure(moves, met, moved, memory, sides)
    try:
        _measure(moves, others, here, memory, sides)
    finally:
        here.compared.set()


def _measure(
    moves: Moves,
    others: list[_Waiting],
    here: _Waiting,
    memory: PairMemory,
    sides: dict[str, int],
) -> None:
    """Measure a frame against those before it, sides before corners."""
    scale = moves.width_px / here.tiny.shape[1]
    frame = here.frame
    plain = [(_expected(moves, other.cell, here.cell), other) for other in others]
    for corner, expected, other in sorted(
        ((is_corner(translation(d), frame.width_px, frame.height_px), d, o) for d, o in plain),
        key=lambda one: one[0],
    ):
        if other.look.tinted != here.look.tinted:  # colours of two kinds: left to the judge
            continue
        if corner:
            # Its sides are being counted in another thread: the answer must not depend on that.
            other.compared.wait()
            if not wants_corners(sides, other.frame, frame):
                continue
        shift, response = _shift(other.tiny, here.tiny, expected, scale)
        seen = response > _SEEN
        start = _mapping(moves, other.cell, here.cell, shift if seen else expected)
        if memory.pair(other.frame, frame, start) is not None:
            continue
        notes = measure_pair(other.look, here.look, start, 1.0 if seen else 0.0)
        memory.keep_pair(other.frame, frame, notes)
        if not corner and notes.powers is not None:
            sides[side_key(frame)] = sides.get(side_key(frame), 0) + 1


def _mapping(moves: Moves, first: int, second: int, shift: FloatArray) -> FloatArray:
    """Pixels of one frame to those of the other, (3, 3)."""
    if first == second:
        return translation(shift)
    return turned_mapping(moves, moves.rotations[second] @ moves.rotations[first].T, shift)


def _shares(moves: Moves, others: list[_Waiting], cell: int) -> FloatArray:
    """What a frame of a cell shares with each of the others, as shares of a frame (n,)."""
    first = np.array([one.cell for one in others], dtype=np.int64)
    return moves.share(moves.expected(first, np.full(len(others), cell)))


def _expected(moves: Moves, first: int, second: int) -> FloatArray:
    """Where the content of one cell lies in another, px (2,)."""
    if first == second:
        return np.zeros(2)
    expected: FloatArray = moves.expected(np.array([first]), np.array([second]))[0]
    return expected


def _shift(a: Grey, b: Grey, expected: FloatArray, scale: float) -> tuple[FloatArray, float]:
    """The displacement seen near the expected one, full-size px (2,), and how clearly.

    The parts that should show the same are cut out and compared by phase correlation.
    """
    height, width = a.shape
    dx, dy = (round(float(v) / scale) for v in expected)
    wide, high = width - abs(dx), height - abs(dy)
    if min(wide, high) < 16:
        return expected, 0.0
    left, top = max(0, -dx), max(0, -dy)
    part_a = a[top : top + high, left : left + wide].astype(np.float32)
    part_b = b[top + dy : top + dy + high, left + dx : left + dx + wide].astype(np.float32)
    found = phase_shift(part_a, part_b)
    return np.array([dx + found.dx_px, dy + found.dy_px]) * scale, found.response
