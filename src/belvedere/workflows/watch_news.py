"""Decide what to say about a running shoot from what is in its folder now: no clock, no disk.

What needs pixels (reading, placing, judging) is asked of a `Desk`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from belvedere.check.awaited import overdue
from belvedere.check.thresholds import (
    SETTLED_FRAMES,
    SILENT_CELLS,
    STUCK_INTERVALS,
    STUCK_S,
    SURE_PLACED,
)
from belvedere.check.words import missing_says, name
from belvedere.imagefiles import file_number
from belvedere.shoot import Frame
from belvedere.workflows.watch_events import (
    WatchEvent,
    advice,
    cell_words,
    late_event,
    missing_event,
    run_words,
)
from belvedere.workflows.watch_faults import damaged, judge_next
from belvedere.workflows.watch_files import Sight, settle
from belvedere.workflows.watch_placing import Followed
from belvedere.workflows.watch_state import (
    Desk,
    Watch,
    cells_of,
    current_pace,
    last_appeared_s,
    last_cell,
    place_words,
)

Events = tuple[WatchEvent, ...]
Looked = tuple[Mapping[str, Sight], int] | None

#: Files read between two looks at the folder.
_READ_AT_ONCE = 4


def advance(watch: Watch, looked: Looked, now_s: float, desk: Desk) -> tuple[Watch, Events]:
    """What follows from one look at the folder.

    Parameters
    ----------
    looked
        The picture files that are not `watch.done`, and how many there are of all; None where
        the folder is not there.
    now_s
        When that was, on a clock that only runs forward.
    """
    watch, events = _presence(watch, looked, now_s)
    if looked is None or watch.presence != "there":
        return watch, events
    watch = _settled(watch, looked[0], now_s, desk)
    watch, late = _silence(watch, now_s)
    watch, read = _read(watch, desk)
    events = (*events, *late, *read)
    if watch.unjudged and len(watch.ready) <= _READ_AT_ONCE:
        watch, judged = judge_next(watch, desk)
        events = (*events, *judged)
    return watch, events


def _presence(watch: Watch, looked: Looked, now_s: float) -> tuple[Watch, Events]:
    """Whether the folder is there, and whether that is news."""
    had = bool(watch.appeared_s or watch.arriving)
    if looked is not None and looked[1] > 0:
        was, watch = watch.presence, replace(watch, presence="there")
        if was != "gone":
            return watch, ()
        back = WatchEvent("note", f"{watch.folder} is back; the watch goes on")
        return replace(watch, fresh=True, since_s=now_s), (back,)
    if had and watch.presence != "gone":
        says = f"{watch.folder} is not there any more"
        what = "Put the card back, or connect the folder again; the watch waits for it."
        return replace(watch, presence="gone"), (WatchEvent("fault", says, advice=what),)
    if watch.presence != "unseen":
        return watch, ()
    what = "no frame is in" if looked is not None else "there is no folder"
    # Whatever comes now comes while the watch looks.
    waiting = replace(watch, presence="empty", fresh=False)
    return waiting, (
        WatchEvent("note", f"{what} {watch.folder} yet; the watch waits for the first frame"),
    )


def _settled(watch: Watch, sights: Mapping[str, Sight], now_s: float, desk: Desk) -> Watch:
    """Files that are whole by now, or are given up, go on to be read."""
    known = current_pace(watch)
    interval_s = watch.planned_interval_s or 0.0 if known is None else known.interval_s
    patience_s = max(STUCK_S, STUCK_INTERVALS * interval_s)
    found = settle(watch.arriving, sights, now_s, desk.ends_whole, patience_s)
    arriving = dict(found.arriving)
    if watch.fresh:
        # Nobody knows when these came.
        for file in arriving.keys() - watch.arriving.keys():
            arriving[file] = replace(arriving[file], appeared_s=float("nan"))
    came = (*found.whole, *found.stuck)
    return replace(
        watch,
        fresh=False,
        arriving=arriving,
        ready=(*watch.ready, *came),
        appeared_s={**watch.appeared_s, **{f: watch.arriving[f].appeared_s for f in came}},
    )


def _silence(watch: Watch, now_s: float) -> tuple[Watch, Events]:
    """Speak of frames that should have come by now, each once."""
    known, last_s = current_pace(watch), last_appeared_s(watch)
    if known is None or not np.isfinite(last_s):
        return watch, ()
    # The next file cannot appear while the way is held up by the one before it.
    held_s = known.interval_s if watch.on_the_way else 0.0
    last = last_cell(watch)
    owed = overdue(watch.timetable, known, last, last_s, now_s - held_s)[:SILENT_CELLS]
    events = [
        late_event(watch.cells[k], now_s - last_s, known.interval_s, number)
        for number, k in enumerate(owed, start=1)
        if k not in watch.late
    ]
    return replace(watch, late=watch.late | set(owed)), tuple(events)


def _read(watch: Watch, desk: Desk) -> tuple[Watch, Events]:
    """Read what is whole, put it on its cells, and say what follows."""
    files, rest = watch.ready[:_READ_AT_ONCE], watch.ready[_READ_AT_ONCE:]
    if not files:
        return watch, ()
    read = desk.read(files)
    # Pulled in the middle of reading: looked at again, unless it was given up before.
    gone = {f.file for f in read if not f.content_hash and f.file not in watch.arriving}
    frames, events = _of_one_size(watch, [f for f in read if f.file not in gone])
    known = {frame.file for frame in watch.followed.frames}
    # A file that was given up and has grown since is read a second time.
    before = watch.followed
    cut_before = {key for key in watch.faults if key[1] == "corrupt" and key[0] in set(files)}
    watch = replace(
        watch,
        ready=rest,
        appeared_s={f: s for f, s in watch.appeared_s.items() if f not in gone},
        followed=desk.follow(watch.followed, frames) if frames else watch.followed,
        faults={key: fault for key, fault in watch.faults.items() if key[0] not in set(files)},
        unjudged=(*watch.unjudged, *(frame.file for frame in frames if not frame.damage)),
    )
    for frame in frames:
        events.append(_came(watch, frame, frame.file in known))
        if frame.damage:
            watch, said = damaged(watch, frame.file, frame.damage)
            events += [] if (frame.file, "corrupt") in cut_before else said
        elif (frame.file, "corrupt") in cut_before:
            says = f"{place_words(watch, frame.file)} is whole by now, {name(frame.file)}"
            events.append(WatchEvent("better", says, cells_of(watch, frame.file), frame.file))
    watch, gaps = _gaps(watch, any(not frame.damage for frame in frames))
    return watch, (*_moved(watch, before), *events, *gaps)


def _of_one_size(watch: Watch, frames: Sequence[Frame]) -> tuple[list[Frame], list[WatchEvent]]:
    """Frames of the sweep's size, and a word on the others, which cannot be part of it."""
    kept: list[Frame] = []
    events: list[WatchEvent] = []
    for frame in frames:
        sized = (f for f in (*watch.followed.frames, *kept) if f.width_px and not f.damage)
        first = next(sized, frame)
        size, usual = (frame.width_px, frame.height_px), (first.width_px, first.height_px)
        if frame.damage or size == usual:
            kept.append(frame)
            continue
        says = (
            f"{name(frame.file)} is {size[0]} × {size[1]} px, the frames before it are "
            f"{usual[0]} × {usual[1]} px"
        )
        events.append(WatchEvent("fault", says, file=frame.file, advice=advice("settings")))
    return kept, events


