"""The table of tie points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Ties:
    """Tie points of all pairs, sorted by pair.

    `first` and `second` (n,) index frames; `first_px` and `second_px` (n, 2) are full-size
    pixels of the same scene point.
    """

    first: IndexArray
    second: IndexArray
    first_px: FloatArray
    second_px: FloatArray

    def __len__(self) -> int:
        return len(self.first)

    def pair_starts(self) -> IndexArray:
        """Where each run of ties of one pair begins."""
        if len(self) == 0:
            return np.empty(0, np.intp)
        change = (np.diff(self.first) != 0) | (np.diff(self.second) != 0)
        return np.concatenate([[0], np.flatnonzero(change) + 1]).astype(np.intp)

    def only(self, keep: NDArray[np.bool_]) -> Ties:
        """The ties for which `keep` (n,) holds."""
        return Ties(self.first[keep], self.second[keep], self.first_px[keep], self.second_px[keep])
