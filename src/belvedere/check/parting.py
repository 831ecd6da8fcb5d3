"""A sweep that falls into two parts: the camera was moved so far that nothing joins across."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.met import Met
from belvedere.check.thresholds import PARTED_PAIRS

IntArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Cut:
    """A moment in the sweep across which nothing joins; `places` are the frames that should."""

    after: int
    places: tuple[int, ...]


def parted(met: Sequence[Met], count: int, stands_still: Callable[[Met], bool]) -> Cut | None:
    """The moment before and after which frames join among themselves, and never across.

    Moving water joins nothing either, so the part that a silent overlap shows must be known to
    stand still: `stands_still` says so.
    """
    ends = np.array([(one.first, one.second) for one in met], dtype=np.intp).reshape(-1, 2)
    firm = np.array([one.firm for one in met], dtype=bool)
    silent = np.array([one.silent for one in met], dtype=bool)
    quiet, heard = _crossing(ends[silent], count), _crossing(ends[firm], count)
    moments = np.flatnonzero((quiet >= PARTED_PAIRS) & (heard == 0))
    if not len(moments):
        return None
    torn = np.array([one.silent and stands_still(one) for one in met])
    cuts = [_cut(ends[torn], int(moment)) for moment in moments]
    return max((cut for cut in cuts if cut), key=lambda cut: len(cut.places), default=None)


def _crossing(ends: IntArray, count: int) -> IntArray:
    """How many pairs begin before each frame and end with it or later, (count,)."""
    steps = np.zeros(count + 1, dtype=np.intp)
    np.add.at(steps, ends[:, 0] + 1, 1)
    np.add.at(steps, ends[:, 1] + 1, -1)
    crossing: IntArray = np.cumsum(steps)[:count]
    return crossing


def _cut(torn: IntArray, moment: int) -> Cut | None:
    """The cut at a moment, if enough overlaps that should join lie across it."""
    across = torn[(torn[:, 0] < moment) & (torn[:, 1] >= moment)]
    if len(across) < PARTED_PAIRS or min(len(np.unique(across[:, i])) for i in (0, 1)) < 3:
        return None
    return Cut(moment, tuple(np.unique(across).tolist()))