def _came(watch: Watch, frame: Frame, known: bool) -> WatchEvent:
    cells = cells_of(watch, frame.file)
    if not cells:
        return WatchEvent("came", "belongs to no cell", file=frame.file)
    says = cell_words(cells[0])
    if known:
        says += ", read again: the file has changed"
    elif sum(watch.cells[k] == cells[0] for k in watch.followed.cell if k >= 0) > 1:
        says += ", once more"
    return WatchEvent("came", says, cells, frame.file)


def _gaps(watch: Watch, goes_on: bool) -> tuple[Watch, Events]:
    """Cells that the sweep has passed without a frame, and those that have got one after all.

    `goes_on` when whole frames came: one that was given up as cut ends no silence.
    """
    watch, events = _taken_back(watch, goes_on)
    late, missing = set(watch.late), set(watch.missing)
    said: list[WatchEvent] = []
    few = len(watch.followed.frames) < SETTLED_FRAMES
    for run in _left_out(watch):
        if set(run) <= missing or (few and not set(run) <= late):
            continue
        cells = [watch.cells[k] for k in run]
        spoken_of = set(run) <= late | missing
        said.append(missing_event(cells, _why_missing(watch, run[0]), spoken_of))
        missing |= set(run)
    watch = replace(watch, late=frozenset(late - missing), missing=frozenset(missing))
    return watch, (*events, *said)


