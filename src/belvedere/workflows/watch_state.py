"""What is known of a running shoot at one time, and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np

from belvedere.check import Finding, State
from belvedere.check.awaited import Pace, Timetable, over, pace
from belvedere.check.takes import gravest
from belvedere.check.words import name
from belvedere.shoot import Frame
from belvedere.workflows.watch_events import Cell, WatchView, cell_words
from belvedere.workflows.watch_files import Arriving
from belvedere.workflows.watch_placing import Followed


@dataclass(frozen=True, slots=True)
class Judged:
    """What the judges said of a frame and of those that overlap it, its `near` ones.

    `files` are all that were looked at for it.
    """

    near: frozenset[str] = frozenset()
    files: frozenset[str] = frozenset()
    findings: tuple[Finding, ...] = ()
    shoot_findings: tuple[Finding, ...] = ()


class Desk(Protocol):
    """Where files are opened and pictures compared."""

    def ends_whole(self, file: str) -> bool | None:
        """Whether a file is there to its end, None where that cannot be told."""

    def read(self, files: Sequence[str]) -> tuple[Frame, ...]:
        """The files, read."""

    def follow(self, before: Followed, new: Sequence[Frame]) -> Followed:
        """All frames with their cells."""

    def judge(self, now: Followed, file: str) -> Judged:
        """A frame against its neighbours."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault that was found in a frame; `missed` counts later judgements that did not find it."""

    finding: Finding
    missed: int = 0


@dataclass(frozen=True, slots=True)
class Watch:
    """Everything that is known at one time.

    `folder` is its name, for the sentences. `fresh` is set while files may have come when nobody
    looked, `since_s` is when such a time ended. `appeared_s` is by file, nan for those that came
    then. `ready` files are whole and not read yet. `late` are cells whose frame was said to be
    late, `missing` those said to be left out for certain (both as indices in sweep order). `faults`
    is by file and kind, `told` counts the judgements that made a remark on the shoot.
    """

    timetable: Timetable
    cells: tuple[Cell, ...]
    folder: str = "folder"
    planned_interval_s: float | None = None
    presence: Literal["unseen", "empty", "there", "gone"] = "unseen"
    fresh: bool = True
    since_s: float = float("-inf")
    arriving: Mapping[str, Arriving] = field(default_factory=dict)
    ready: tuple[str, ...] = ()
    appeared_s: Mapping[str, float] = field(default_factory=dict)
    followed: Followed = field(default_factory=Followed)
    unjudged: tuple[str, ...] = ()
    faults: Mapping[tuple[str, str], Fault] = field(default_factory=dict)
    late: frozenset[int] = frozenset()
    missing: frozenset[int] = frozenset()
    told: Mapping[str, int] = field(default_factory=dict)

    @property
    def done(self) -> frozenset[str]:
        """Files that need no look any more; one that was given up as cut still does."""
        return frozenset(self.appeared_s.keys() - self.arriving.keys())

    @property
    def on_the_way(self) -> tuple[str, ...]:
        """Files that are being written or wait to be read."""
        return (*(f for f, how in self.arriving.items() if not how.stuck), *self.ready)


def view(watch: Watch) -> WatchView:
    """How things stand, to be shown."""
    followed = watch.followed
    states: dict[Cell, State] = {watch.cells[k]: "missing" for k in watch.late | watch.missing}
    for frame, cell in zip(followed.frames, followed.cell, strict=True):
        if cell >= 0:
            states[watch.cells[cell]] = state_of(watch, frame.file)
    last, known = last_cell(watch), current_pace(watch)
    return WatchView(
        watch.cells,
        states,
        len(followed.frames),
        watch.cells[last + 1] if last + 1 < len(watch.cells) else None,
        None if known is None else known.interval_s,
    )


def finished(watch: Watch, now_s: float) -> bool:
    """Whether the sweep is over: every cell has its frame, or the last one's time is long past."""
    if watch.presence != "there" or watch.on_the_way:
        return False
    if set(range(len(watch.cells))) <= set(watch.followed.cell):
        return True
    known, last_s = current_pace(watch), last_appeared_s(watch)
    if known is None or not np.isfinite(last_s):
        return False
    return over(watch.timetable, known, last_cell(watch), last_s, now_s)


def last_cell(watch: Watch) -> int:
    """Index of the cell where the sweep is, -1 before the first; a file on its way is a frame."""
    followed = watch.followed
    last = followed.cell[followed.last] if followed.last >= 0 else -1
    known = {frame.file for frame in followed.frames}
    coming = sum(file not in known for file in watch.on_the_way)
    return min(last + coming, len(watch.cells) - 1)


def last_appeared_s(watch: Watch) -> float:
    """When the latest file appeared, nan where none did while the watch looked."""
    times = [*watch.appeared_s.values(), *(how.appeared_s for how in watch.arriving.values())]
    return max((time_s for time_s in times if time_s > watch.since_s), default=float("nan"))


def current_pace(watch: Watch) -> Pace | None:
    """The pace of the frames that came so far."""
    followed = watch.followed
    rhythm = None if followed.placing is None else followed.placing.rhythm
    return pace(
        watch.timetable,
        followed.cell,
        [watch.appeared_s.get(frame.file, float("nan")) for frame in followed.frames],
        watch.planned_interval_s if rhythm is None else rhythm.interval_s,
    )


def cells_of(watch: Watch, file: str) -> tuple[Cell, ...]:
    """Row and column of a frame, empty where it belongs to no cell."""
    followed = watch.followed
    k = followed.cell[followed.position(file)]
    return (watch.cells[k],) if k >= 0 else ()


def place_words(watch: Watch, file: str) -> str:
    """Where a frame belongs, in words: its cell, or else its file."""
    return next(map(cell_words, cells_of(watch, file)), name(file))


def state_of(watch: Watch, file: str) -> State:
    """The gravest fault found in a frame."""
    return gravest([fault.finding for key, fault in watch.faults.items() if key[0] == file])
