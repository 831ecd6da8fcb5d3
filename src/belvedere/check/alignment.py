"""Align the frames, in shutter order, with the cells, in sweep order.

A hidden Markov model: at each frame the head is at a cell, or the frame belongs to none. From
frame to frame the sweep goes on to the next cell, leaves cells out, stays (a repeated frame),
starts anew, or the frame is foreign. Forward–backward (L. R. Rabiner, "A tutorial on hidden
Markov models", Proc. IEEE 77(2), 1989) gives for every frame the probability of every cell.

Each frame is looked for at the cells of its `Band` alone, so that time and memory grow with the
number of frames and not with its square.

All evidence comes in as log likelihood ratios against "says nothing", so silence is 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.band import Band
from belvedere.check.chances import Chances
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

#: Log of next to nothing, so that the weights of a way that is closed stay numbers.
_CLOSED = -1e9
#: What one frame says against a state at most (natural log), lest nothing is left of it.
_MOST_UNLIKELY = 300.0
#: Frames whose ways are made at a time, and how many weights are remembered (8 bytes each).
_STRETCH, _MOST_REMEMBERED = 128, 16_000_000


@dataclass(frozen=True, slots=True)
class Alignment:
    """What the frames are, each with its probability.

    `cell` (T, K): frame t shows cell k. `nowhere` (T,): it shows none; `before`, `after` and
    the rest of `nowhere` tell when. `log_evidence` compares alignments of the same frames.
    """

    cell: Chances
    nowhere: FloatArray
    before: FloatArray
    after: FloatArray
    log_evidence: float


@dataclass(frozen=True, slots=True)
class _State:
    """Probabilities, or weights, of all that one frame may be.

    At a cell of the band, for the first time (`placed`) or once more (`again`); foreign, the one
    before being of the sweep (`strange`) or foreign too (`stranger`), by the cell the sweep had
    come to; or before the sweep.
    """

    placed: FloatArray
    again: FloatArray
    strange: FloatArray
    stranger: FloatArray
    before: float

    def total(self) -> float:
        return float(
            self.placed.sum()
            + self.again.sum()
            + self.strange.sum()
            + self.stranger.sum()
            + self.before
        )

    def times(self, other: _State) -> _State:
        return _State(
            self.placed * other.placed,
            self.again * other.again,
            self.strange * other.strange,
            self.stranger * other.stranger,
            self.before * other.before,
        )

    def over(self, total: float) -> _State:
        return _State(
            self.placed / total,
            self.again / total,
            self.strange / total,
            self.stranger / total,
            self.before / total,
        )


@dataclass(frozen=True, slots=True)
class _Ways:
    """Weights of all ways from frame t - 1 to frame t, divided by exp(`shift`).

    Matrices lead to a first frame of a cell: from a `placed` one, one `again`, a `strange` one,
    a `stranger`. `repeat` leads to one more frame of the cell with index `same` in the band of
    t - 1; `left` and `kept` are the indices, among cells and memory of t - 1, of the memory of
    t. An index beyond the last one means nothing. `apart` is what two frames weigh that are no
    two of the sweep in a row, `anew` a new start.
    """

    placed: FloatArray
    again: FloatArray
    strange: FloatArray
    stranger: FloatArray
    repeat: FloatArray
    same: IntArray
    left: IntArray
    leaving: FloatArray
    kept: IntArray
    begin: FloatArray
    apart: float
    anew: float
    shift: float


class Ways:
    """All ways through a band from frame to frame, made as they are asked for.

    They rest on what frames show of each other and on the clock, not on what else is known of
    each frame, and serve every alignment that differs in that alone. Of long shoots only a part
    is remembered, of those that are gone once nothing.
    """

    def __init__(self, evidence: Evidence, band: Band, once: bool = False) -> None:
        self.evidence, self.band = evidence, band
        self.turns = evidence.next_turns
        self._prior = step_log_prior(evidence.steps)
        self._kept: dict[int, list[_Ways]] = {}
        self._passing: tuple[int, list[_Ways]] = (-1, [])
        self._room = 0 if once else _MOST_REMEMBERED

    def to(self, t: int) -> _Ways:
        """The ways from frame t - 1 to frame t."""
        number = t // _STRETCH
        stretch = self._kept.get(number)
        if stretch is None:
            if self._passing[0] != number:
                self._passing = (number, self._made(number))
            stretch = self._passing[1]
        return stretch[t - number * _STRETCH]

    def _made(self, number: int) -> list[_Ways]:
        first = number * _STRETCH
        last = min(first + _STRETCH, self.evidence.frames)
        made = [_ways(self, max(t, 1), self._prior) for t in range(first, last)]
        size = sum(2 * (way.placed.size + way.strange.size) for way in made)
        if size <= self._room:
            self._kept[number] = made
            self._room -= size
        return made


def align(ways: Ways, at: FloatArray, foreign: FloatArray) -> Alignment:
    """The probability of every cell for every frame.

    `at` (T, B): frame t at the cells of its band; `foreign` (T,): frame t at none, as against in
    the sweep.
    """
    band, frames = ways.band, ways.evidence.frames
    shown = [_shown(band, t, at[t], float(foreign[t])) for t in range(frames)]
    forward, log_evidence = _forward(ways, shown)
    state = _end(ways)
    both = [forward[-1].times(state)]
    for t in range(frames - 1, 0, -1):
        state, _ = _scaled(_back(ways.to(t), state.times(shown[t][0])))
        both.append(forward[t - 1].times(state))
    return _read([_scaled(one)[0] for one in reversed(both)], band, log_evidence)


def certain(band: Band, cell: IntArray) -> Alignment:
    """An alignment without doubt: every frame at its `cell` (T,), -1 for none."""
    values = ((band.cells == cell[:, None]) & (cell >= 0)[:, None]).astype(np.float64)
    none = np.zeros(len(cell))
    chances = Chances(band.cells, values, band.count)
    return Alignment(chances, (cell < 0).astype(np.float64), none, none, 0.0)


def _forward(ways: Ways, shown: list[tuple[_State, float]]) -> tuple[list[_State], float]:
    """Probabilities of each frame's states given it and those before it; and of all there is."""
    state, log_evidence = _scaled(_start(ways).times(shown[0][0]))
    log_evidence += shown[0][1]
    forward = [state]
    for t in range(1, len(shown)):
        way, (seen, top) = ways.to(t), shown[t]
        state, total = _scaled(_onward(way, state).times(seen))
        forward.append(state)
        log_evidence += total + top + way.shift
    return forward, log_evidence + _scaled(state.times(_end(ways)))[1]


