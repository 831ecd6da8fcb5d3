"""Gather the evidence for the alignment: from pictures and clock, for the moves of a sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.band import Band
from belvedere.check.evidence import Evidence, Table
from belvedere.check.moves import Moves, Spreads, line_length
from belvedere.check.neighbours import Neighbours
from belvedere.check.repeats import repeat_ratios
from belvedere.check.rhythm import Rhythm, seconds
from belvedere.check.sightings import MANY_RIVALS, Sightings
from belvedere.check.sweep_prior import after_stuck_ratio, most_steps
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Spread of the same cell taken twice, as a share of the frame's width.
REPEAT_SPREAD = 0.012
#: Spreads of a repeat, in those, with their shares: a head that stands still, one that settles,
#: and clouds that sail on meanwhile.
_STAYED, _STAYED_SHARES = np.array([0.2, 1.0, 4.0]), np.log([0.4, 0.3, 0.3])
#: Log likelihood ratio from which a repeat and a step together show a scene that repeats itself.
_REPEATS_ITSELF = 8.0
#: What one of many displacements that fit as well says at most.
_AMONG_RIVALS = 3.0
#: Displacements that differ by less than this share of the frame are looked at once.
_MUCH_ALIKE = 0.08
#: Classes of moves up to which all are looked up, whether they are possible or not.
_FEW_KINDS = 128
#: Log of the chance of a knock, or a slip of the head, between two frames.
_KNOCKED = -7.0
#: Log likelihood ratio from which a frame surely follows the one before.
_FOLLOWS = 12.0


@dataclass(frozen=True, slots=True)
class Kinds:
    """What each move of the sweep should look like, equal ones looked up once.

    `moves` (U, 3) are displacement and spread in px; `kind` and `turns` (N + 1, K) as in
    `Evidence`.
    """

    moves: FloatArray
    kind: IntArray
    turns: IntArray
    frame_px: tuple[int, int]


def kinds_of(moves: Moves, near: Neighbours, spreads: Spreads, shrink: int) -> Kinds:
    """The classes of all moves forward by no more than a line and some."""
    reach, count = most_steps(moves.count, line_length(moves)), moves.count
    home = near.homes()
    steps = near.cell - home
    forward = (steps >= 0) & (steps <= reach)
    home, steps, shift = home[forward], steps[forward], near.shift[forward]
    to = np.minimum(np.arange(reach + 1)[:, None] + np.arange(count), count - 1)
    turns = moves.line[to] - moves.line[None]
    same_line = turns[steps, home] == 0
    spread = np.where(same_line, spreads.along_px, spreads.across_px)
    # Two steps scatter more than one.
    spread *= np.sqrt(np.where(same_line, np.clip(steps, 1, 3), 1))
    spread[steps == 0] = REPEAT_SPREAD * moves.width_px
    coarse = np.maximum(spread / 3.0, shrink / 2.0)
    keys = np.column_stack([np.round(shift / coarse[:, None]), np.round(coarse, 3)])
    _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    kind = np.full((reach + 1, count), -1, dtype=np.int64)
    kind[steps, home] = inverse.ravel()
    frame_px = (moves.width_px, moves.height_px)
    return Kinds(np.column_stack([shift[first], spread[first]]), kind, turns, frame_px)


def evidence_of(
    frames: Sequence[Frame],
    kinds: Kinds,
    rhythm: Rhythm | None,
    seen: Sightings | None,
    band: Band | None,
) -> Evidence:
    """All that is known; without `seen`, by the clock alone.

    With a `band`, only moves within it are looked up.
    """
    count, classes = len(frames), len(kinds.moves)
    looked, over = (np.zeros((count, classes + 1), dtype=np.float32) for _ in range(2))
    apart = np.zeros(count)
    if seen is not None:
        repeated = repeats_of(kinds, seen, count)
        for t in range(1, count):
            wanted = _wanted(kinds, band, t)
            apart[t] = seen.elsewhere(t - 1, t)
            found = _looked_up(kinds, seen, t - 1, t, wanted)
            found[wanted == kinds.kind[0, 0]] = repeated[t]
            # A knock of the tripod on the way leaves them overlapping, but anyhow.
            moves_on = wanted != kinds.kind[0, 0]
            found[moves_on] = np.logaddexp(found[moves_on], _KNOCKED + apart[t])
            looked[t, wanted] = found
            if t >= 2 and not _both_follow(looked[t - 1], looked[t]):
                # As against overlapping anyhow: that they do is no merit of the frame between.
                over[t] -= max(seen.elsewhere(t - 2, t), 0.0)
                over[t, wanted] += _looked_up(kinds, seen, t - 2, t, wanted)
    beat, beat_over, since_repeat, anew = _heard(frames, kinds, rhythm)
    return Evidence(
        kinds.kind, kinds.turns, looked, over, beat, beat_over, since_repeat, apart, anew
    )


def repeats_of(kinds: Kinds, seen: Sightings, count: int) -> FloatArray:
    """Log likelihood ratios (T,) of each frame showing the cell of the one before once more."""
    none, spreads = np.zeros((3, 2)), kinds.moves[kinds.kind[0, 0], 2] * _STAYED
    onward = kinds.moves[_next_classes(kinds)]
    known, periodic = np.zeros(count), np.zeros(count, dtype=bool)
    for t in range(1, count):
        known[t] = np.logaddexp.reduce(_STAYED_SHARES + seen.ratios(t - 1, t, none, spreads))
        if known[t] > _REPEATS_ITSELF and len(onward):
            # Windows and fences fit after a step as well as unmoved; that they do tells nothing.
            step = float(seen.ratios(t - 1, t, onward[:, :2], onward[:, 2]).max())
            if step > _REPEATS_ITSELF:
                periodic[t], known[t] = True, min(known[t], step)
            elif seen.rivals(t - 1, t) >= MANY_RIVALS:
                periodic[t], known[t] = True, min(known[t], _AMONG_RIVALS)
    return repeat_ratios(seen.likeness().of_first(count), known, periodic, _steps(kinds))


def _next_classes(kinds: Kinds) -> IntArray:
    """The classes of moves to the next cell."""
    classes = np.unique(kinds.kind[1:2])
    return classes[classes >= 0]


def _steps(kinds: Kinds) -> FloatArray:
    """The displacements (S, 2) to the next cell as shares of the frame, much alike ones once."""
    shifts = kinds.moves[_next_classes(kinds), :2]
    shifts = shifts[np.isfinite(shifts).all(axis=1)] / kinds.frame_px
    coarse = np.round(shifts / _MUCH_ALIKE)
    _, first = np.unique(coarse, axis=0, return_index=True)
    return shifts[first]


def _both_follow(before: NDArray[np.float32], now: NDArray[np.float32]) -> bool:
    """Whether a frame is surely part of the sweep, so that nobody need look past it."""
    return float(before.max()) > _FOLLOWS and float(now.max()) > _FOLLOWS


def _wanted(kinds: Kinds, band: Band | None, t: int) -> IntArray:
    if band is None or len(kinds.moves) <= _FEW_KINDS:
        return np.arange(len(kinds.moves))
    before = np.union1d(band.cells[t - 1], band.memory[t - 1])
    steps = band.cells[t][None] - before[:, None]
    possible = (steps >= 0) & (steps < len(kinds.kind)) & (before[:, None] >= 0)
    home = np.broadcast_to(before[:, None], steps.shape)[possible]
    wanted = np.unique(kinds.kind[steps[possible], home])
    return wanted[wanted >= 0]


def _looked_up(
    kinds: Kinds, seen: Sightings, first: int, second: int, wanted: IntArray
) -> FloatArray:
    moves = kinds.moves[wanted]
    return seen.ratios(first, second, moves[:, :2], moves[:, 2])


def _heard(
    frames: Sequence[Frame], kinds: Kinds, rhythm: Rhythm | None
) -> tuple[Table, Table, Table, FloatArray]:
    """`beat`, `beat_over`, `since_repeat` and `anew` of `Evidence`."""
    clock, count = seconds(frames), len(frames)
    steps = np.arange(len(kinds.kind))[:, None]
    turns = np.arange(int(kinds.turns.max()) + 1)[None]
    shape = (count, steps.size, turns.size)
    beat, over, repeat = (np.zeros(shape, dtype=np.float32) for _ in range(3))
    anew = np.zeros(count)
    after_stuck = after_stuck_ratio(steps.size - 1)[:, None]
    if rhythm is None:
        return beat, over, repeat, anew
    for t in range(1, count):
        gap = float(clock[t] - clock[t - 1])
        beat[t] = rhythm.ratios(gap, steps, turns)
        anew[t] = rhythm.anew_ratio(gap)
        if t >= 2:
            over[t] = rhythm.ratios(float(clock[t] - clock[t - 2]), steps, turns)
            repeat[t] = np.logaddexp(over[t], beat[t]) - np.log(2.0) - beat[t]
            if rhythm.keeps_going(float(clock[t - 1] - clock[t - 2])):
                repeat[t] += after_stuck
    return beat, over, repeat, anew
