"""How probable one way of the frames through the sweep is, each frame's place being given."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.check.evidence import Evidence
from belvedere.check.sweep_prior import (
    FOREIGN_AGAIN,
    GOES_ON_AFTER_FOREIGN,
    REPEATED,
    REPEATED_AGAIN,
    STARTED_ANEW,
    STILL_BEFORE,
    before_prior,
    ending_prior,
    foreign_prior,
    from_before_prior,
    starting_prior,
    step_log_prior,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Log of what the sweep never does, such as going back by some cells.
_IMPOSSIBLE = -300.0


def path_score(evidence: Evidence, cell: IntArray, foreign: FloatArray) -> float:
    """Log weight, in the model of `alignment`, of frames (T,) at just `cell`, -1 for none.

    `foreign` (T,) is added for each frame of no cell.
    """
    last = _last_placed(cell)
    t = np.arange(1, len(cell))
    here, there = cell[:-1], cell[1:]
    both = (here >= 0) & (there >= 0)
    after = (here < 0) & (there >= 0) & (last[:-1] >= 0)
    first = (here < 0) & (there >= 0) & (last[:-1] < 0)
    gone = there < 0
    turns = evidence.next_turns
    total = _beginning(int(cell[0]), float(foreign[0]), turns) + _ending(int(last[-1]), turns)
    total += _steps(evidence, t[both], here[both], there[both], cell).sum()
    total += _steps_over(evidence, t[after], last[:-1][after], there[after], cell).sum()
    total += (np.log(from_before_prior(there[first], turns)) + evidence.apart[t[first]]).sum()
    leaving = np.where(here >= 0, foreign_prior(here, evidence.cells), FOREIGN_AGAIN)
    total += (np.log(leaving[gone]) + evidence.apart[t[gone]] + foreign[t[gone]]).sum()
    return float(total)


def _last_placed(cell: IntArray) -> IntArray:
    """The cell that the sweep had come to at each frame, -1 before its first one."""
    place = np.maximum.accumulate(np.where(cell >= 0, np.arange(len(cell)), -1))
    return np.where(place >= 0, cell[place], -1)


def _beginning(cell: int, foreign: float, turns: IntArray) -> float:
    if cell < 0:
        return float(np.log(before_prior())) + foreign
    return float(np.log(starting_prior(np.array([cell]), turns)[0]))


def _ending(last: int, turns: IntArray) -> float:
    chance = STILL_BEFORE if last < 0 else float(ending_prior(np.array([last]), turns)[0])
    return float(np.log(chance))


def _steps(
    evidence: Evidence, t: IntArray, here: IntArray, there: IntArray, cell: IntArray
) -> FloatArray:
    """Moves from a frame of the sweep to the next one."""
    steps = there - here
    again = (t >= 2) & (cell[t - 1] == cell[t - 2])
    fits = (steps >= 0) & (steps <= evidence.steps)
    n = np.where(fits, steps, 0)
    turns = evidence.turns[n, here]
    weight = step_log_prior(evidence.steps)[n]
    weight += evidence.seen[t, evidence.kind[n, here]] + evidence.beat[t, n, turns]
    weight += np.where(again & (n > 0), evidence.since_repeat[t, n, turns], 0.0)
    weight += np.where(again & (n == 0), np.log(REPEATED_AGAIN / REPEATED), 0.0)
    return np.where(fits, weight, _anew(evidence, t, there))


def _steps_over(
    evidence: Evidence, t: IntArray, last: IntArray, there: IntArray, cell: IntArray
) -> FloatArray:
    """Moves over one foreign frame, or several."""
    steps = there - last
    fits = (steps >= 1) & (steps <= evidence.steps)
    n = np.where(fits, steps, 1)
    one = cell[np.maximum(t - 2, 0)] >= 0
    over = evidence.seen_over[t, evidence.kind[n, last]]
    over = over + evidence.beat_over[t, n, evidence.turns[n, last]]
    weight = step_log_prior(evidence.steps)[n] + np.log(GOES_ON_AFTER_FOREIGN)
    weight += evidence.apart[t] + np.where(one, over, 0.0)
    return np.where(fits, weight, _anew(evidence, t, there))


def _anew(evidence: Evidence, t: IntArray, there: IntArray) -> FloatArray:
    weight = np.log(STARTED_ANEW) + evidence.apart[t] + evidence.anew[t]
    return np.where(there == 0, weight, _IMPOSSIBLE)
