"""The alignment's probabilities against summing over every possible history, one by one."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from belvedere.check import sweep_prior as prior
from belvedere.check.evidence import Evidence
from belvedere.check.path_score import path_score
from check_synthetic import aligned, chances_of, evidence_from, evidence_of

#: A state of the model: what the frame is, and the cell it shows or the sweep had come to.
State = tuple[str, int]


def weight_to(evidence: Evidence, t: int, before: State, after: State) -> float:
    """The model's weight of one step, as `alignment` describes it in words."""
    (was, a), (becomes, b) = before, after
    loose = float(np.exp(evidence.apart[t]))
    if becomes == "before":
        return prior.FOREIGN_AGAIN * loose if was == "before" else 0.0
    if becomes in ("strange", "stranger"):
        if b != a or was == "before" or (becomes == "strange") != (was in ("placed", "again")):
            return 0.0
        leaving = prior.foreign_prior(np.array([a]), evidence.cells)[0]
        return loose * (leaving if becomes == "strange" else prior.FOREIGN_AGAIN)
    if becomes == "again":
        seen = float(np.exp(evidence.seen[t][evidence.kind[0, b]]))
        rate = {"placed": prior.REPEATED, "again": prior.REPEATED_AGAIN}.get(was, 0.0)
        return rate * seen if a == b else 0.0
    if was == "before":
        return float(prior.from_before_prior(np.array([b]), evidence.next_turns)[0]) * loose
    anew = prior.STARTED_ANEW * loose if b == 0 else 0.0
    steps = b - a
    if not 1 <= steps <= evidence.steps:
        return anew
    rate = float(np.exp(prior.step_log_prior(evidence.steps)[steps]))
    kind = evidence.kind[steps, a]
    if was in ("placed", "again"):
        return anew + rate * float(np.exp(evidence.seen[t][kind]))
    rate *= prior.GOES_ON_AFTER_FOREIGN * loose
    return anew + rate * (float(np.exp(evidence.seen_over[t][kind])) if was == "strange" else 1.0)


def brute_force(evidence: Evidence) -> tuple[np.ndarray, float, dict[tuple[State, ...], float]]:
    """Posterior (T, K), log of the sum, and the weight of every history through the states."""
    cells = evidence.cells
    kinds = ("placed", "again", "strange", "stranger")
    states = [(kind, k) for kind in kinds for k in range(cells)] + [("before", -1)]
    posterior = np.zeros((evidence.frames, cells))
    weights: dict[tuple[State, ...], float] = {}
    for path in product(states, repeat=evidence.frames):
        first, last = path[0], path[-1]
        weight = 0.0
        if first[0] == "placed":
            weight = float(prior.starting_prior(np.array([first[1]]), evidence.next_turns)[0])
        elif first[0] == "before":
            weight = prior.before_prior()
        for t in range(1, evidence.frames):
            if weight == 0.0:
                break
            weight *= weight_to(evidence, t, path[t - 1], path[t])
        if last[0] == "before":
            weight *= prior.STILL_BEFORE
        else:
            weight *= float(prior.ending_prior(np.array([last[1]]), evidence.next_turns)[0])
        if weight == 0.0:
            continue
        weights[path] = weight
        for t, (kind, k) in enumerate(path):
            if kind in ("placed", "again"):
                posterior[t, k] += weight
    total = sum(weights.values())
    return posterior / total, float(np.log(total)), weights


@pytest.mark.parametrize("apart", [0.0, 0.7])
def test_forward_backward_is_the_sum_over_all_histories(apart: float) -> None:
    rng = np.random.default_rng(3)
    evidence = evidence_of([0, 1, 1], 2, 1, rng, blind=0.3)
    evidence = replace(evidence, apart=np.full(3, apart))
    exact, log_total, _ = brute_force(evidence)
    found = aligned(evidence)
    assert chances_of(found) == pytest.approx(exact, abs=1e-9)
    assert found.log_evidence == pytest.approx(log_total, abs=1e-9)


@pytest.mark.parametrize(
    "cells", [[0, 1, 2], [0, 0, 1], [0, -1, 1], [-1, 0, 2], [0, -1, -1], [1, 0, 1], [2, 2, 2]]
)
def test_score_of_a_path_is_its_weight(cells: list[int]) -> None:
    rng = np.random.default_rng(4)
    step, over = rng.normal(0.0, 2.0, (2, 3, 3, 3))
    evidence = replace(evidence_from(step, over), apart=rng.normal(0.0, 1.0, 3))
    _, _, weights = brute_force(evidence)
    histories = [
        weight for path, weight in weights.items()
        if [k if kind in ("placed", "again") else -1 for kind, k in path] == cells
        and not any(
            # Cell 0 once more is a repeat here, not the same sweep begun anew.
            a == b and kind == "placed" for (_, a), (kind, b) in pairwise(path)
        )
    ]  # fmt: skip
    found = path_score(evidence, np.array(cells), np.zeros(3))
    assert found == pytest.approx(float(np.log(sum(histories))), abs=1e-9)


def test_probabilities_add_up() -> None:
    rng = np.random.default_rng(4)
    found = aligned(evidence_of([0, 1, 3, 3, 4, -1, 5], 7, 4, rng, blind=0.2))
    assert chances_of(found).sum(axis=1) + found.nowhere == pytest.approx(1.0)


def test_without_any_evidence_frames_follow_the_sweep() -> None:
    rng = np.random.default_rng(5)
    found = aligned(evidence_of(list(range(6)), 6, 4, rng, blind=1.1))
    assert found.cell.likeliest()[0].tolist() == list(range(6))


def test_confidence_is_low_where_a_gap_could_be_anywhere() -> None:
    # Five frames, six cells, nothing to see: any cell may be the missing one.
    rng = np.random.default_rng(6)
    found = aligned(evidence_of(list(range(5)), 6, 4, rng, blind=1.1))
    assert found.cell.likeliest()[1].min() < 0.8


@pytest.mark.parametrize("gone", range(6))
def test_gap_is_found_where_the_pictures_do_not_match(gone: int) -> None:
    rng = np.random.default_rng([7, gone])
    cells = [k for k in range(6) if k != gone]
    evidence = evidence_of(cells, 6, 4, rng, blind=0.0)
    # The row's other end is known: frames of the row above lie where they should.
    at = np.full((5, 6), -2.0)
    at[np.arange(5), cells] = 5.0
    assert aligned(evidence, at).cell.likeliest()[0].tolist() == cells


def test_sweep_begun_anew_after_some_frames() -> None:
    """Three frames, then the whole sweep from its first cell: pictures match within each part."""
    rng = np.random.default_rng(8)
    cells = [0, 1, 2, *range(8)]
    evidence = evidence_of(cells, 8, 4, rng, blind=0.0)
    assert aligned(evidence).cell.likeliest()[0].tolist() == cells
