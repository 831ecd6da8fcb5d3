"""Watch a folder while the shoot runs into it, and speak up at the first fault.

A card, a tether folder, a wireless copy: whatever fills up with frames. It is only read.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Generator, Sequence
from collections.abc import Set as AbstractSet
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from belvedere.check import Finding, Moves, PairMemory, judge, sightings
from belvedere.check.awaited import Timetable
from belvedere.check.gaps import judge_positions
from belvedere.check.positions import find_positions
from belvedere.check.thresholds import (
    JUDGED_FRAMES,
    LOOK_EVERY_S,
    MOVED_FRAMES,
    SETTLED_FRAMES,
)
from belvedere.foundation import CardError, PlanError, finish
from belvedere.imagefiles import FolderSource, ends_whole, read_card_with_pictures
from belvedere.measure import Overlap
from belvedere.shoot import Frame, Plan, make_plan, release_times_s
from belvedere.store import ensure_writable
from belvedere.workflows.check import shoot_path
from belvedere.workflows.shootfile import load_shoot
from belvedere.workflows.watch_events import WatchEvent, WatchView
from belvedere.workflows.watch_files import look
from belvedere.workflows.watch_news import advance
from belvedere.workflows.watch_placing import Followed, follow, overlaps_of
from belvedere.workflows.watch_state import Judged, Watch, finished, view

#: Looks in an interval, at least: so much of it a silence may be heard too late.
_LOOKS_AN_INTERVAL = 6.0
#: Another shape than the plan's, as a share of the proportions.
_OTHER_SHAPE = 0.02
#: Frames from one look at how all of them lie to the next.
_LOOK_AROUND_EVERY = 3
#: Decoded pictures that are kept: a few frames, grey and small colour.
_KEPT_PICTURES = 12

Watching = Generator[WatchEvent | WatchView, None, None]


def watch_folder(
    folder: Path,
    shoot_file: Path,
    json_file: Path | None = None,
    *,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> Watching:
    """Yield what is to be said, and how things stand when that changes, until the sweep is over.

    It is over when every cell has its frame, when the time of the last one is long past, or when
    a KeyboardInterrupt says so; then the check should follow. The folder need not be there yet.

    Raises
    ------
    PlanError, StoreError
        For a faulty shoot file, or a `json_file` that cannot be written at the end.
    CardError
        Where the first frame has another shape than the shoot file says.
    """
    if json_file is not None:
        ensure_writable(json_file)
    if folder.exists() and not folder.is_dir():
        raise CardError(f"{folder} is not a folder.", "Give the folder that the frames come into.")
    plan = make_plan(load_shoot(shoot_path(shoot_file)))
    desk = CardDesk(folder, plan)
    watch = new_watch(plan, str(folder))
    before = view(watch)
    yield before
    try:
        while not finished(watch, clock()):
            watch, events = advance(watch, look(folder, watch.done), clock(), desk)
            yield from events
            now = view(watch)
            if now != before:
                yield now
            before = now
            interval_s = now.interval_s or watch.planned_interval_s or 1.0
            sleep(min(LOOK_EVERY_S, interval_s / _LOOKS_AN_INTERVAL) if not watch.ready else 0.0)
    except KeyboardInterrupt:
        yield WatchEvent("note", "the watch is ended; now the check of all that is here")
        return
    yield WatchEvent("note", "the sweep is over; now the check of all that is here")


def new_watch(plan: Plan, folder: str) -> Watch:
    """A watch before its first look; `folder` as it is spoken of."""
    if not plan.cells:
        raise PlanError("The plan has no cells to watch for.", "Correct [grid] in the shoot file.")
    interval_s = plan.shoot.sweep.interval_s
    gaps_s = np.diff(release_times_s(plan, interval_s or 1.0)) - (interval_s or 1.0)
    extra_s = np.concatenate([[0.0], np.maximum(gaps_s, 0.0)])
    return Watch(
        Timetable(extra_s, Moves.of_plan(plan).line),
        tuple((cell.row, cell.column) for cell in plan.cells),
        folder,
        interval_s,
    )


class CardDesk:
    """Opens, places and judges the frames of a folder; remembers what it has seen of them."""

    def __init__(self, folder: Path, plan: Plan) -> None:
        self._folder = folder
        self._plan = plan
        self._small: dict[str, NDArray[np.uint8]] = {}
        self._orientation: dict[str, int] = {}
        self._overlaps: dict[tuple[str, str], Overlap] = {}
        self._memory = PairMemory()
        self._until_look_around = 0
        self._found_before = False
        self._latest = LatestPictures(folder, self._orientation)

    def ends_whole(self, file: str) -> bool | None:
        """Whether a file is there to its end, None where that cannot be told."""
        return ends_whole(self._folder / file)

    def read(self, files: Sequence[str]) -> tuple[Frame, ...]:
        """The files, read."""
        reading = finish(read_card_with_pictures(self._folder, None, files))
        self._latest.forget(files)
        for one in reading.readings:
            self._small[one.frame.file] = one.small
            self._orientation[one.frame.file] = one.orientation
            _require_planned_shape(self._plan, one.frame)
        changed = set(files)
        self._overlaps = {p: o for p, o in self._overlaps.items() if not changed & set(p)}
        return reading.frames

    def follow(self, before: Followed, new: Sequence[Frame]) -> Followed:
        """All frames with their cells."""
        return follow(before, new, self._small, self._plan)

    def judge(self, now: Followed, file: str) -> Judged:
        """A frame against its neighbours, and these against theirs."""
        for overlap in overlaps_of(now, file, self._small):
            self._overlaps[overlap.file_a, overlap.file_b] = overlap
        near = {end for pair in self._overlaps if file in pair for end in pair} | {file}
        frames = _judged_together(now, near)
        files = frozenset(frame.file for frame in frames)
        overlaps = [o for pair, o in self._overlaps.items() if set(pair) <= files]
        cells = {
            frame.file: (self._plan.cells[k].row, self._plan.cells[k].column)
            for frame, k in zip(now.frames, now.cell, strict=True)
            if k >= 0
        }
        judged = finish(judge(frames, overlaps, self._latest, cells=cells, memory=self._memory))
        if not all((self._folder / one).is_file() for one in near):
            return Judged()  # the folder was pulled: what could not be read is no fault
        moved = self._moved(now, frames[-MOVED_FRAMES:])
        return Judged(frozenset(near), files, judged.findings, (*judged.shoot_findings, *moved))

    def _moved(self, now: Followed, frames: Sequence[Frame]) -> tuple[Finding, ...]:
        """Whether the camera as a whole was moved; looked at now and then, and again if so."""
        self._until_look_around -= 1
        if self._until_look_around > 0 or len(frames) < SETTLED_FRAMES:
            return ()
        those = now.only({frame.file for frame in frames})
        positions = finish(find_positions(those, sightings(those.frames, self._small)))
        found = judge_positions(self._plan, those, positions).shoot_findings
        # What is found is looked at once more, for the second opinion.
        first = bool(found) and not self._found_before
        self._until_look_around = 1 if first else _LOOK_AROUND_EVERY
        self._found_before = bool(found)
        return tuple(finding for finding in found if finding.kind == "moved")


def _judged_together(now: Followed, near: AbstractSet[str]) -> list[Frame]:
    """The latest frames that have a cell, and those near the one that is judged."""
    placed = [t for t, k in enumerate(now.cell) if k >= 0]
    latest = set(placed[-JUDGED_FRAMES:])
    return [now.frames[t] for t in placed if t in latest or now.frames[t].file in near]


class LatestPictures:
    """A folder as a `FrameSource` that does not decode the latest pictures again."""

    def __init__(self, folder: Path, orientation: dict[str, int]) -> None:
        self._folder = folder
        self._orientation = orientation
        self._kept: OrderedDict[tuple[str, str, int], NDArray[np.uint8]] = OrderedDict()

    def grey(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        """The luma of the picture as (height, width)."""
        return self._picture("grey", file, shrink)

    def colour(self, file: str, shrink: int = 1) -> NDArray[np.uint8]:
        """The picture as (height, width, 3) RGB."""
        return self._picture("colour", file, shrink)

    def forget(self, files: Sequence[str]) -> None:
        """Files that were written anew."""
        for key in [key for key in self._kept if key[1] in set(files)]:
            del self._kept[key]

    def _picture(self, kind: str, file: str, shrink: int) -> NDArray[np.uint8]:
        key = (kind, file, shrink)
        if key not in self._kept:
            source = FolderSource(self._folder, self._orientation)
            self._kept[key] = getattr(source, kind)(file, shrink)
        self._kept.move_to_end(key)
        while len(self._kept) > _KEPT_PICTURES:
            self._kept.popitem(last=False)
        return self._kept[key]


def _require_planned_shape(plan: Plan, frame: Frame) -> None:
    camera = plan.shoot.camera
    if frame.damage or not frame.width_px:
        return
    planned = camera.image_width_px / camera.image_height_px
    if abs(frame.width_px / frame.height_px / planned - 1.0) > _OTHER_SHAPE:
        raise CardError(
            f"{frame.file} is {frame.width_px} × {frame.height_px} px, the shoot file says "
            f"{camera.image_width_px} × {camera.image_height_px} px.",
            "Correct image_width_px and image_height_px in [camera], or give the right folder.",
        )
