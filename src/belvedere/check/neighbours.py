"""Which cells share a part of the view, without looking at every pair of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from belvedere.check.moves import Moves
from belvedere.check.thresholds import LEAST_SHARE

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Each cell's neighbours, itself among them, ascending.

    Those of cell k are rows `start[k]` to `start[k + 1]` of `cell` (P,), of the expected
    displacements `shift` (P, 2) in px and of `share` (P,), the part of a frame in common.
    """

    start: IntArray
    cell: IntArray
    shift: FloatArray
    share: FloatArray

    def rows(self, cell: int) -> slice:
        """The rows of one cell's neighbours."""
        return slice(int(self.start[cell]), int(self.start[cell + 1]))

    def homes(self) -> IntArray:
        """The cell (P,) whose neighbour each row is."""
        return np.repeat(np.arange(len(self.start) - 1), np.diff(self.start))


def neighbours(moves: Moves, least_share: float = LEAST_SHARE) -> Neighbours:
    """All cells that share at least `least_share` of a frame, by the moves as calibrated."""
    count = moves.count
    pairs = KDTree(moves.directions).query_pairs(_reach(moves), output_type="ndarray")
    every = np.arange(count)
    home = np.concatenate([pairs[:, 0], pairs[:, 1], every])
    cell = np.concatenate([pairs[:, 1], pairs[:, 0], every])
    order = np.lexsort((cell, home))
    home, cell = home[order], cell[order]
    shift = moves.expected(home, cell)
    shift[home == cell] = 0.0
    share = moves.share(shift)
    near = share >= least_share
    start = np.concatenate([[0], np.cumsum(np.bincount(home[near], minlength=count))])
    return Neighbours(start, cell[near], shift[near], share[near])


def _reach(moves: Moves) -> float:
    """Chord on the unit sphere beyond which two frames share nothing."""
    least = float(np.linalg.svd(moves.linear, compute_uv=False).min())
    planned_px = np.hypot(moves.width_px, moves.height_px) / max(least, 0.05)
    return float(2.0 * np.sin(np.arctan(planned_px / (2.0 * moves.focal_px))) * 1.02)
