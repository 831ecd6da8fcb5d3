"""Levels over a graph come back from their differences, whatever the graph."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.measure import solve_levels


@st.composite
def _graphs(draw: st.DrawFn) -> tuple[int, list[tuple[int, int]], int]:
    """A connected graph: every frame has one earlier neighbour, some have more."""
    count = draw(st.integers(2, 25))
    pairs = [(draw(st.integers(0, node - 1)), node) for node in range(1, count)]
    extra = draw(st.lists(st.tuples(st.integers(0, count - 1), st.integers(0, count - 1))))
    pairs += [(a, b) for a, b in extra if a != b]
    return count, pairs, draw(st.integers(0, 2**31))


@given(_graphs())
@settings(max_examples=60, deadline=None)
def test_levels_come_back_up_to_a_constant(graph: tuple[int, list[tuple[int, int]], int]) -> None:
    count, pairs, seed = graph
    truth = np.random.default_rng(seed).normal(0.0, 1.0, (count, 2))
    ends = np.array(pairs, dtype=np.intp)
    difference = truth[ends[:, 1]] - truth[ends[:, 0]]
    levels = solve_levels(count, ends, difference, np.full(len(pairs), 0.1))
    apart = levels.value - truth
    np.testing.assert_allclose(apart, np.broadcast_to(apart[0], apart.shape), atol=1e-5)
    np.testing.assert_allclose(np.median(levels.value, axis=0), 0.0, atol=1e-9)
    assert len(np.unique(levels.group)) == 1


def test_one_wild_difference_does_not_move_the_others() -> None:
    # A 4 × 5 grid of frames, one overlap of which is nonsense.
    cells = [(row, column) for row in range(4) for column in range(5)]
    index = {cell: number for number, cell in enumerate(cells)}
    pairs = [(index[r, c], index[r, c + 1]) for r, c in cells if c < 4]
    pairs += [(index[r, c], index[r + 1, c]) for r, c in cells if r < 3]
    difference = np.zeros((len(pairs), 1))
    difference[7] = 5.0
    levels = solve_levels(20, np.array(pairs, dtype=np.intp), difference, np.full(len(pairs), 0.02))
    assert np.abs(levels.value).max() < 0.05


def test_frames_without_differences_stand_alone() -> None:
    levels = solve_levels(4, np.array([[0, 2]]), np.array([[1.0]]), np.array([0.1]))
    assert levels.group[0] == levels.group[2]
    assert len({levels.group[0], levels.group[1], levels.group[3]}) == 3
    assert np.isinf(levels.error[[1, 3]]).all()
    assert np.isclose(levels.value[2, 0] - levels.value[0, 0], 1.0)
    nothing = solve_levels(3, np.zeros((0, 2), dtype=np.intp), np.zeros((0, 1)), np.zeros(0))
    assert np.isinf(nothing.error).all()