def _taken_back(watch: Watch, goes_on: bool) -> tuple[Watch, Events]:
    """Cells said to be without a frame that have one, or whose turn is still to come.

    The latest frame takes nothing back: the next one may show that it is of another cell.
    """
    followed = watch.followed
    there = {k: f.file for f, k in zip(followed.frames, followed.cell, strict=True) if k >= 0}
    settled = there.keys() - {followed.cell[-1]}
    events = [
        WatchEvent(
            "better",
            f"{cell_words(watch.cells[k])} has its frame after all, {name(there[k])}",
            (watch.cells[k],),
            there[k],
        )
        for k in sorted((watch.late | watch.missing) & settled)
    ]
    ahead = sorted(k for k in watch.late if goes_on and k > max(there, default=-1))
    if ahead:
        says = f"frames come again, and {run_words([watch.cells[k] for k in ahead])} may still come"
        events.append(WatchEvent("better", says, tuple(watch.cells[k] for k in ahead)))
    gone = replace(watch, late=watch.late - settled - set(ahead), missing=watch.missing - settled)
    return gone, tuple(events)


def _moved(watch: Watch, before: Followed) -> Events:
    """Faulty frames that were said to be of one cell and are of another."""
    faulty = {file for file, _ in watch.faults}
    now = dict(zip((f.file for f in watch.followed.frames), watch.followed.cell, strict=True))
    events: list[WatchEvent] = []
    for frame, was in zip(before.frames, before.cell, strict=True):
        k = now[frame.file]
        if k == was or frame.file not in faulty:
            continue
        where = cell_words(watch.cells[k]) if k >= 0 else "of no cell"
        instead = f", not {cell_words(watch.cells[was])}" if was >= 0 else ""
        cells = (watch.cells[k],) if k >= 0 else ()
        events.append(WatchEvent("note", f"{name(frame.file)} is {where}{instead}", cells))
    return tuple(events)


def _left_out(watch: Watch) -> list[list[int]]:
    """Runs of cells without a frame before one that surely has one."""
    followed = watch.followed
    frames = zip(followed.cell, followed.chance, followed.frames, strict=True)
    placed = sorted((k, chance, frame.file) for k, chance, frame in frames if k >= 0)
    if not placed:
        return []
    runs = [list(range(placed[0][0]))] if placed[0][1] >= SURE_PLACED else []
    for (before, sure_before, a), (after, sure_after, b) in pairwise(placed):
        run = list(range(before + 1, after))
        if run and min(sure_before, sure_after) >= SURE_PLACED and not _one_between(watch, a, b):
            runs.append(run)
    return [run for run in runs if run]


def _one_between(watch: Watch, before: str, after: str) -> bool:
    """Whether a file with a number between those of two others is on its way."""
    a, b = file_number(before), file_number(after)
    if a is None or b is None:
        return False
    numbers = [file_number(file) for file in watch.on_the_way]
    return any(number is not None and a < number < b for number in numbers)


def _why_missing(watch: Watch, cell: int) -> str:
    """What lies around the gap, and whether the file numbers leave room for a file."""
    followed = watch.followed
    says = missing_says(followed.whole(), cell)
    frames = zip(followed.frames, followed.cell, strict=True)
    numbers = [(k, file_number(frame.file)) for frame, k in frames if k >= 0]
    before = [number for k, number in numbers if k < cell and number is not None]
    after = [number for k, number in numbers if k > cell and number is not None]
    if before and after and min(after) - max(before) > 1:
        says += "; the file numbers leave room for it, so it may still be on its way"
    return says
