"""What pictures, clock and settings say of the moves from frame to frame, as compact tables."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Table = NDArray[np.float64] | NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Evidence:
    """What is known of T frames and K cells; log likelihood ratios throughout.

    A move by n cells from cell k belongs to the class `kind` (N + 1, K) of moves that look alike,
    -1 where its two frames share nothing, and passes `turns` (N + 1, K) ends of lines.

    `seen` (T, U + 1): frames t - 1 and t moved as each class says, the last column being 0;
    `seen_over` the same for frames t - 2 and t, the frame between them being foreign. `beat`
    (T, N + 1, J): the time between frames t - 1 and t for n cells and j turns; `beat_over` for
    t - 2 and t; `since_repeat` is added to `beat` where frame t - 1 was a repeat: the clock may
    count from the first take. `apart` (T,): frames t - 1 and t are no two of the sweep in a row,
    yet may show the same part of the scene; `anew` (T,): the time between them, if the sweep was
    begun anew.
    """

    kind: IntArray
    turns: IntArray
    seen: Table
    seen_over: Table
    beat: Table
    beat_over: Table
    since_repeat: Table
    apart: FloatArray
    anew: FloatArray

    @property
    def frames(self) -> int:
        """T."""
        return len(self.seen)

    @property
    def steps(self) -> int:
        """N, the most cells that a move may go."""
        return len(self.kind) - 1

    @property
    def next_turns(self) -> IntArray:
        """For each cell (K,), the turns on the way to the next one; 0 at the last."""
        turns = np.zeros(self.cells, dtype=np.int64)
        if self.steps:
            turns[:-1] = self.turns[1, :-1]
        return turns

    @property
    def cells(self) -> int:
        """K."""
        return int(self.kind.shape[1])
