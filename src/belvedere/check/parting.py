"""A sweep that falls into two parts: the camera was moved so far that nothing joins across."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.positions import Positions
from belvedere.check.thresholds import FIRM_AGREEMENT, PARTED_PAIRS

IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Cut:
    """A moment in the sweep across which nothing joins; `places` are the frames that should."""

    after: int
    places: tuple[int, ...]


def parted(positions: Positions) -> Cut | None:
    """The moment before and after which frames join among themselves, and never across."""
    ends = np.array([(one.first, one.second) for one in positions.met], dtype=np.intp)
    if not len(ends):
        return None
    firm = np.array([one.firm and one.agreement >= FIRM_AGREEMENT for one in positions.met])
    silent = np.array([one.silent for one in positions.met])
    count = len(positions.frames)
    quiet, heard = _crossing(ends[silent], count), _crossing(ends[firm], count)
    moments = np.flatnonzero((quiet >= PARTED_PAIRS) & (heard == 0))
    cuts = [_cut(ends, firm, silent, int(moment), count) for moment in moments]
    return max((cut for cut in cuts if cut), key=lambda cut: len(cut.places), default=None)


def _crossing(ends: IntArray, count: int) -> IntArray:
    """How many pairs begin before each frame and end with it or later, (count,)."""
    steps = np.zeros(count + 1, dtype=np.intp)
    np.add.at(steps, ends[:, 0] + 1, 1)
    np.add.at(steps, ends[:, 1] + 1, -1)
    crossing: IntArray = np.cumsum(steps)[:count]
    return crossing


def _cut(ends: IntArray, firm: BoolArray, silent: BoolArray, moment: int, count: int) -> Cut | None:
    across = (ends[:, 0] < moment) & (ends[:, 1] >= moment)
    joined, alone = (
        np.bincount(ends[kind & ~across].ravel(), minlength=count) for kind in (firm, silent)
    )
    # Moving water does not join what lies beside it either: that is no cut.
    sociable = (joined >= 1) & (joined > 2 * alone)
    torn = ends[across & silent & sociable[ends].all(axis=1)]
    if len(torn) < PARTED_PAIRS or min(len(np.unique(torn[:, i])) for i in (0, 1)) < 3:
        return None
    return Cut(moment, tuple(np.unique(torn).tolist()))
