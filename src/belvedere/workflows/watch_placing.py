"""Frames of a running sweep on their cells: one by one, the latest together where in doubt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from belvedere.check import Moves, Placing, place, placed_overlaps, sightings
from belvedere.check.following import neighbours, next_cell_chance
from belvedere.check.thresholds import SETTLED_FRAMES, SURE_NEXT, SURE_PLACED, WATCHED_FRAMES
from belvedere.foundation import finish
from belvedere.imagefiles import in_shutter_order
from belvedere.measure import Overlap
from belvedere.shoot import Frame, Plan

Small = Mapping[str, NDArray[np.uint8]]

#: Frames that a new one is compared with.
_NEIGHBOURS = 5
#: Frames, the new one included, from which the camera's own pattern is learnt.
_FOR_PATTERN = 12
#: So many in a row without a cell, and the sweep may have begun anew: all is placed together.
_STRANGERS = 3
#: Cells beyond the last one that frames may go on from.
_AHEAD = 64


@dataclass(frozen=True, slots=True)
class Followed:
    """The frames so far, in shutter order, each with its cell and how probable that is.

    `cell` is the index in sweep order, -1 for none. `placing` is the last one that was made in
    full; its moves are those of the whole plan.
    """

    frames: tuple[Frame, ...] = ()
    cell: tuple[int, ...] = ()
    chance: tuple[float, ...] = ()
    placing: Placing | None = None

    @property
    def last(self) -> int:
        """Position of the latest frame that has a cell, -1 where none has."""
        return next((t for t in range(len(self.cell) - 1, -1, -1) if self.cell[t] >= 0), -1)

    def whole(self) -> Placing:
        """All frames as one placing; ValueError where none was placed yet."""
        if self.placing is None:
            raise ValueError("no frame was placed yet")
        return replace(
            self.placing,
            frames=self.frames,
            cell=np.array(self.cell, dtype=np.int64),
            confidence=np.array(self.chance),
        )

    def only(self, files: AbstractSet[str]) -> Placing:
        """Some of the frames as one placing; ValueError as `whole`."""
        whole = self.whole()
        chosen = [t for t, frame in enumerate(self.frames) if frame.file in files]
        return replace(
            whole,
            frames=tuple(self.frames[t] for t in chosen),
            cell=whole.cell[chosen],
            confidence=whole.confidence[chosen],
        )

    def position(self, file: str) -> int:
        """Where a file stands in shutter order; ValueError where it is not there."""
        return [frame.file for frame in self.frames].index(file)


def follow(before: Followed, new: Sequence[Frame], small: Small, plan: Plan) -> Followed:
    """The frames with `new` ones added; `small` has the small pictures of all."""
    now = _merged(before, new)
    for t in range(len(now.frames)):
        if np.isfinite(now.chance[t]):
            continue
        if not _was_sure(now, t):
            return _together(now, t, small, plan)
        chance = _chance_of_next(now, t, small)
        if chance < SURE_NEXT:
            return _together(now, t, small, plan)
        now = replace(
            now,
            cell=(*now.cell[:t], now.cell[t - 1] + 1, *now.cell[t + 1 :]),
            chance=(*now.chance[:t], chance, *now.chance[t + 1 :]),
        )
    return now


def _merged(before: Followed, new: Sequence[Frame]) -> Followed:
    """In shutter order; new frames have no cell yet and the chance nan."""
    again = {frame.file for frame in new}
    known = {
        frame.file: (cell, chance)
        for frame, cell, chance in zip(before.frames, before.cell, before.chance, strict=True)
        if frame.file not in again
    }
    kept = [frame for frame in before.frames if frame.file not in again]
    frames = tuple(in_shutter_order([*kept, *new]))
    found = [known.get(frame.file, (-1, np.nan)) for frame in frames]
    return replace(
        before,
        frames=frames,
        cell=tuple(cell for cell, _ in found),
        chance=tuple(chance for _, chance in found),
    )


def _was_sure(now: Followed, t: int) -> bool:
    """Whether the frame before `t` is a sure foothold, and all after `t` are new."""
    return (
        now.placing is not None
        and t >= SETTLED_FRAMES
        and now.cell[t - 1] >= 0
        and now.chance[t - 1] >= SURE_PLACED
        and not np.isfinite(now.chance[t:]).any()
    )


def _chance_of_next(now: Followed, t: int, small: Small) -> float:
    frame, before = now.frames[t], now.frames[t - 1]
    if now.placing is None or frame.damage or frame.settings != before.settings:
        return 0.0
    placing, cell = now.placing, now.cell[t - 1] + 1
    if cell >= placing.moves.count:
        return 0.0
    near = [n for n in neighbours(placing.moves, cell, now.cell[:t], _NEIGHBOURS) if n != t - 1]
    around = [t - 1, *near]
    others = [n for n in range(max(0, t - _FOR_PATTERN), t) if n not in around]
    chosen = [*around, t, *others]
    seen = sightings([now.frames[n] for n in chosen], small)
    gap_s = (
        (frame.taken_at - before.taken_at).total_seconds()
        if frame.taken_at is not None and before.taken_at is not None
        else None
    )
    at = [(i, now.cell[n]) for i, n in enumerate(around)]
    return next_cell_chance(
        placing.moves, placing.spreads, placing.rhythm, seen, at, len(around), gap_s
    )


def _together(now: Followed, new: int, small: Small, plan: Plan) -> Followed:
    """Place the latest frames together; those before are believed to be where they are."""
    first = _first_of_window(now, new)
    begin = now.cell[first] if first else 0
    known = max(now.cell)
    end = len(plan.cells) if not first else min(len(plan.cells), known + 1 + _AHEAD)
    part = replace(plan, cells=plan.cells[begin:end])
    frames = now.frames[first:]
    placing = finish(place(frames, sightings(frames, small), part))
    whole = Moves.of_plan(plan, next((f.width_px for f in frames if f.width_px), 0))
    found = np.where(placing.cell >= 0, placing.cell + begin, -1)
    return Followed(
        now.frames,
        (*now.cell[:first], *(int(cell) for cell in found)),
        (*now.chance[:first], *(float(chance) for chance in placing.confidence)),
        replace(placing, moves=replace(whole, linear=placing.moves.linear)),
    )


def _first_of_window(now: Followed, new: int) -> int:
    """Position of the first frame to be placed anew; 0 for all of them."""
    if len(now.frames) <= WATCHED_FRAMES:
        return 0
    tail = now.cell[max(0, new - _STRANGERS) : new]
    if len(tail) == _STRANGERS and max(tail) < 0:
        return 0
    first = len(now.frames) - WATCHED_FRAMES
    if now.placing is not None and now.cell[new - 1] >= 0:
        line = now.placing.moves.line
        beside = [
            t for t, k in enumerate(now.cell) if k >= 0 and line[k] == line[now.cell[new - 1]] - 1
        ]
        first = min(first, max(beside[0], first - WATCHED_FRAMES)) if beside else first
    first = min(first, new - 1)
    while first > 0 and not (now.cell[first] >= 0 and now.chance[first] >= SURE_PLACED):
        first -= 1
    return max(first, 0)


def overlaps_of(now: Followed, file: str, small: Small) -> tuple[Overlap, ...]:
    """How a placed frame lies on the placed frames around it."""
    t = now.position(file)
    if now.placing is None or now.cell[t] < 0:
        return ()
    near = neighbours(now.placing.moves, now.cell[t], now.cell, 2 * _NEIGHBOURS)
    again = [n for n, cell in enumerate(now.cell) if cell == now.cell[t]]
    those = now.only({now.frames[n].file for n in (*near, *again)})
    overlaps = finish(placed_overlaps(those, sightings(those.frames, small)))
    return tuple(o for o in overlaps if file in (o.file_a, o.file_b))
