"""How often things happen in a sweep, before anything is seen: common practice, no source."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Per frame.
#: A frame shows the cell of the one before: released twice, or the head stood still.
REPEATED, REPEATED_AGAIN = 0.004, 0.02
#: A frame that shows the same cell again, a whole interval later, was taken while the head stood
#: still: then the sweep goes on past the cell that the head did not go to.
_STUCK = 0.5
#: A frame belongs to no cell; the next one does not either; the sweep goes on after it.
FOREIGN, FOREIGN_AGAIN, FOREIGN_AFTER = 0.0008, 0.5, 0.3
GOES_ON_AFTER_FOREIGN = 0.5
#: The sweep is given up and begun again at its first cell.
STARTED_ANEW = 1e-4
#: Cells left out: the first, each further one, and the least for however many.
_LEFT_OUT, _LEFT_OUT_ALSO, _LEAST_LEFT_OUT = 0.008, 0.3, 2e-6

# Per shoot.
_FOREIGN_FIRST = 0.15
_STARTED_LATE, _LEAST_STARTED_LATE = 0.01, 1e-9
_STOPPED_EARLY, _STOPPED_EARLY_ALSO = 0.01, 0.75
#: The battery is empty, the card full or the camera asleep: at any cell, however many are left.
_GIVEN_OUT = 0.02
#: A whole line at the beginning or end has no frame; so has each further one.
_LINE_LOST, _LINE_LOST_ALSO = 1e-3, 0.3
#: The card ends before the sweep began.
STILL_BEFORE = 1e-9
#: No cell is further than this from another one that the sweep goes on from.
_MOST_STEPS = 240


def most_steps(cells: int, line_cells: int) -> int:
    """How many steps ahead the sweep is looked for: a line left out, and some more."""
    return max(1, min(cells, max(4, line_cells + min(line_cells, 12) + 2), _MOST_STEPS))


def step_log_prior(steps: int, left_out: float = 0.0) -> FloatArray:
    """Log prior (`steps` + 1,) of moves by 0 to `steps` cells; 0 is a repeat, 1 the next cell.

    `left_out` is the share of cells known to have no frame, if it is more than usual.
    """
    first = min(max(left_out, _LEFT_OUT), 0.5)
    further = np.maximum(np.arange(steps + 1) - 2.0, 0.0)
    chance = np.maximum(first * _LEFT_OUT_ALSO**further, _LEAST_LEFT_OUT)
    chance[0] = REPEATED
    chance[1] = 1.0 - first
    log_prior: FloatArray = np.log(chance)
    return log_prior


def after_stuck_ratio(steps: int) -> FloatArray:
    """Log ratio (`steps` + 1,) of moves after a repeat in rhythm, as against usual ones."""
    usual = np.exp(step_log_prior(steps))
    log_ratio = np.full(steps + 1, np.log(1.0 - _STUCK))
    if steps >= 2:
        log_ratio[2] = np.log((1.0 - _STUCK) + _STUCK / usual[2])
    return log_ratio


def starting_prior(cells: IntArray, turns: IntArray) -> FloatArray:
    """Prior of the first frame being at each of `cells`; 0 for negative ones.

    `turns` (K,) says for each cell whether the next one lies in another line.
    """
    return (1.0 - _FOREIGN_FIRST) * _begun(cells, turns)


def before_prior() -> float:
    """Prior of the first frame being none of the sweep."""
    return _FOREIGN_FIRST


def from_before_prior(cells: IntArray, turns: IntArray) -> FloatArray:
    """Prior of the sweep beginning at each of `cells` after a frame that was before it."""
    return GOES_ON_AFTER_FOREIGN * _begun(cells, turns)


def _begun(cells: IntArray, turns: IntArray) -> FloatArray:
    late = np.maximum(_STARTED_LATE * 0.5 ** np.clip(cells, 0, 60), _LEAST_STARTED_LATE)
    new_line = (cells > 0) & (turns[cells - 1] > 0)
    late = np.where(new_line, np.maximum(late, _lines_lost(np.cumsum(turns)[cells - 1])), late)
    return np.where(cells >= 0, np.where(cells == 0, 1.0, late), 0.0)


def _lines_lost(lines: IntArray) -> FloatArray:
    """Prior of just so many whole lines being lost."""
    chance: FloatArray = _LINE_LOST * _LINE_LOST_ALSO ** np.clip(lines - 1.0, 0.0, 10.0)
    return chance


def foreign_prior(cells: IntArray, count: int) -> FloatArray:
    """Prior of a foreign frame after one at each of `cells` of `count`; 0 for negative ones."""
    prior = np.where(cells == count - 1, FOREIGN_AFTER, FOREIGN)
    return np.where(cells >= 0, prior, 0.0)


def ending_prior(cells: IntArray, turns: IntArray) -> FloatArray:
    """Prior of the last frame being at each of `cells`, or of none after it; see the start."""
    left = np.maximum(len(turns) - 1 - cells, 0)
    early = _STOPPED_EARLY * _STOPPED_EARLY_ALSO ** np.maximum(left - 1.0, 0.0)
    early = np.maximum(early, _GIVEN_OUT / len(turns))
    lines = np.cumsum(turns[::-1])[::-1][cells]
    early = np.where(turns[cells] > 0, np.maximum(early, _lines_lost(lines)), early)
    return np.where(cells >= 0, np.where(left == 0, 1.0, early), 0.0)
