"""Align the frames, in shutter order, with the cells, in sweep order.

A hidden Markov model: at each frame the head is at a cell, or the frame belongs to none. From
frame to frame the sweep goes on to the next cell, leaves cells out, stays (a repeated frame),
starts anew, or the frame is foreign. Forward–backward (L. R. Rabiner, "A tutorial on hidden
Markov models", Proc. IEEE 77(2), 1989) gives for every frame the probability of every cell.

All evidence comes in as log likelihood ratios against "says nothing", so silence is 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# How often things happen in a sweep: common practice, no source. Per frame.
_REPEATED = 0.004
_REPEATED_AGAIN = 0.02
_FOREIGN = 0.0008
_FOREIGN_AGAIN = 0.5
_FOREIGN_AFTER = 0.3
_STARTED_ANEW = 1e-8
_LEFT_OUT = 0.008
_LEFT_OUT_ALSO = 0.3
_LEAST_LEFT_OUT = 2e-6
_FOREIGN_FIRST = 0.15
_STARTED_LATE = 0.01
_STOPPED_EARLY = 0.01
_STOPPED_EARLY_ALSO = 0.75
#: No cell is further than this from another one that the sweep goes on from.
_MOST_STEPS = 60


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of T frames and K cells; log likelihood ratios throughout.

    `step` (T, N + 1, K): frame t - 1 at cell k and frame t at cell k + n, from pictures and
    clock. `step_over` (T, N + 1, K): the same for frame t - 2, the frame between them being
    foreign. `since_repeat` (T, N + 1, K): added to `step` where frame t - 1 was a repeat: the
    clock may count from the first take. `at` (T, K): frame t at cell k. `foreign` (T,): frame t
    at none, as against in the sweep. `apart` (T,): frames t - 1 and t are no two of the
    sweep in a row, yet may show the same part of the scene.
    """

    step: FloatArray | NDArray[np.float32]
    step_over: FloatArray | NDArray[np.float32]
    since_repeat: FloatArray | NDArray[np.float32]
    at: FloatArray
    foreign: FloatArray
    apart: FloatArray


@dataclass(frozen=True, slots=True)
class Alignment:
    """What the frames are, each with its probability.

    `cell` (T, K): frame t shows cell k. `nowhere` (T,): it shows none; `before`, `after` and
    the rest of `nowhere` tell when. `log_evidence` compares alignments of the same frames.
    """

    cell: FloatArray
    nowhere: FloatArray
    before: FloatArray
    after: FloatArray
    log_evidence: float


def most_steps(cells: int, line_cells: int) -> int:
    """How many steps ahead the sweep is looked for: two lines, or one and some if it is long."""
    return max(1, min(cells, max(4, line_cells + min(line_cells, 12) + 2), _MOST_STEPS))


@dataclass(frozen=True, slots=True)
class _Graph:
    """All transitions, fixed for a sweep: states, prior, and where the evidence stands."""

    source: IntArray
    target: IntArray
    prior: FloatArray
    kind: IntArray
    steps: IntArray
    cell: IntArray
    order: IntArray
    indptr: IntArray


# Kinds of transitions, by the evidence they take.
_NEXT, _NEXT_FROM_REPEAT, _NEXT_OVER, _APART = range(4)


@dataclass(frozen=True, slots=True)
class Transitions:
    """Weights from frame to frame, states × states, each divided by exp of its shift.

    They rest on what frames show of each other and on the clock, not on `at` and `foreign`: kept,
    they serve every alignment that differs in those alone.
    """

    weights: tuple[csr_matrix, ...]
    shifts: tuple[float, ...]


def transitions(evidence: Evidence) -> Transitions:
    """The weights of all moves between the frames."""
    frames, reach, cells = evidence.step.shape
    graph = _graph(cells, reach - 1)
    found = [_transitions(graph, evidence, t, 4 * cells + 1) for t in range(1, frames)]
    return Transitions(tuple(w for w, _ in found), tuple(s for _, s in found))


def align(evidence: Evidence, known: Transitions | None = None) -> Alignment:
    """The probability of every cell for every frame; `known` saves making `transitions`."""
    frames, _, cells = evidence.step.shape
    moves = transitions(evidence) if known is None else known
    states = 4 * cells + 1
    emission = _emissions(evidence, cells)
    forward = np.zeros((frames, states))
    scale = np.zeros(frames)
    top = emission.max(axis=1)
    shown = np.exp(emission - top[:, None])
    forward[0], scale[0] = _scaled(_start(cells) * shown[0])
    scale[0] += top[0]
    for t in range(1, frames):
        forward[t], scale[t] = _scaled((forward[t - 1] @ moves.weights[t - 1]) * shown[t])
        scale[t] += moves.shifts[t - 1] + top[t]
    end = _end(cells)
    backward = np.zeros((frames, states))
    backward[-1] = end
    for t in range(frames - 2, -1, -1):
        backward[t], _ = _scaled(moves.weights[t] @ (backward[t + 1] * shown[t + 1]))
    both = forward * backward
    both /= both.sum(axis=1, keepdims=True)
    log_evidence = float(scale.sum() + np.log((forward[-1] * end).sum()))
    return _read(both, cells, log_evidence)


def _read(both: FloatArray, cells: int, log_evidence: float) -> Alignment:
    first, again = both[:, 0:cells], both[:, cells : 2 * cells]
    strange = both[:, 2 * cells : 3 * cells] + both[:, 3 * cells : 4 * cells]
    before = both[:, 4 * cells]
    return Alignment(
        cell=first + again,
        nowhere=strange.sum(axis=1) + before,
        before=before,
        after=strange[:, -1],
        log_evidence=log_evidence,
    )


