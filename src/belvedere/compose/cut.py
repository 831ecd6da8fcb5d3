"""The cheapest line between two pictures of the same part of the scene.

V. Kwatra, A. Schödl, I. Essa, G. Turk, A. Bobick, "Graphcut textures: image and video synthesis
using graph cuts", ACM Transactions on Graphics 22(3), 2003: every pixel is a node, the cost of
parting two neighbours is how much the pictures differ there, and the minimum cut is the seam. The
maximum flow is scipy's (Dinic).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

Costs = NDArray[np.float32]
Mask = NDArray[np.bool_]
Nodes = NDArray[np.int32]

#: Costs are cut to whole numbers of this.
_UNITS = 16.0
_CERTAIN = 1e6


def cut(open_: Mask, first: Mask, parting: Costs, for_first: Costs) -> Mask:
    """Which pixels of a region go to the first of two pictures.

    Parameters
    ----------
    open_
        (height, width): the pixels to decide.
    first
        For the others: whether the first picture has them. Seams may run along them too.
    parting
        What it costs to part this pixel from a neighbour, half of it.
    for_first
        What it costs, for each open pixel, to give it to the second picture (positive) or to the
        first (negative).

    Returns
    -------
    (height, width): `first` where not open, the decision where open.
    """
    decided = first.copy()
    if not open_.any():
        return decided
    node = np.full(open_.shape, -1, np.int32)
    count = int(open_.sum())
    node[open_] = np.arange(count, dtype=np.int32)
    to_first = np.maximum(for_first[open_], 0.0).astype(np.float64)
    to_second = np.maximum(-for_first[open_], 0.0).astype(np.float64)
    links: list[tuple[Nodes, Nodes, Costs]] = []
    for here, there in _NEIGHBOURS:
        cost = parting[here] + parting[there]
        a, b = node[here], node[there]
        both = (a >= 0) & (b >= 0)
        links.append((a[both], b[both], cost[both]))
        for inner, outer_first in ((a, first[there]), (b, first[here])):
            outer = a if inner is b else b
            rim = (inner >= 0) & (outer < 0)
            given = rim & outer_first
            np.add.at(to_first, inner[given], cost[given])
            given = rim & ~outer_first
            np.add.at(to_second, inner[given], cost[given])
    decided[open_] = _first_side(count, links, to_first, to_second)
    return decided


_NEIGHBOURS = (
    (np.s_[:, :-1], np.s_[:, 1:]),
    (np.s_[:-1, :], np.s_[1:, :]),
)


def _first_side(
    count: int,
    links: list[tuple[Nodes, Nodes, Costs]],
    to_first: NDArray[np.float64],
    to_second: NDArray[np.float64],
) -> Mask:
    """The nodes on the first picture's side of the minimum cut."""
    # A node linked to both ends passes the smaller share straight on: only the rest matters.
    passed = np.minimum(to_first, to_second)
    nodes = np.arange(count, dtype=np.int32)
    source, sink = np.full(count, count, np.int32), np.full(count, count + 1, np.int32)
    tails = [source, nodes]
    heads = [nodes, sink]
    costs = [to_first - passed, to_second - passed]
    for a, b, cost in links:
        tails += [a, b]
        heads += [b, a]
        costs += [cost.astype(np.float64)] * 2
    capacity = np.rint(np.minimum(np.concatenate(costs), _CERTAIN) * _UNITS).astype(np.int32)
    graph = csr_array(
        coo_array(
            (capacity, (np.concatenate(tails), np.concatenate(heads))), shape=(count + 2,) * 2
        )
    )
    flow = maximum_flow(graph, count, count + 1).flow
    left = csr_array(graph - flow)
    left.eliminate_zeros()
    reached = breadth_first_order(left, count, return_predecessors=False)
    side = np.zeros(count + 2, np.bool_)
    side[reached] = True
    return side[:count]
