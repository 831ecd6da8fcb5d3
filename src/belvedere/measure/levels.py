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
    rows = np.arange(len(pairs))
    incidence = sparse.csr_array(
        (
            np.concatenate([np.ones(len(pairs)), -np.ones(len(pairs))]),
            (np.concatenate([rows, rows]), np.concatenate([second, first])),
        ),
        shape=(len(pairs), frames),
    )
    weight = 1.0 / np.square(spread)
    for round_ in range(_ROUNDS):
        normal = incidence.T @ sparse.diags_array(weight) @ incidence
        hold = 1e-9 * max(1.0, float(weight.mean())) * sparse.eye_array(frames)
        solved = splu(sparse.csc_array(normal + hold)).solve(
            incidence.T @ (difference * weight[:, None])
        )
        value = solved.reshape(frames, columns)
        misfit = np.linalg.norm(value[second] - value[first] - difference, axis=1) / spread
        if round_ < _ROUNDS // 2:
            trust = np.minimum(1.0, 3.0 / np.maximum(misfit, 1e-9))
        else:
            trust = 1.0 / (1.0 + np.square(misfit / 4.0))
        weight = np.maximum(trust, 1e-3) / np.square(spread)
    _, group = csgraph.connected_components(abs(incidence).T @ abs(incidence), directed=False)
    for number in np.unique(group):
        member = group == number
        value[member] -= np.median(value[member], axis=0)
    held = np.zeros(frames)
    np.add.at(held, first, weight)
    np.add.at(held, second, weight)
    with np.errstate(divide="ignore"):
        error = 1.0 / np.sqrt(held)
    return Levels(value, error, group.astype(np.intp), pairs, weight)
