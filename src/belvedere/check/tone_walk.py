"""Exposure or tint along the sweep: the same from frame to frame, unless the overlaps insist.

A camera that is left alone changes nothing, and light changes little from frame to frame. So each
frame is tied to the one before it, softly enough for dusk and passing clouds, and a tie breaks
where the overlaps say together that the camera changed. Water that glitters, clouds that sailed
on and a lens that is brighter on one side mislead single overlaps, often several of one frame;
they seldom outweigh what all the others and the ties say.

The model is the weak string (A. Blake, A. Zisserman, "Visual Reconstruction", MIT Press, 1987),
solved by graduated non-convexity with the error function of Geman and McClure (both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

from belvedere.check.thresholds import SURE_JUMP

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

#: Ties are so many times as loose at first, and overlaps keep their weight for as much longer.
_LOOSENED = (4.0, 2.0, 1.0, 1.0)
_ROUNDS = 3
#: Standard errors from which an overlap begins to lose its weight, in the end.
_CAUCHY = 4.0


@dataclass(frozen=True, slots=True)
class Between:
    """What overlaps say of frames that are numbered in shutter order.

    `ends` (m, 2) are the frames of each overlap; `difference` (m, c) the second against the first;
    `spread` (m,) its standard error; `shift` (m, 2) where the second lies, in usual steps.
    """

    ends: IntArray
    difference: FloatArray
    spread: FloatArray
    shift: FloatArray


@dataclass(frozen=True, slots=True)
class Walk:
    """A value (n, c) for each frame in shutter order.

    `broken` (n - 1,) tells between which frames the overlaps insist on another change than the one
    expected; `left` (m, c) is what each overlap says beyond the values. `pair` (m,) and `tie`
    (n - 1,) are the weights that overlaps and ties kept.
    """

    value: FloatArray
    broken: BoolArray
    left: FloatArray
    pair: FloatArray
    tie: FloatArray


@dataclass(frozen=True, slots=True)
class Ties:
    """What is expected from each frame to the next: a `change` (n - 1, c), as sure as `spread`."""

    change: FloatArray
    spread: FloatArray


def walk_along(frames: int, between: Between, ties: Ties, lean: float) -> Walk:
    """Values of `frames` frames in shutter order, and where they jump.

    Parameters
    ----------
    frames
        How many there are; each should have an overlap.
    between
        What the overlaps say.
    ties
        What is expected from each frame to the next.
    lean
        By how much frames may usually differ for each step because of a lopsided lens.
    """
    system = _System(frames, between, lean, float(np.median(ties.spread)))
    pair, tie = 1.0 / between.spread**2, 1.0 / (_LOOSENED[0] * ties.spread) ** 2
    level, drift, left = system.solve(pair, tie, ties.change)
    for loosened in np.repeat(_LOOSENED, _ROUNDS):
        misfit = np.linalg.norm(left, axis=1) / between.spread
        pair = 1.0 / (1.0 + np.square(misfit / (_CAUCHY * loosened))) / between.spread**2
        apart = _apart(level, ties) / (SURE_JUMP * loosened)
        tie = 1.0 / np.square(1.0 + np.square(apart)) / (loosened * ties.spread) ** 2
        level, drift, left = system.solve(pair, tie, ties.change)
    return Walk(level + drift, _apart(level, ties) > SURE_JUMP, left, pair, tie)


def standard_errors(walk: Walk, between: Between, contrast: FloatArray) -> FloatArray:
    """Of differences between values (k,): each row of `contrast` (k, n) weighs the frames."""
    across, along = _links(len(walk.value), between)
    normal = across.T @ sparse.diags_array(walk.pair) @ across
    normal = normal + along.T @ sparse.diags_array(walk.tie) @ along
    solved = _solved(normal, walk.pair, contrast.T)
    errors: FloatArray = np.sqrt(np.maximum((contrast.T * solved).sum(axis=0), 0.0))
    return errors


def _links(frames: int, between: Between) -> tuple[sparse.csr_array, sparse.csr_array]:
    """What overlaps (m, n) and ties (n - 1, n) have beyond the first of their two frames."""
    steps = np.arange(frames - 1)
    along = np.column_stack([steps, steps + 1])
    return _differences(between.ends, frames), _differences(along, frames)


def _solved(normal: sparse.csr_array, pair: FloatArray, right: FloatArray) -> FloatArray:
    """The normal equations (n, n) solved for `right` (n, k), a common level held near 0."""
    hold = 1e-9 * max(1.0, float(pair.mean())) * sparse.eye_array(normal.shape[0])
    solved: FloatArray = splu(sparse.csc_array(normal + hold)).solve(right)
    return solved


def _differences(ends: IntArray, frames: int) -> sparse.csr_array:
    """(m, n): what each second frame has beyond the first."""
    rows = np.arange(len(ends))
    entries = np.concatenate([-np.ones(len(rows)), np.ones(len(rows))])
    return sparse.csr_array(
        (entries, (np.concatenate([rows, rows]), ends.T.ravel())), shape=(len(rows), frames)
    )


def _apart(value: FloatArray, ties: Ties) -> FloatArray:
    """How far each change is from what was expected, in terms of its spread (n - 1,)."""
    off: FloatArray = np.linalg.norm(np.diff(value, axis=0) - ties.change, axis=1)
    return off / ties.spread


def misfit_cost(left: FloatArray, spread: FloatArray) -> float:
    """What misfits (m, c) of overlaps cost by Cauchy's function, half their squares if small."""
    ratio = np.linalg.norm(left, axis=1) / (_CAUCHY * spread)
    return float(_CAUCHY**2 / 2.0 * np.log1p(np.square(ratio)).sum())


class _System:
    """The normal equations of a walk: sparse in the frames, with three columns that all share.

    Two are the lens's, the third is an even drift from the first frame to the last.
    """

    def __init__(self, frames: int, between: Between, lean: float, drift: float) -> None:
        self._across, self._along = _links(frames, between)
        self._difference = between.difference
        self._shared = np.column_stack([between.shift, np.diff(between.ends, axis=1)])
        self._held = np.diag(1.0 / np.square([lean, lean, drift]))

    def solve(
        self, pair: FloatArray, tie: FloatArray, change: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Levels (n, c), the even drift (n, c) beside them, and what is left of the differences.

        `pair` and `tie` are the weights of overlaps and ties, `change` is what ties expect.
        """
        weighed = self._across.T @ sparse.diags_array(pair)
        tied = self._along.T @ sparse.diags_array(tie)
        normal = weighed @ self._across + tied @ self._along
        frames, columns = normal.shape[0], self._difference.shape[1]
        right = np.column_stack(
            [weighed @ self._difference + tied @ change, weighed @ self._shared]
        )
        solved = _solved(normal, pair, right)
        level, follows = solved[:, :columns], solved[:, columns:]
        by_weight = self._shared.T * pair
        share = np.linalg.solve(
            by_weight @ (self._shared - self._across @ follows) + self._held,
            by_weight @ (self._difference - self._across @ level),
        )
        level = level - follows @ share
        left = self._difference - self._shared @ share - self._across @ level
        return level, np.arange(frames)[:, None] * share[2], left