def _read(both: list[_State], band: Band, log_evidence: float) -> Alignment:
    values = np.zeros(band.cells.shape)
    nowhere, before, after = (np.zeros(len(both)) for _ in range(3))
    for t, state in enumerate(both):
        values[t, : len(state.placed)] = state.placed + state.again
        strange = state.strange + state.stranger
        before[t] = state.before
        nowhere[t] = strange.sum() + state.before
        memory = _inside(band.memory[t])
        after[t] = strange[memory == band.count - 1].sum()
    return Alignment(Chances(band.cells, values, band.count), nowhere, before, after, log_evidence)


def _inside(cells: IntArray) -> IntArray:
    return cells[: int(np.count_nonzero(cells >= 0))]


def _start(ways: Ways) -> _State:
    band = ways.band
    cells, memory = _inside(band.cells[0]), _inside(band.memory[0])
    none = np.zeros(len(memory))
    return _State(
        starting_prior(cells, ways.turns), np.zeros(len(cells)), none, none, before_prior()
    )


def _end(ways: Ways) -> _State:
    band = ways.band
    cells, memory = _inside(band.cells[-1]), _inside(band.memory[-1])
    here, away = ending_prior(cells, ways.turns), ending_prior(memory, ways.turns)
    return _State(here, here, away, away, STILL_BEFORE)


def _shown(band: Band, t: int, at: FloatArray, foreign: float) -> tuple[_State, float]:
    """What a frame itself says of each state, divided by exp of its highest."""
    width = int(np.count_nonzero(band.cells[t] >= 0))
    top = max(foreign, float(at[:width].max(initial=foreign)))
    here = np.exp(np.maximum(at[:width] - top, -_MOST_UNLIKELY))
    none = float(np.exp(max(foreign - top, -_MOST_UNLIKELY)))
    away = np.full(int(np.count_nonzero(band.memory[t] >= 0)), none)
    return _State(here, here, away, away, none), top


