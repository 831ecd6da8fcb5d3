"""The order of the retakes: against every order there is, and against the definition of a move."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from belvedere.check.tour import MOST_EXACT, short_way, way_cost

PLACES = st.integers(2, 8).flatmap(
    lambda count: arrays(np.float64, (count, 2), elements=st.integers(-40, 40).map(float))
)


def both_axes_at_once(places: np.ndarray) -> np.ndarray:
    """Both axes turn at the same time: a move takes as long as the longer of the two."""
    return np.abs(places[:, None] - places[None]).max(axis=-1)


@given(PLACES)
def test_no_order_is_shorter(places: np.ndarray) -> None:
    """By trying every order (7! at most): that is what shortest means."""
    cost = both_axes_at_once(places)
    way = short_way(cost)
    assert sorted(way) == list(range(1, len(places)))
    shortest = min(way_cost(np.array(order), cost) for order in permutations(sorted(way)))
    assert way_cost(way, cost) == pytest.approx(shortest)


@given(st.integers(MOST_EXACT + 1, 60), st.integers(0, 1000))
def test_long_ways_visit_all_and_no_stretch_wants_turning(count: int, seed: int) -> None:
    """A way that 2-opt ends with cannot be bettered by turning any one stretch (Croes 1958)."""
    places = np.random.default_rng(seed).uniform(-40.0, 40.0, (count + 1, 2))
    cost = both_axes_at_once(places)
    way = short_way(cost)
    assert sorted(way) == list(range(1, count + 1))
    length = way_cost(way, cost)
    for first in range(count - 1):
        for last in range(first + 1, count):
            turned = way.copy()
            turned[first : last + 1] = way[first : last + 1][::-1]
            assert way_cost(turned, cost) >= length - 1e-6


@pytest.mark.parametrize("seed", range(5))
def test_long_ways_are_near_what_random_points_allow(seed: int) -> None:
    """Shortest ways through n points at random in a square of area A are about 0.7124 √(nA) long.

    Beardwood, Halton, Hammersley, 1959; the constant from D. S. Johnson, L. A. McGeoch, E. E.
    Rothberg, 1996 (from memory; Euclidean). 2-opt stays within some per cent: 15 % are allowed, and
    8 % for the edge of a square with only 400 points.
    """
    places = np.random.default_rng(seed).uniform(0.0, 1.0, (401, 2))
    cost = np.linalg.norm(places[:, None] - places[None], axis=-1)
    assert way_cost(short_way(cost), cost) < 0.7124 * np.sqrt(400.0) * 1.15 * 1.08


def test_nothing_to_visit_and_one_stop() -> None:
    assert len(short_way(np.zeros((1, 1)))) == 0
    assert short_way(np.array([[0.0, 3.0], [3.0, 0.0]])).tolist() == [1]
