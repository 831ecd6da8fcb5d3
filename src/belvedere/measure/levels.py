"""From differences between neighbours to one value for each frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph
from scipy.sparse.linalg import splu

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


_ROUNDS = 16


@dataclass(frozen=True, slots=True)
class Levels:
    """One value (or several) for each frame, up to a constant for each group of frames.

    `value` (n, k); `error` (n,) standard error from the frame's own differences, inf for a
    frame without any; `group` (n,) numbers frames that hang together through differences, which
    are `pairs` (m, 2) with the weights (m,) that they kept.
    """

    value: FloatArray
    error: FloatArray
    group: IntArray
    pairs: IntArray
    weight: FloatArray

    def apart(self, members: IntArray) -> FloatArray:
        """Standard error of the difference between any two of a whole group's members, (k, k).

        Frames that hang together by a thread of uncertain differences have a large one: it is
        the root of the resistance between them, weights being conductances (D. J. Klein,
        M. Randić, "Resistance distance", J. Math. Chem. 12, 1993).
        """
        place = np.full(len(self.value), -1, dtype=np.intp)
        place[members] = np.arange(len(members))
        ends = place[self.pairs]
        inside = (ends >= 0).all(axis=1)
        (first, second), weight = ends[inside].T, self.weight[inside]
        laplacian = np.zeros((len(members), len(members)))
        np.add.at(laplacian, (first, first), weight)
        np.add.at(laplacian, (second, second), weight)
        np.add.at(laplacian, (first, second), -weight)
        np.add.at(laplacian, (second, first), -weight)
        lift = float(np.trace(laplacian)) / len(members) ** 2
        # The ridge is for members that hang together only through frames left out.
        inverse = np.linalg.inv(laplacian + lift + 1e-7 * lift * np.eye(len(members)))
        own = np.diag(inverse)
        between: FloatArray = own[:, None] + own[None, :] - 2.0 * inverse
        return np.sqrt(np.maximum(between, 0.0))


class _Normal:
    """The normal equations of value[b] - value[a] = difference, their pattern found once."""

    def __init__(self, frames: int, pairs: IntArray) -> None:
        self._pairs = pairs
        self._frames = frames
        first, second = pairs[:, 0], pairs[:, 1]
        whole = np.arange(frames)
        row = np.concatenate([whole, first, second])
        column = np.concatenate([whole, second, first])
        cells, self._cell = np.unique(column * frames + row, return_inverse=True)
        columns, self._rows = np.divmod(cells, frames)
        self._begin = np.searchsorted(columns, np.arange(frames + 1))
        self.graph = sparse.csc_array(
            (np.ones(len(cells)), self._rows, self._begin), shape=(frames, frames)
        )

    def solve(self, weight: FloatArray, difference: FloatArray) -> FloatArray:
        """Values (frames, k) by weights (m,) and differences (m, k)."""
        held = np.full(self._frames, 1e-9 * max(1.0, float(weight.mean())))
        right = np.zeros((self._frames, difference.shape[1]))
        for end, sign in ((0, -1.0), (1, 1.0)):
            np.add.at(held, self._pairs[:, end], weight)
            np.add.at(right, self._pairs[:, end], sign * weight[:, None] * difference)
        values = np.bincount(self._cell, np.concatenate([held, -weight, -weight]))
        matrix = sparse.csc_array((values, self._rows, self._begin), shape=self.graph.shape)
        # Symmetric and positive: an order that heeds it leaves far fewer values to work with.
        factors = splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
        solved: FloatArray = factors.solve(right)
        return solved


def solve_levels(
    frames: int, pairs: IntArray, difference: FloatArray, spread: FloatArray
) -> Levels:
    """Least squares over a graph: value[b] - value[a] = difference, robustly.

    Parameters
    ----------
    frames
        How many frames there are.
    pairs
        (m, 2) indices a, b.
    difference
        (m, k) measured differences.
    spread
        (m,) standard error of each.

    Returns
    -------
    Levels
        Each group has median 0. Outlying differences lose their weight (Huber's at 3 standard
        errors, then Cauchy's at 4, iteratively reweighted), but not wholly: every frame keeps
        what it has.
    """
    columns = difference.shape[1] if difference.ndim == 2 else 1
    value = np.zeros((frames, columns))
    if not len(pairs):
        return Levels(
            value,
            np.full(frames, np.inf),
            np.arange(frames, dtype=np.intp),
            np.zeros((0, 2), dtype=np.intp),
            np.zeros(0),
        )
    difference = difference.reshape(len(pairs), columns)
    first, second = pairs[:, 0], pairs[:, 1]
    normal = _Normal(frames, pairs)
    weight = 1.0 / np.square(spread)
    for round_ in range(_ROUNDS):
        solved = normal.solve(weight, difference)
        value = solved.reshape(frames, columns)
        misfit = np.linalg.norm(value[second] - value[first] - difference, axis=1) / spread
        if round_ < _ROUNDS // 2:
            trust = np.minimum(1.0, 3.0 / np.maximum(misfit, 1e-9))
        else:
            trust = 1.0 / (1.0 + np.square(misfit / 4.0))
        weight = np.maximum(trust, 1e-3) / np.square(spread)
    _, group = csgraph.connected_components(normal.graph, directed=False)
    for number in np.unique(group):
        member = group == number
        value[member] -= np.median(value[member], axis=0)
    held = np.zeros(frames)
    np.add.at(held, first, weight)
    np.add.at(held, second, weight)
    with np.errstate(divide="ignore"):
        error = 1.0 / np.sqrt(held)
    return Levels(value, error, group.astype(np.intp), pairs, weight)
