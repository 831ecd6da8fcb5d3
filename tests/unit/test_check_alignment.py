"""The alignment's probabilities against summing over every possible history, one by one."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from belvedere.check import alignment
from belvedere.check.alignment import Evidence, align
from check_synthetic import evidence_of


def brute_force(evidence: Evidence) -> tuple[np.ndarray, float]:
    """Posterior (T, K) by summing the weight of all paths through the same states."""
    frames, reach, cells = evidence.step.shape
    graph = alignment._graph(cells, reach - 1)
    states = 4 * cells + 1
    emission = np.exp(alignment._emissions(evidence, cells))
    matrices = []
    for t in range(1, frames):
        matrix, shift = alignment._transitions(graph, evidence, t, states)
        matrices.append(np.asarray(matrix.todense()) * np.exp(shift))
    start, end = alignment._start(cells), alignment._end(cells)
    posterior = np.zeros((frames, cells))
    total = 0.0
    for path in product(range(states), repeat=frames):
        weight = start[path[0]] * emission[0, path[0]]
        for t in range(1, frames):
            weight *= matrices[t - 1][path[t - 1], path[t]] * emission[t, path[t]]
            if weight == 0.0:
                break
        weight *= end[path[-1]]
        total += weight
        for t, state in enumerate(path):
            if state < 2 * cells:
                posterior[t, state % cells] += weight
    return posterior / total, float(np.log(total))


def test_forward_backward_is_the_sum_over_all_histories() -> None:
    rng = np.random.default_rng(3)
    evidence = evidence_of([0, 1, 1], 2, 1, rng, blind=0.3)
    exact, log_total = brute_force(evidence)
    found = align(evidence)
    assert found.cell == pytest.approx(exact, abs=1e-9)
    assert found.log_evidence == pytest.approx(log_total, abs=1e-9)


def test_probabilities_add_up() -> None:
    rng = np.random.default_rng(4)
    found = align(evidence_of([0, 1, 3, 3, 4, -1, 5], 7, 4, rng, blind=0.2))
    assert found.cell.sum(axis=1) + found.nowhere == pytest.approx(1.0)


def test_without_any_evidence_frames_follow_the_sweep() -> None:
    rng = np.random.default_rng(5)
    found = align(evidence_of(list(range(6)), 6, 4, rng, blind=1.1))
    assert found.cell.argmax(axis=1).tolist() == list(range(6))


def test_confidence_is_low_where_a_gap_could_be_anywhere() -> None:
    # Five frames, six cells, nothing to see: any cell may be the missing one.
    rng = np.random.default_rng(6)
    found = align(evidence_of(list(range(5)), 6, 4, rng, blind=1.1))
    assert found.cell.max(axis=1).min() < 0.8


@pytest.mark.parametrize("gone", range(6))
def test_gap_is_found_where_the_pictures_do_not_match(gone: int) -> None:
    rng = np.random.default_rng([7, gone])
    cells = [k for k in range(6) if k != gone]
    evidence = evidence_of(cells, 6, 4, rng, blind=0.0)
    # The row's other end is known: frames of the row above lie where they should.
    at = np.full((5, 6), -2.0)
    at[np.arange(5), cells] = 5.0
    found = align(
        Evidence(
            evidence.step,
            evidence.step_over,
            evidence.since_repeat,
            at,
            evidence.foreign,
            evidence.apart,
        )
    )
    assert found.cell.argmax(axis=1).tolist() == cells
