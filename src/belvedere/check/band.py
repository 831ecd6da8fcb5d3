"""Where each frame may be at all: a coarse first pass over the whole sweep.

The forward pass of the alignment with evidence that is not believed beyond a few nats, so that
what looks surely wrong at first, such as one window like the next, stays possible. Of each frame
only the most probable cells are kept (a beam search; B. Lowerre, "The Harpy speech recognition
system", 1976): far from the sweep's place nothing needs to be computed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.evidence import Evidence
from belvedere.check.sweep_prior import (
    FOREIGN_AGAIN,
    GOES_ON_AFTER_FOREIGN,
    STARTED_ANEW,
    before_prior,
    foreign_prior,
    from_before_prior,
    starting_prior,
    step_log_prior,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Sweeps of so few cells are looked at as a whole.
_WHOLE = 24
#: Cells of a frame that are kept, and how far (natural log) they may be behind the best.
_MOST_CELLS, _MOST_BEHIND = 64, 20.0
#: What pictures may say for and against a move at most, in this pass.
_MOST_BELIEVED = 4.0
#: A new start further behind than this, before it had time to prove itself, is not followed.
_START_BEHIND = 13.0


@dataclass(frozen=True, slots=True)
class Band:
    """The `cells` (T, B) that a frame may be at, ascending, -1 beyond the last one.

    `memory` (T, B) are those that the last frame of the sweep may have been at, where the frame
    itself is foreign. `count` is K.
    """

    cells: IntArray
    memory: IntArray
    count: int

    @classmethod
    def whole(cls, frames: int, cells: int) -> Band:
        """Every cell for every frame."""
        every = np.tile(np.arange(cells), (frames, 1))
        return cls(every, every, cells)

    @classmethod
    def at(cls, cell: IntArray, count: int) -> Band:
        """Just one cell for every frame, -1 for a foreign one."""
        memory = np.full(len(cell), -1, dtype=np.int64)
        for t in range(1, len(cell)):
            memory[t] = cell[t - 1] if cell[t - 1] >= 0 else memory[t - 1]
        return cls(cell[:, None], memory[:, None], count)

    def with_cells(self, cell: IntArray) -> Band:
        """The same with one more cell for every frame, where that is not -1."""
        own = Band.at(cell, self.count)
        return Band(_merged(self.cells, own.cells), _merged(self.memory, own.memory), self.count)


def band_of(evidence: Evidence, foreign: FloatArray) -> Band:
    """The band of all frames; `foreign` (T,) is what the settings say of a frame of no cell."""
    if evidence.cells <= _WHOLE:
        return Band.whole(evidence.frames, evidence.cells)
    believed = np.clip(evidence.seen, -_MOST_BELIEVED, _MOST_BELIEVED)
    apart = np.clip(evidence.apart, -_MOST_BELIEVED, _MOST_BELIEVED)
    stranger = np.exp(np.clip(foreign, -_MOST_BELIEVED, _MOST_BELIEVED))
    count = evidence.cells
    # Cells that have no frame may be anywhere: so the band keeps up with the end of the sweep.
    prior = step_log_prior(evidence.steps, 1.0 - evidence.frames / count)
    here = _pruned(starting_prior(np.arange(count), evidence.next_turns), 0.0)
    first = np.flatnonzero(here)
    begun = from_before_prior(first, evidence.next_turns)
    away = np.zeros(count)
    before = before_prior() * stranger[0]
    kept = [_kept(here)]
    kept_away = [np.zeros(0, dtype=np.int64)]
    for t in range(1, evidence.frames):
        loose = float(np.exp(apart[t]))
        onward = _onward(evidence, believed[t], t, prior, kept[-1], here[kept[-1]])
        gone_on = _onward(None, None, t, prior, kept_away[-1], away[kept_away[-1]], count)
        arrived = onward + GOES_ON_AFTER_FOREIGN * loose * gone_on
        arrived[first] += before * loose * begun
        everything = here.sum() + away.sum()
        anew = STARTED_ANEW * loose * float(np.exp(evidence.anew[t])) * everything
        if anew > np.exp(-_START_BEHIND) * arrived.max():
            arrived[0] += anew
        left = foreign_prior(np.arange(count), count) * here + FOREIGN_AGAIN * away
        away = left * loose * stranger[t]
        before *= 0.5 * loose * stranger[t]
        total = max(arrived.sum() + away.sum() + before, 1e-300)
        here, away, before = arrived / total, away / total, before / total
        floor = max(float(here.max()), float(away.max()), before) * np.exp(-_MOST_BEHIND)
        here, away = _pruned(here, floor), _pruned(away, floor)
        kept.append(_kept(here))
        kept_away.append(_kept(away))
    return Band(_padded(kept), _padded(kept_away), count)


def _onward(
    evidence: Evidence | None,
    believed: FloatArray | None,
    t: int,
    log_prior: FloatArray,
    cells: IntArray,
    chance: FloatArray,
    count: int = 0,
) -> FloatArray:
    """Where frames at `cells` go on to (K,)."""
    steps = np.arange(len(log_prior))[:, None]
    weight = np.repeat(log_prior[:, None], len(cells), axis=1)
    if evidence is not None and believed is not None:
        count = evidence.cells
        weight += believed[evidence.kind[:, cells]]
        weight += evidence.beat[t][steps, evidence.turns[:, cells]]
    else:
        weight[0] = -np.inf
    to = cells[None] + steps
    inside = to < count
    arrived = np.bincount(to[inside], (np.exp(weight) * chance)[inside], minlength=count)
    return arrived.astype(np.float64)


def _pruned(chance: FloatArray, floor: float) -> FloatArray:
    pruned = np.where(chance > floor, chance, 0.0)
    if np.count_nonzero(pruned) > _MOST_CELLS:
        least = np.partition(pruned, -_MOST_CELLS)[-_MOST_CELLS]
        pruned[pruned < least] = 0.0
    return pruned


def _kept(chance: FloatArray) -> IntArray:
    """The cells that are left, the first `_MOST_CELLS` of equals."""
    cells = np.flatnonzero(chance)
    if len(cells) > _MOST_CELLS:
        cells = np.sort(cells[np.argsort(-chance[cells], kind="stable")[:_MOST_CELLS]])
    return cells


def _merged(cells: IntArray, one: IntArray) -> IntArray:
    merged = [
        np.union1d(some[some >= 0], more[more >= 0]) for some, more in zip(cells, one, strict=True)
    ]
    return _padded(merged)


def _padded(kept: list[IntArray]) -> IntArray:
    width = max(1, max(len(cells) for cells in kept))
    padded = np.full((len(kept), width), -1, dtype=np.int64)
    for t, cells in enumerate(kept):
        padded[t, : len(cells)] = cells
    return padded
