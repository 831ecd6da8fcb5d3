"""What should have come by now: the frames that a running sweep owes, by its rhythm.

All times are seconds on the watcher's own clock, nan where a frame was there before it looked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.thresholds import (
    LATE_AFTER_INTERVALS,
    LATENESS_GAPS,
    LATEST_TURNS,
    OVER_AFTER_INTERVALS,
    PAUSE_S,
    SAME_RHYTHM_SHARE,
    UNKNOWN_TURN_INTERVALS,
    UNKNOWN_TURN_TIMES,
)

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Timetable:
    """What the plan says of the way to each cell, in sweep order.

    `extra_s` (K,) is what the move to the cell takes beyond the interval; `line` (K,) the number
    of the sweep's line (row or column) that the cell belongs to.
    """

    extra_s: FloatArray
    line: NDArray[np.int64]

    @property
    def count(self) -> int:
        """How many cells there are."""
        return len(self.line)


@dataclass(frozen=True, slots=True)
class Pace:
    """How frames arrive.

    `late_s` is by how much they may be late for reasons of the way (a slow copy, one that comes
    in batches); `turn_s` what a change of line takes beyond the timetable, None where none was
    seen yet.
    """

    interval_s: float
    late_s: float
    turn_s: float | None


def pace(
    timetable: Timetable,
    cell: Sequence[int],
    appeared_s: Sequence[float],
    interval_s: float | None,
) -> Pace | None:
    """The pace of the frames that came so far, None before it is known.

    Parameters
    ----------
    cell, appeared_s
        Of each frame in shutter order: its cell (-1 for none) and when its file appeared.
    interval_s
        The shutter's interval where files tell it; else it is learnt from the arrivals.
    """
    gaps = _gaps(cell, appeared_s)
    line = timetable.line
    within = [gap for gap in gaps if line[gap[0]] == line[gap[1]]][-LATENESS_GAPS:]
    if interval_s is None:
        if len(within) < 3:
            return None
        interval_s = float(np.median([s / (after - before) for before, after, s in within]))
    excess = [s - _planned_s(timetable, interval_s, a, b) for a, b, s in within]
    if sum(abs(e) <= SAME_RHYTHM_SHARE * interval_s for e in excess) < 2 and len(excess) < 6:
        return None
    turns = [s - _planned_s(timetable, interval_s, a, b) for a, b, s in gaps if line[a] != line[b]]
    return Pace(interval_s, _second_largest(excess), max(turns[-LATEST_TURNS:], default=None))


def _gaps(cell: Sequence[int], appeared_s: Sequence[float]) -> list[tuple[int, int, float]]:
    """Cells and seconds between frames that follow each other."""
    k, gap_s = np.asarray(cell, dtype=np.int64), np.diff(np.asarray(appeared_s, dtype=np.float64))
    known = np.flatnonzero((k[:-1] >= 0) & (k[1:] > k[:-1]) & np.isfinite(gap_s))
    return [(int(k[t]), int(k[t + 1]), float(gap_s[t])) for t in known]


def _planned_s(timetable: Timetable, interval_s: float, before: int, after: int) -> float:
    extra_s = float(timetable.extra_s[before + 1 : after + 1].sum())
    return (after - before) * interval_s + extra_s


def _second_largest(excess_s: Sequence[float]) -> float:
    """The largest may be a pause that a person made; what happens twice belongs to the way."""
    return max(0.0, sorted(excess_s)[-2]) if len(excess_s) >= 2 else 0.0


def due_s(timetable: Timetable, known: Pace, last: int, last_s: float) -> FloatArray:
    """When the file of each cell after `last` should be there, (K - 1 - last,).

    `last_s` is when the file of cell `last` appeared.
    """
    line, ahead = timetable.line, np.arange(last + 1, timetable.count)
    turned = line[ahead] != line[ahead - 1]
    turn_s = np.where(turned, _turn_s(timetable.extra_s[ahead], known), 0.0)
    gaps_s = known.interval_s + timetable.extra_s[ahead] + turn_s
    due: FloatArray = last_s + known.late_s + np.cumsum(gaps_s)
    return due


def _turn_s(extra_s: FloatArray, known: Pace) -> FloatArray:
    """What a turn may take beyond the timetable; a head unknown may be much slower than usual."""
    if known.turn_s is not None:
        return np.full(extra_s.shape, max(known.turn_s, 0.0))
    unknown: FloatArray = np.maximum(
        UNKNOWN_TURN_INTERVALS * known.interval_s, UNKNOWN_TURN_TIMES * extra_s
    )
    return unknown


def overdue(
    timetable: Timetable, known: Pace, last: int, last_s: float, now_s: float
) -> tuple[int, ...]:
    """The cells after `last` whose files should be there and are not."""
    late = due_s(timetable, known, last, last_s) + LATE_AFTER_INTERVALS * known.interval_s <= now_s
    return tuple(int(k) for k in last + 1 + np.flatnonzero(late))


def over(timetable: Timetable, known: Pace, last: int, last_s: float, now_s: float) -> bool:
    """Whether the sweep must be at its end: all cells had their time, and some more.

    While the last cell owes its frame, a person may also have paused the head.
    """
    margin_s = OVER_AFTER_INTERVALS * known.interval_s
    if last >= timetable.count - 1:
        return now_s > last_s + margin_s
    end_s = float(due_s(timetable, known, last, last_s)[-1]) + margin_s
    return now_s > max(end_s, last_s + PAUSE_S)
