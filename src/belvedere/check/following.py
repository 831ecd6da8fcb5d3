"""Follow a sweep frame by frame: tell whether the new frame is just the next cell.

A quick answer to the commonest question. Where it is not a plain yes, `place` must look again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from belvedere.check.moves import Moves, Spreads
from belvedere.check.rhythm import Rhythm
from belvedere.check.sightings import Sightings
from belvedere.check.thresholds import LEAST_SHARE

#: Log of how often the sweep stays, goes on, or leaves one, two, three cells out: as `alignment`.
_PRIOR = np.log([0.004, 0.985, 0.008, 0.0024, 0.0007])
#: Log of the chance that a frame is of no cell at all.
_FOREIGN = float(np.log(0.001))
#: Spread of the same cell taken twice, as a share of the frame's width.
_REPEAT_SPREAD = 0.012


def next_cell_chance(
    moves: Moves,
    spreads: Spreads,
    rhythm: Rhythm | None,
    seen: Sightings,
    around: Sequence[tuple[int, int]],
    new: int,
    gap_s: float | None,
) -> float:
    """The probability that frame `new` is of the cell after that of the frame before it.

    Parameters
    ----------
    around
        Frames that are placed, as (index in `seen`, cell): the frame just before first, then
        those that the new one should overlap with.
    gap_s
        Seconds from the frame before to the new one, None where the clock is silent.
    """
    last = around[0][1]
    steps = np.arange(min(len(_PRIOR), moves.count - last))
    if len(steps) < 2:
        return 0.0
    score = _PRIOR[steps] + _beat(rhythm, gap_s, steps, moves.line[last + steps] - moves.line[last])
    for index, home in around:
        score += _seen(moves, spreads, seen, index, home, new, last + steps)
    everything = np.append(score, _FOREIGN)
    chance = np.exp(everything - everything.max())
    return float(chance[1] / chance.sum())


def _beat(
    rhythm: Rhythm | None,
    gap_s: float | None,
    steps: np.ndarray[tuple[int], np.dtype[np.int64]],
    turns: np.ndarray[tuple[int], np.dtype[np.int64]],
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    beat = np.zeros(len(steps))
    if rhythm is None:
        return beat
    for n in steps:
        beat[n] = rhythm.ratio(gap_s, int(n), turns[n : n + 1])[0]
    beat[0] = rhythm.repeat_ratio(gap_s)
    return beat


def _seen(
    moves: Moves,
    spreads: Spreads,
    seen: Sightings,
    index: int,
    home: int,
    new: int,
    cells: np.ndarray[tuple[int], np.dtype[np.int64]],
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Log likelihood ratios of `new` at each of `cells`, by what frame `index` shows of it."""
    shifts = moves.expected(np.full(len(cells), home), cells)
    share = moves.share(shifts)
    ratios = np.zeros(len(cells))
    for i, cell in enumerate(cells):
        if cell == home:
            ratios[i] = seen.ratio(index, new, (0.0, 0.0), _REPEAT_SPREAD * moves.width_px)
        elif share[i] >= LEAST_SHARE:
            same = moves.line[cell] == moves.line[home]
            spread_px = spreads.along_px if same else spreads.across_px
            shift = (float(shifts[i, 0]), float(shifts[i, 1]))
            ratios[i] = seen.ratio(index, new, shift, spread_px)
    return ratios


def neighbours(moves: Moves, cell: int, placed: Sequence[int], most: int) -> list[int]:
    """Positions in `placed` (cells, -1 for none) of the frames that overlap `cell` most."""
    cells = np.asarray(placed, dtype=np.int64)
    there = np.flatnonzero((cells >= 0) & (cells != cell))
    share = moves.share(moves.expected(np.full(len(there), cell), cells[there]))
    ranked = np.argsort(-share, kind="stable")[:most]
    return [int(there[i]) for i in ranked if share[i] >= LEAST_SHARE]
