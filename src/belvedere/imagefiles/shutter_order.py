"""The order in which a card's frames were taken: the camera's clock, then the file numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from itertools import groupby, pairwise
from pathlib import PurePosixPath

from belvedere.shoot import Frame

_NUMBER = re.compile(r"(\d+)\D*$")
#: File numbers run from 0001 to 9999 and start again (JEITA CP-3461, the DCF rule).
_LAST_NUMBER = 9999
#: Numbers this near to the turn are taken to have gone round it.
_NEAR_THE_TURN = 200


def in_shutter_order(frames: Sequence[Frame]) -> list[Frame]:
    """`frames` as the shutter released them.

    Sorted by clock; frames of one second stand in the order of their numbers. A frame without a
    time stands behind the one with the number before it.
    """
    numbered = _by_number(frames)
    place: dict[str, tuple[datetime, int]] = {}
    # The frames before the first one with a time share that one's time.
    latest = next((frame.taken_at for frame in numbered if frame.taken_at), datetime.min)
    for index, frame in enumerate(numbered):
        latest = frame.taken_at or latest
        place[frame.file] = (latest, index)
    return sorted(numbered, key=lambda frame: place[frame.file])


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
