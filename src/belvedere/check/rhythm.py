"""The shutter's rhythm: what the time between two frames says of the cells between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Chance that a release does not keep the rhythm: a person paused the head, a card was slow.
_OFF_BEAT = 0.03
#: Chance that it comes before its time: a head waits for its interval, so hardly ever.
_TOO_EARLY = 0.002
#: Log likelihood ratio of a release before its time, if the head had not moved on.
_BOUNCED = 1.5
#: Chance that a repeated frame was taken in rhythm: the head stood still.
_IN_RHYTHM = 0.4
#: Spread of the difference of two clock readings that were each cut to whole seconds.
_WHOLE_SECOND_SPREAD_S = 0.41


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Seconds from release to release.

    `spread_s` is the standard deviation around the interval, `turn_s` what a change to the next
    line adds (0 or more), `turn_spread_s` how well that is known.
    """

    interval_s: float
    spread_s: float
    turn_s: float
    turn_spread_s: float

    def ratios(self, gap_s: float, steps: IntArray, turns: IntArray) -> FloatArray:
        """Log likelihood ratios of a gap given `steps` cells and `turns` changes of line.

        Both broadcast; 0 steps are a repeat. Against a gap that means nothing; 0 where the clock
        is silent, or was set back.
        """
        shape = np.broadcast_shapes(np.shape(steps), np.shape(turns))
        if not np.isfinite(gap_s) or gap_s < 0.0:
            return np.zeros(shape)
        expected = steps * self.interval_s + turns * self.turn_s
        spread = np.sqrt(self.spread_s**2 + turns * self.turn_spread_s**2)
        fits = np.exp(-0.5 * ((gap_s - expected) / spread) ** 2) / (spread * np.sqrt(2.0 * np.pi))
        anything = 0.5 / self.interval_s / (1.0 + gap_s / self.interval_s) ** 2
        log_ratio = np.log((1.0 - _OFF_BEAT) * fits / anything + _OFF_BEAT)
        # A turn takes longer than a step, never less.
        early = gap_s < steps * self.interval_s - 3.0 * self.spread_s
        log_ratio = np.where(early, np.log(_TOO_EARLY), log_ratio)
        ratios: FloatArray = np.where(np.equal(steps, 0), self.repeat_ratio(gap_s), log_ratio)
        return ratios

    def ratio(self, gap_s: float | None, steps: int, turns: IntArray) -> FloatArray:
        """The same for one number of `steps`, 1 or more."""
        return self.ratios(np.nan if gap_s is None else gap_s, np.array(steps), turns)

    def repeat_ratio(self, gap_s: float | None) -> float:
        """The same for a repeated frame: a second release, or a head that did not move."""
        if gap_s is None or not np.isfinite(gap_s) or gap_s < 0.0:
            return 0.0
        if gap_s < self.interval_s - 3.0 * self.spread_s:
            return _BOUNCED
        # In rhythm, the head went on, or so it thought.
        spread = float(np.hypot(self.spread_s, self.turn_spread_s * (gap_s > self.interval_s)))
        off = min(abs(gap_s - self.interval_s), abs(gap_s - self.interval_s - self.turn_s))
        fits = np.exp(-0.5 * (off / spread) ** 2) / (spread * np.sqrt(2.0 * np.pi))
        anything = 0.5 / self.interval_s / (1.0 + gap_s / self.interval_s) ** 2
        return float(np.log(_IN_RHYTHM * fits / anything + _OFF_BEAT))

    def keeps_going(self, gap_s: float) -> bool:
        """Whether a gap is an interval of the head, not a second release before its time."""
        off = 4.0 * self.spread_s
        return bool(np.isfinite(gap_s) and abs(gap_s - self.interval_s) <= off)

    def anew_ratio(self, gap_s: float) -> float:
        """The same for a sweep begun anew: a head takes its time back to the first cell."""
        if not np.isfinite(gap_s) or gap_s < 0.0:
            return float(np.log(_OFF_BEAT))
        return 0.0 if gap_s >= 1.5 * self.interval_s else float(np.log(_TOO_EARLY))


def seconds(frames: Sequence[Frame]) -> FloatArray:
    """Clock readings as seconds since the first one, nan where a file is silent."""
    known = [frame.taken_at for frame in frames if frame.taken_at is not None]
    if not known:
        return np.full(len(frames), np.nan)
    first: datetime = min(known)
    return np.array(
        [
            np.nan if frame.taken_at is None else (frame.taken_at - first).total_seconds()
            for frame in frames
        ]
    )


def heard_rhythm(
    frames: Sequence[Frame], planned_interval_s: float | None, line_cells: int
) -> Rhythm | None:
    """The rhythm on the card; the plan's only where the clock agrees or is silent.

    None where nothing is known of it.
    """
    clock = seconds(frames)
    gaps = np.diff(clock)
    gaps = gaps[np.isfinite(gaps) & (gaps >= 0.0)]
    whole = not any(frame.has_subsecond for frame in frames)
    least = _WHOLE_SECOND_SPREAD_S if whole else 0.02
    if planned_interval_s is not None and _keeps(gaps, planned_interval_s, least):
        near = gaps[np.abs(gaps - planned_interval_s) < 0.5 * planned_interval_s]
        interval = float(near.mean()) if len(near) else planned_interval_s
        if abs(interval - planned_interval_s) < 2.0 * least / np.sqrt(max(len(near), 1)):
            interval = planned_interval_s
    elif len(gaps) < 3:
        return None
    else:
        interval = max(float(np.median(gaps)), least)
        interval = float(gaps[np.abs(gaps - interval) <= 0.5 * interval].mean())
    near = gaps[np.abs(gaps - interval) < 0.5 * interval]
    spread = 1.4826 * float(np.median(np.abs(near - interval))) if len(near) else 0.0
    spread = max(spread, least, 0.02 * interval)
    # Before a change of line was seen it may take anything from nothing to a few intervals.
    turn = 0.5 * interval if line_cells > 1 else 0.0
    return Rhythm(interval, spread, turn, max(turn, 2.0 * spread))


def _keeps(gaps_s: FloatArray, planned_interval_s: float, least_s: float) -> bool:
    """Whether the clock agrees with the planned interval, or knows too little to contradict."""
    if len(gaps_s) < 3:
        return True
    near = np.abs(gaps_s - planned_interval_s) <= max(0.15 * planned_interval_s, 2.5 * least_s)
    return bool(near.mean() >= 0.4)


def with_turns(rhythm: Rhythm, turn_gaps_s: Sequence[float]) -> Rhythm:
    """The rhythm after the gaps (seconds) of frames on either side of a turn were seen."""
    extra = np.array([gap - rhythm.interval_s for gap in turn_gaps_s if np.isfinite(gap)])
    extra = extra[(extra > -0.5 * rhythm.interval_s) & (extra < 20.0 * rhythm.interval_s)]
    if len(extra) < 2:
        return rhythm
    middle = float(np.median(extra))
    spread = 1.4826 * float(np.median(np.abs(extra - middle)))
    return replace(
        rhythm,
        turn_s=max(middle, 0.0),
        turn_spread_s=max(spread, rhythm.spread_s, 0.05 * rhythm.interval_s),
    )
