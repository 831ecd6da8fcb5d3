"""What a watch says, and in which words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from belvedere.check import State

#: "fault" is worth a bell; "better" takes one back; "note" is for reading; "came" is a frame.
EventKind = Literal["came", "fault", "better", "note"]
Cell = tuple[int, int]

#: Findings that are said at once; the others can wait for the answer at the end.
FAULTS: tuple[State, ...] = ("corrupt", "soft", "shaken", "exposure", "colour")

_AT_THE_END = "shoot this cell again when the sweep is done"
_ADVICE: dict[str, str] = {
    "soft": f"Stop the head, focus again and let it go on; {_AT_THE_END}.",
    "shaken": f"Was it wind, a step beside the tripod, too short a wait? Steady it; {_AT_THE_END}.",
    "exposure": f"Stop the head, set the exposure back by hand and let it go on; {_AT_THE_END}.",
    "colour": f"Stop the head, set the white balance back by hand and let it go on; {_AT_THE_END}.",
    "corrupt": "Shoot this cell again when the sweep is done; if it happens again, change the card "
    "or the cable.",
    "moved": "Stop the head, make the tripod fast where it stands and let it go on; what is left "
    "out of the picture is told at the end.",
    "settings": "Stop the head, set the camera back as it was and let it go on.",
}


@dataclass(frozen=True, slots=True)
class WatchEvent:
    """One thing that a watch says; `advice` is what to do now.

    `cells` (row, column) and `file` are what it is about, where it is about any. `state` is the
    word for a fault.
    """

    kind: EventKind
    says: str
    cells: tuple[Cell, ...] = ()
    file: str = ""
    state: State | None = None
    advice: str = ""


@dataclass(frozen=True, slots=True)
class WatchView:
    """How things stand: the state of each cell that had its turn, and what comes next.

    `grid` has all cells (row, column) in sweep order. `states` is by cell; one that is not in it
    had no turn yet. `awaited` is the next cell, None when the last one has come.
    """

    grid: tuple[Cell, ...]
    states: Mapping[Cell, State]
    frames: int
    awaited: Cell | None
    interval_s: float | None


def advice(kind: str) -> str:
    """What to do about a fault of this kind while the head goes on, "" where nothing is."""
    return _ADVICE.get(kind, "")


def cell_words(cell: Cell) -> str:
    """A cell as it is spoken of."""
    return f"row {cell[0]}, column {cell[1]}"


def run_words(cells: Sequence[Cell]) -> str:
    """Some cells in a row of the sweep as they are spoken of."""
    if len(cells) == 1:
        return cell_words(cells[0])
    if len(cells) == 2:
        return f"{cell_words(cells[0])} and {cell_words(cells[1])}"
    return f"{len(cells)} cells from {cell_words(cells[0])} to {cell_words(cells[-1])}"


def seconds_words(seconds: float) -> str:
    """Seconds, to a tenth where they are few."""
    return (
        f"{seconds:.1f} s" if seconds < 10.0 and abs(seconds % 1.0) > 0.05 else f"{seconds:.0f} s"
    )


def late_event(cell: Cell, silent_s: float, usual_s: float, in_a_row: int) -> WatchEvent:
    """That a cell's frame should have come; the `in_a_row`th one of one silence."""
    if in_a_row == 1:
        says = (
            f"no frame for {cell_words(cell)}: {seconds_words(silent_s)} have passed instead of "
            f"{seconds_words(usual_s)}"
        )
        advice_ = (
            "The head moves on. The camera did not fire, or the file is still on its way; "
            "if it does not come, shoot this cell again when the sweep is done."
        )
    else:
        says = (
            f"no frame for {cell_words(cell)} either: nothing has come for "
            f"{seconds_words(silent_s)}"
        )
        advice_ = (
            "Look at the camera: is it on, are battery and card good for more, is the cable in? "
            "If you paused the head yourself, all is well; if the sweep is over, press Ctrl-C."
        )
    return WatchEvent("fault", says, (cell,), state="missing", advice=advice_)


def missing_event(cells: Sequence[Cell], why: str, spoken_of: bool) -> WatchEvent:
    """That cells were left out for certain; `spoken_of` when they were said to be late."""
    says = f"{run_words(cells)}: MISSING, {why}"
    if spoken_of:
        return WatchEvent("note", f"it is certain now: {says}", tuple(cells))
    them = "it" if len(cells) == 1 else "them"
    what = f"Shoot {them} again when the sweep is done."
    return WatchEvent("fault", says, tuple(cells), state="missing", advice=what)
