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
from belvedere.check.rhythm import Rhythm, seconds
from belvedere.check.sightings import Sightings
from belvedere.check.sweep_prior import after_stuck_ratio, most_steps
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Spread of the same cell taken twice, as a share of the frame's width.
REPEAT_SPREAD = 0.012
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
    return Kinds(np.column_stack([shift[first], spread[first]]), kind, turns)


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
        for t in range(1, count):
            wanted = _wanted(kinds, band, t)
            apart[t] = seen.elsewhere(t - 1, t)
            found = _looked_up(kinds, seen, t - 1, t, wanted)
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
