"""Where a whole line is missing: the frames of the others could be of other lines as well.

Within a line, pictures and clock fix each frame; which line it is follows from the frames around
it, and those lean on it in turn. So where lines are empty, the other ways to leave that many out
are weighed as well, each as a whole.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]


def other_lines(cell: IntArray, line: IntArray) -> list[IntArray]:
    """Other placements (T,) of frames at `cell`, with the empty lines elsewhere.

    `line` (K,) is each cell's line. None where no line is empty. A frame keeps its place within
    its line; a placement that a shorter line has no room for is left out.
    """
    lines = int(line[-1]) + 1
    used = np.unique(line[cell[cell >= 0]])
    empty = lines - len(used)
    if not empty or not len(used):
        return []
    start = np.searchsorted(line, np.arange(lines + 1))
    found: list[IntArray] = []
    for first_empty in range(len(used) + 1):
        onto = np.arange(len(used)) + np.where(np.arange(len(used)) >= first_empty, empty, 0)
        moved = _moved(cell, line, start, dict(zip(used.tolist(), onto.tolist(), strict=True)))
        if moved is not None and not np.array_equal(moved, cell):
            found.append(moved)
    return found


def _moved(
    cell: IntArray, line: IntArray, start: IntArray, onto: dict[int, int]
) -> IntArray | None:
    moved = cell.copy()
    for t in np.flatnonzero(cell >= 0):
        before = int(line[cell[t]])
        after = onto[before]
        moved[t] = start[after] + cell[t] - start[before]
        if moved[t] >= start[after + 1]:
            return None
    return moved
