"""The order in which few places cost the head the least: a shortest way, not a round trip."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Up to so many stops the way is the shortest there is; beyond, a good one.
MOST_EXACT = 9
#: Improvements end after so many rounds: each looks at every pair of stops.
_MOST_ROUNDS = 40
_NO_GAIN = 1e-9


def short_way(cost: FloatArray) -> IntArray:
    """The stops 1 to n in the order of a short way that begins at 0 and ends anywhere.

    Parameters
    ----------
    cost
        (n + 1, n + 1), symmetric and finite: what the move between any two places costs.

    Returns
    -------
    IntArray
        (n,). Exact to `MOST_EXACT` stops: M. Held, R. M. Karp, "A dynamic programming approach to
        sequencing problems", J. SIAM 10(1), 1962. Beyond: the nearest first, or as numbered, each
        improved by turning stretches round (G. A. Croes, "A method for solving
        traveling-salesman problems", Operations Research 6(6), 1958); the shorter of the two.
    """
    stops = len(cost) - 1
    if stops <= 1:
        return np.arange(1, stops + 1)
    if stops <= MOST_EXACT:
        return _shortest(cost)
    ways = [_improved(way, cost) for way in (_nearest_first(cost), np.arange(1, stops + 1))]
    return min(ways, key=lambda way: way_cost(way, cost))


def way_cost(way: IntArray, cost: FloatArray) -> float:
    """What a way costs that begins at 0."""
    places = np.concatenate([[0], way])
    return float(cost[places[:-1], places[1:]].sum())


def _shortest(cost: FloatArray) -> IntArray:
    """Held and Karp: the cheapest way through each set of stops that ends at each of them."""
    stops = len(cost) - 1
    best = np.full((1 << stops, stops), np.inf)
    came_from = np.zeros((1 << stops, stops), dtype=np.int64)
    for stop in range(stops):
        best[1 << stop, stop] = cost[0, stop + 1]
    between = cost[1:, 1:]
    for visited in range(1, 1 << stops):
        for last in range(stops):
            before = visited & ~(1 << last)
            if before == visited or not before:
                continue
            through = best[before] + between[:, last]
            came_from[visited, last] = int(through.argmin())
            best[visited, last] = through.min()
    visited, last = (1 << stops) - 1, int(best[-1].argmin())
    way: list[int] = []
    while visited:
        way.append(last + 1)
        visited, last = visited & ~(1 << last), int(came_from[visited, last])
    return np.array(way[::-1])


def _nearest_first(cost: FloatArray) -> IntArray:
    left = np.ones(len(cost), dtype=bool)
    left[0], here, way = False, 0, []
    while left.any():
        here = int(np.where(left, cost[here], np.inf).argmin())
        left[here] = False
        way.append(here)
    return np.array(way)


def _improved(way: IntArray, cost: FloatArray) -> IntArray:
    """Turn round the stretch that saves the most from each place, until nothing does."""
    places = np.concatenate([[0], way])
    for _ in range(_MOST_ROUNDS):
        gained = False
        for first in range(1, len(places) - 1):
            saved = _saved(places, cost, first)
            best = int(saved.argmax())
            if saved[best] > _NO_GAIN:
                last = first + 1 + best
                places[first : last + 1] = places[first : last + 1][::-1]
                gained = True
        if not gained:
            break
    return places[1:]


def _saved(places: IntArray, cost: FloatArray, first: int) -> FloatArray:
    """What is saved by turning round the stretch from `first` to each later place."""
    before, here, lasts = places[first - 1], places[first], places[first + 1 :]
    saved: FloatArray = cost[before, here] - cost[before, lasts]
    # The way ends anywhere: after the last place there is no move.
    following = lasts[1:]
    saved[:-1] += cost[lasts[:-1], following] - cost[here, following]
    return saved
