"""Random sweeps with missing, repeated and foreign frames: the alignment finds what happened."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.check.alignment import Ways, align
from belvedere.check.band import band_of
from belvedere.check.evidence import Evidence
from check_synthetic import aligned, chances_of, evidence_of


@st.composite
def histories(draw: st.DrawFn) -> tuple[list[int], int, int]:
    """Cells as the frames show them (-1 for foreign), the number of cells, a seed."""
    count = draw(st.integers(6, 24))
    # A lone frame between strangers and a gap could be a stranger itself: not asked here.
    gone = draw(st.sets(st.integers(2, count - 3), max_size=min(3, count // 5)))
    again = draw(st.sets(st.integers(0, count - 1), max_size=2)) - gone
    before = draw(st.integers(0, 2))
    cells = [-1] * before
    for k in range(count):
        if k in gone:
            continue
        cells.append(k)
        if k in again:
            cells.append(k)
    cells += [-1] * draw(st.integers(0, 2))
    return cells, count, draw(st.integers(0, 1_000_000))


def with_clock(evidence: Evidence, cells: list[int], interval_s: float = 3.0) -> Evidence:
    """Add what a clock of whole seconds says: gaps of n intervals for moves by n cells."""
    beat = np.array(evidence.beat)
    steps = np.arange(beat.shape[1])
    for t in range(1, len(cells)):
        a, b = cells[t - 1], cells[t]
        if a < 0 or b < 0:
            continue
        gap = 0.4 * interval_s if a == b else (b - a) * interval_s
        off = (gap - steps * interval_s) / 0.5
        heard = np.maximum(-0.5 * off**2, -3.5) + 1.5
        heard[0] = 0.0
        beat[t] += heard[:, None]
    return replace(evidence, beat=beat)


@given(histories())
@settings(max_examples=60, deadline=None)
def test_what_happened_is_found(history: tuple[list[int], int, int]) -> None:
    cells, count, seed = history
    rng = np.random.default_rng(seed)
    evidence = evidence_of(cells, count, min(count, 8), rng, blind=0.0)
    found = aligned(with_clock(evidence, cells))
    cell, chance = found.cell.likeliest()
    placed = np.where(found.nowhere > chance, -1, cell)
    assert placed.tolist() == cells


@given(histories())
@settings(max_examples=30, deadline=None)
def test_blind_pairs_cost_confidence_not_truth(history: tuple[list[int], int, int]) -> None:
    """Where a third of the pairs say nothing, a wrong placement must not be a sure one."""
    cells, count, seed = history
    rng = np.random.default_rng(seed)
    found = aligned(with_clock(evidence_of(cells, count, min(count, 8), rng, 0.33), cells))
    cell, chance = found.cell.likeliest()
    placed = np.where(found.nowhere > chance, -1, cell)
    wrong = placed != np.array(cells)
    sure = np.where(placed < 0, found.nowhere, chance) > 0.999
    assert not (wrong & sure)[np.array(cells) >= 0].any()


@given(st.integers(40, 120), st.floats(0.0, 0.9), st.integers(0, 1_000_000))
@settings(max_examples=25, deadline=None)
def test_what_the_band_leaves_out_does_not_matter(count: int, blind: float, seed: int) -> None:
    """Against the sum over all cells: no probability is off by a hundredth."""
    rng = np.random.default_rng(seed)
    cells = [k for k in range(count) if rng.random() > 0.05 or k in (0, count - 1)]
    evidence = evidence_of(cells, count, 8, rng, blind)
    silent = np.zeros(len(cells))
    band = band_of(evidence, silent)
    found = align(Ways(evidence, band), np.zeros(band.cells.shape), silent)
    assert np.abs(chances_of(found) - chances_of(aligned(evidence))).max() < 0.01
