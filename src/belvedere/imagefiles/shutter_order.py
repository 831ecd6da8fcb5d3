"""The order in which a card's frames were taken: the camera's clock, then the file numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from pathlib import PurePosixPath
from statistics import median

from belvedere.shoot import Frame

_NUMBER = re.compile(r"(\d+)\D*$")
#: File numbers run from 0001 to 9999 and start again (JEITA CP-3461, the DCF rule).
_LAST_NUMBER = 9999
#: Fewer gaps tell of no rhythm.
_FEWEST_GAPS = 6
#: A clock is not set more often than once in so many frames.
_FRAMES_PER_SETTING = 50
#: Times the usual gap: so long a gap is one beat, and so long one may be a turn.
_SAME_BEAT, _TURN_BEATS = 1.4, 5.0
#: Numbers this near to the turn are taken to have gone round it.
_NEAR_THE_TURN = 200


def in_shutter_order(frames: Sequence[Frame]) -> list[Frame]:
    """`frames` as the shutter released them.

    Sorted by clock; frames of one second stand in the order of their numbers. A frame without a
    time stands behind the one with the number before it. Where numbers and rhythm go on and the
    clock alone jumps back, it was set during the shoot, and the numbers hold.
    """
    numbered = _by_number(frames)
    clock = _going_on(numbered)
    place: dict[str, tuple[datetime, int]] = {}
    # The frames before the first one with a time share that one's time.
    latest = next((time for time in clock if time), datetime.min)
    for index, (frame, time) in enumerate(zip(numbered, clock, strict=True)):
        latest = time or latest
        place[frame.file] = (latest, index)
    return sorted(numbered, key=lambda frame: place[frame.file])


def _going_on(frames: Sequence[Frame]) -> list[datetime | None]:
    """Times of frames in the order of their numbers, as if nobody had set the clock back."""
    times = [frame.taken_at for frame in frames]
    known = [(i, time) for i, time in enumerate(times) if time is not None]
    gaps = [(b - a).total_seconds() for (_, a), (_, b) in pairwise(known)]
    forward = [gap for gap in gaps if gap > 0.0]
    if len(forward) < _FEWEST_GAPS or len(forward) == len(gaps):
        return times
    usual = median(forward)
    backward = [i for i, gap in enumerate(gaps) if gap < 0.0]
    if len(backward) > max(1, len(frames) // _FRAMES_PER_SETTING):
        return times
    for i in backward:
        here, there = frames[known[i][0]], frames[known[i + 1][0]]
        if not (_numbered_on(here, there) and _keeps_on(gaps, i, usual)):
            return times
    held_back = timedelta()
    for gap, (index, time) in zip(gaps, known[1:], strict=True):
        if gap < 0.0:
            held_back += timedelta(seconds=usual - gap)
        times[index] = time + held_back
    return times


def _numbered_on(here: Frame, there: Frame) -> bool:
    """Whether two frames of one folder have numbers in a row."""
    a, b = file_number(here.file), file_number(there.file)
    same_folder = PurePosixPath(here.file).parent == PurePosixPath(there.file).parent
    return same_folder and a is not None and b is not None and b == a + 1


def _keeps_on(gaps_s: Sequence[float], at: int, usual_s: float) -> bool:
    """Whether the rhythm is kept on either side of a step back; where names are swapped it isn't.

    One side may be the turn to another line, or a frame that was lost.
    """
    beside = sorted(gaps_s[i] for i in (at - 1, at + 1) if 0 <= i < len(gaps_s))
    if not beside or beside[0] <= 0.0:
        return False
    return beside[0] < _SAME_BEAT * usual_s and beside[-1] < _TURN_BEATS * usual_s


def file_number(file: str) -> int | None:
    """The last run of digits in a file's name, None where it has none."""
    found = _NUMBER.search(PurePosixPath(file).stem)
    return int(found.group(1)[-9:]) if found else None


def _by_number(frames: Sequence[Frame]) -> list[Frame]:
    def folder(frame: Frame) -> str:
        return str(PurePosixPath(frame.file).parent)

    ordered: list[Frame] = []
    for _, group in groupby(sorted(frames, key=folder), key=folder):
        ordered += _turned(list(group))
    return ordered


def _turned(frames: list[Frame]) -> list[Frame]:
    """One folder's frames by number, beginning after the gap when the numbers went round."""

    def key(frame: Frame) -> tuple[int, str]:
        number = file_number(frame.file)
        return (-1 if number is None else number, frame.file)

    frames = sorted(frames, key=key)
    numbers = [key(frame)[0] for frame in frames]
    if not numbers or numbers[0] < 0 or numbers[-1] > _LAST_NUMBER:
        return frames
    if numbers[0] + _LAST_NUMBER - numbers[-1] > _NEAR_THE_TURN:
        return frames
    gaps = [after - before for before, after in pairwise(numbers)]
    if not gaps or max(gaps) <= _LAST_NUMBER // 2:
        return frames
    first = gaps.index(max(gaps)) + 1
    return frames[first:] + frames[:first]