def _ways(ways: Ways, t: int, prior: FloatArray) -> _Ways:
    evidence, band = ways.evidence, ways.band
    before, memory = _inside(band.cells[t - 1]), _inside(band.memory[t - 1])
    cells = _inside(band.cells[t])
    beat, apart = evidence.beat[t], float(evidence.apart[t])
    steps, turns, kind, closed = _moves(evidence, before, cells)
    placed = prior[steps] + evidence.seen[t][kind] + beat[steps, turns] + closed
    again = placed + evidence.since_repeat[t][steps, turns]
    steps, turns, kind, closed = _moves(evidence, memory, cells)
    stranger = prior[steps] + float(np.log(GOES_ON_AFTER_FOREIGN)) + apart + closed
    strange = stranger + evidence.seen_over[t][kind] + evidence.beat_over[t][steps, turns]
    repeat = evidence.seen[t][evidence.kind[0, cells]] + beat[0, 0]
    every = (placed, again, strange, stranger, repeat)
    shift = max(float(way.max(initial=apart)) for way in every)
    remembered = _inside(band.memory[t])
    left = _index(before, remembered)
    leaving = foreign_prior(remembered, band.count) * (left < len(before))
    starts = len(cells) > 0 and cells[0] == 0
    return _Ways(
        np.exp(placed - shift),
        np.exp(again - shift),
        np.exp(strange - shift),
        np.exp(stranger - shift),
        np.exp(repeat - shift),
        _index(before, cells),
        left,
        leaving,
        _index(memory, remembered),
        from_before_prior(cells, ways.turns),
        float(np.exp(apart - shift)),
        STARTED_ANEW * float(np.exp(apart + evidence.anew[t] - shift)) if starts else 0.0,
        shift,
    )


def _moves(
    evidence: Evidence, before: IntArray, cells: IntArray
) -> tuple[IntArray, IntArray, IntArray, FloatArray]:
    """Steps, turns and kinds of the moves from `before` to `cells`, `_CLOSED` where none leads."""
    steps = cells[None, :] - before[:, None]
    is_open = (steps >= 1) & (steps <= evidence.steps)
    steps = np.where(is_open, steps, 1)
    home = before[:, None]
    return (
        steps,
        evidence.turns[steps, home],
        evidence.kind[steps, home],
        np.where(is_open, 0.0, _CLOSED),
    )


def _index(cells: IntArray, wanted: IntArray) -> IntArray:
    """Where each of `wanted` is among the ascending `cells`; their number where it is not."""
    place = np.searchsorted(cells, wanted)
    found = np.append(cells, -1)[place] == wanted
    return np.where(found, place, len(cells))


def _onward(way: _Ways, state: _State) -> _State:
    placed = (
        state.placed @ way.placed
        + state.again @ way.again
        + state.strange @ way.strange
        + state.stranger @ way.stranger
        + state.before * way.apart * way.begin
    )
    if way.anew:
        placed[0] += way.anew * (state.total() - state.before)
    here = np.append(REPEATED * state.placed + REPEATED_AGAIN * state.again, 0.0)
    gone = np.append(state.placed + state.again, 0.0)
    away = np.append(state.strange + state.stranger, 0.0)
    return _State(
        placed,
        way.repeat * here[way.same],
        way.apart * way.leaving * gone[way.left],
        way.apart * FOREIGN_AGAIN * away[way.kept],
        way.apart * FOREIGN_AGAIN * state.before,
    )


def _back(way: _Ways, state: _State) -> _State:
    anew = way.anew * float(state.placed[0]) if way.anew else 0.0
    here = _scattered(way.same, way.repeat * state.again, len(way.placed))
    gone = _scattered(way.left, way.apart * way.leaving * state.strange, len(way.placed))
    away = _scattered(way.kept, way.apart * FOREIGN_AGAIN * state.stranger, len(way.strange))
    return _State(
        way.placed @ state.placed + REPEATED * here + gone + anew,
        way.again @ state.placed + REPEATED_AGAIN * here + gone + anew,
        way.strange @ state.placed + away + anew,
        way.stranger @ state.placed + away + anew,
        way.apart * (FOREIGN_AGAIN * state.before + float(way.begin @ state.placed)),
    )


def _scattered(index: IntArray, values: FloatArray, count: int) -> FloatArray:
    """`values` added up at `index`, those beyond the last dropped."""
    return np.bincount(index, values, minlength=count + 1)[:count].astype(np.float64)


def _scaled(state: _State) -> tuple[_State, float]:
    total = max(state.total(), 1e-300)
    return state.over(total), float(np.log(total))