def _start(cells: int) -> FloatArray:
    start = np.zeros(4 * cells + 1)
    late = _STARTED_LATE * 0.5 ** np.arange(cells)
    late[0] = 1.0
    start[:cells] = (1.0 - _FOREIGN_FIRST) * np.maximum(late, 1e-9)
    start[4 * cells] = _FOREIGN_FIRST
    return start


def _end(cells: int) -> FloatArray:
    left = cells - 1 - np.arange(cells)
    chance = np.where(
        left == 0, 1.0, _STOPPED_EARLY * _STOPPED_EARLY_ALSO ** np.maximum(left - 1, 0)
    )
    chance = np.maximum(chance, 1e-7)
    return np.concatenate([chance, chance, chance, chance, [1e-9]])


def _emissions(evidence: Evidence, cells: int) -> FloatArray:
    foreign = np.repeat(evidence.foreign[:, None], cells, axis=1)
    return np.concatenate(
        [evidence.at, evidence.at, foreign, foreign, evidence.foreign[:, None]], axis=1
    )


def _left_out_prior(steps: IntArray) -> FloatArray:
    """Prior of a move by `steps` cells, 1 being the next."""
    chance = _LEFT_OUT * _LEFT_OUT_ALSO ** (steps - 2.0)
    return np.where(steps == 1, 1.0 - _LEFT_OUT, np.maximum(chance, _LEAST_LEFT_OUT))


def _graph(cells: int, reach: int) -> _Graph:
    k = np.arange(cells)
    placed, again, strange, stranger = k, cells + k, 2 * cells + k, 3 * cells + k
    before = np.array([4 * cells])
    parts: list[tuple[IntArray, IntArray, FloatArray, int, IntArray, IntArray]] = []

    def add(
        source: IntArray,
        target: IntArray,
        prior: FloatArray | float,
        kind: int,
        steps: IntArray,
        cell: IntArray,
    ) -> None:
        shape = np.broadcast_shapes(source.shape, target.shape)
        full = [
            np.broadcast_to(np.asarray(v), shape).ravel()
            for v in (source, target, prior, steps, cell)
        ]
        parts.append((full[0], full[1], full[2].astype(np.float64), kind, full[3], full[4]))

    n_all, k_all = (grid.ravel() for grid in np.meshgrid(np.arange(1, reach + 1), k, indexing="ij"))
    inside = k_all + n_all < cells
    n_all, k_all = n_all[inside], k_all[inside]
    prior = _left_out_prior(n_all)
    add(placed[k_all], k_all + n_all, prior, _NEXT, n_all, k_all)
    add(again[k_all], k_all + n_all, prior, _NEXT_FROM_REPEAT, n_all, k_all)
    add(strange[k_all], k_all + n_all, prior * 0.5, _NEXT_OVER, n_all, k_all)
    add(stranger[k_all], k_all + n_all, prior * 0.5, _APART, n_all, k_all)
    zero = np.zeros(1, dtype=np.int64)
    add(placed, again, _REPEATED, _NEXT, zero, k)
    add(again, again, _REPEATED_AGAIN, _NEXT, zero, k)
    foreign = np.where(k == cells - 1, _FOREIGN_AFTER, _FOREIGN)
    add(placed, strange, foreign, _APART, zero, k)
    add(again, strange, foreign, _APART, zero, k)
    add(strange, stranger, _FOREIGN_AGAIN, _APART, zero, k)
    add(stranger, stranger, _FOREIGN_AGAIN, _APART, zero, k)
    add(before, before, 0.5, _APART, zero, zero)
    add(
        before,
        k,
        0.5 * np.maximum(np.where(k == 0, 1.0, _STARTED_LATE * 0.5**k), 1e-9),
        _APART,
        zero,
        zero,
    )
    for states in (placed, again, strange, stranger):
        add(states, zero, _STARTED_ANEW, _APART, zero, k)
    return _packed(parts, 4 * cells + 1)


def _packed(
    parts: list[tuple[IntArray, IntArray, FloatArray, int, IntArray, IntArray]], states: int
) -> _Graph:
    source = np.concatenate([part[0] for part in parts])
    target = np.concatenate([part[1] for part in parts])
    kind = np.concatenate([np.full(len(part[0]), part[3]) for part in parts])
    order = np.lexsort((target, source))
    indptr = np.concatenate([[0], np.cumsum(np.bincount(source, minlength=states))])
    return _Graph(
        source[order],
        target[order],
        np.concatenate([part[2] for part in parts])[order],
        kind[order],
        np.concatenate([part[4] for part in parts])[order],
        np.concatenate([part[5] for part in parts])[order],
        order,
        indptr,
    )


def _transitions(
    graph: _Graph, evidence: Evidence, t: int, states: int
) -> tuple[csr_matrix, float]:
    """Transition weights to frame t, divided by exp(shift) so that they stay in range."""
    log_weight = np.log(graph.prior)
    tables = {
        _NEXT: evidence.step[t],
        _NEXT_FROM_REPEAT: evidence.step[t] + evidence.since_repeat[t],
        _NEXT_OVER: evidence.step_over[t] + evidence.apart[t],
    }
    for kind, table in tables.items():
        chosen = graph.kind == kind
        log_weight[chosen] += table[graph.steps[chosen], graph.cell[chosen]]
    log_weight[graph.kind == _APART] += evidence.apart[t]
    shift = float(log_weight.max())
    matrix = csr_matrix(
        (np.exp(log_weight - shift), graph.target, graph.indptr), shape=(states, states)
    )
    return matrix, shift


def _scaled(values: FloatArray) -> tuple[FloatArray, float]:
    total = float(values.sum())
    return values / total, float(np.log(total))
