"""Probabilities of cells for frames, of which all but a few are 0."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Chances:
    """A table (T, K) kept as the cells (T, B) that are possible, -1 for none, and their values.

    `chances[t]` is a row (K,), `chances[:, k]` a column (T,), `chances[t, k]` one value.
    """

    cells: IntArray
    values: FloatArray
    count: int

    @property
    def shape(self) -> tuple[int, int]:
        """(T, K)."""
        return len(self.cells), self.count

    def __getitem__(self, key: int | tuple[int | slice, int]) -> FloatArray:
        if isinstance(key, tuple):
            rows, cell = key
            here = np.where(self.cells[rows] == cell, self.values[rows], 0.0)
            column: FloatArray = here.sum(axis=-1)
            return column
        row = np.zeros(self.count)
        inside = self.cells[key] >= 0
        row[self.cells[key][inside]] = self.values[key][inside]
        return row

    def likeliest(self) -> tuple[IntArray, FloatArray]:
        """For each frame the cell with the greatest chance, and that chance."""
        best = self.values.argmax(axis=1)
        every = np.arange(len(best))
        return self.cells[every, best].astype(np.int64), self.values[every, best]

    def above(self, frame: int, least: float) -> tuple[IntArray, FloatArray]:
        """The cells of a frame whose chance is greater than `least`, with their chances."""
        chosen = self.values[frame] > least
        return self.cells[frame][chosen], self.values[frame][chosen]

    def all_above(self, least: float) -> list[tuple[IntArray, FloatArray]]:
        """`above` for every frame."""
        chosen = self.values > least
        ends = np.cumsum(chosen.sum(axis=1))[:-1]
        return list(
            zip(
                np.split(self.cells[chosen], ends),
                np.split(self.values[chosen], ends),
                strict=True,
            )
        )

    def times(self, factor: FloatArray) -> Chances:
        """The same with every frame's chances times its factor (T,)."""
        return Chances(self.cells, self.values * factor[:, None], self.count)

    def with_frames(self, cells: IntArray, chance: float) -> Chances:
        """The same with further frames, each at one of `cells` with that chance."""
        width = self.cells.shape[1]
        more_cells = np.full((len(cells), width), -1, dtype=self.cells.dtype)
        more_values = np.zeros((len(cells), width))
        more_cells[:, 0], more_values[:, 0] = cells, chance
        return Chances(
            np.concatenate([self.cells, more_cells]),
            np.concatenate([self.values, more_values]),
            self.count,
        )
