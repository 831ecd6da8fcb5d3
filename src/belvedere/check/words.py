"""The sentences of the check: each names files, times and numbers, so that a person can act."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePosixPath

import numpy as np

from belvedere.check.model import Finding
from belvedere.check.place import Placing
from belvedere.check.rhythm import seconds
from belvedere.check.takes import Take
from belvedere.shoot import Plan

#: A rhythm off the planned one by more than this share is worth a remark.
_OTHER_RHYTHM = 0.25
#: A step off the planned one by more than this share is worth a remark.
_OTHER_STEP = 0.1


def name(file: str) -> str:
    """A file as the person knows it: without the folders of the card."""
    return PurePosixPath(file).name


def missing_says(placing: Placing, index: int) -> str:
    """Why cell `index` is thought to have no frame: what lies around the gap."""
    cell = placing.cell
    before = np.flatnonzero((cell >= 0) & (cell < index)).tolist()
    after = np.flatnonzero(cell > index).tolist()
    if not before and not after:
        return "no frame of the sweep was found"
    if not before:
        return f"no frame before {name(placing.frames[after[0]].file)}, the first of the sweep"
    if not after:
        return f"no frame after {name(placing.frames[before[-1]].file)}, the last of the sweep"
    last, following = int(before[-1]), _next_after(cell, int(before[-1]), index)
    if following is None:
        following = int(after[0])
    a, b = placing.frames[last], placing.frames[following]
    gap = int(cell[following] - cell[last]) - 1
    cells = "" if gap <= 1 else f" ({gap} cells have none there)"
    says = f"no frame between {name(a.file)} and {name(b.file)}{cells}"
    return f"{says}: {_gap_words(placing, last, following)}"


def _next_after(cell: np.ndarray[tuple[int], np.dtype[np.int64]], t: int, index: int) -> int | None:
    later = [u for u in range(t + 1, len(cell)) if cell[u] > index]
    return later[0] if later else None


def _gap_words(placing: Placing, a: int, b: int) -> str:
    stuck = [t for t in range(1, b) if t <= a and placing.cell[t] == placing.cell[t - 1]]
    clock, rhythm = seconds(placing.frames), placing.rhythm
    gap = float(clock[b] - clock[a])
    if rhythm is not None and np.isfinite(gap) and gap > 1.5 * rhythm.interval_s:
        return f"{_s(gap)} passed instead of {_s(rhythm.interval_s)}"
    if stuck and stuck[-1] == a:
        return f"{name(placing.frames[a].file)} shows the cell before once more"
    steps = int(placing.cell[b] - placing.cell[a])
    return f"the second shows what lies {steps} cells after the first"


def _s(value_s: float) -> str:
    return f"{value_s:.0f} s" if abs(value_s - round(value_s)) < 0.1 else f"{value_s:.1f} s"


def unsure_says(plan: Plan, placing: Placing, index: int, take: Take) -> str:
    """Why it is not sure that a cell has its frame."""
    t = next(t for t, frame in enumerate(placing.frames) if frame.file == take.file)
    chances = placing.alignment.cell[t].copy()
    chances[index] = 0.0
    other = int(chances.argmax())
    if chances[other] > placing.alignment.nowhere[t]:
        cell = plan.cells[other]
        instead = f"it may be row {cell.row}, column {cell.column} instead"
    else:
        instead = "it may be no frame of the sweep"
    return (
        f"{name(take.file)} is placed here with {take.confidence:.0%} confidence; {instead}: "
        f"its neighbours show too little to tell"
    )


def repeated_says(takes: Sequence[Take]) -> str:
    """That a cell has several frames, and which one counts."""
    others = ", ".join(name(take.file) for take in takes[1:])
    how = "the retake" if takes[0].chosen else "the best take"
    verb = "is" if len(takes) == 2 else "are"
    return f"{name(takes[0].file)} is used, {how}; {others} {verb} not"


def placed_words(placing: Placing, t: int) -> str:
    """What a placement rests on, in short."""
    if placing.frames[t].damage:
        return "clock and file number"
    return "pictures and clock" if placing.rhythm is not None else "pictures"


def shoot_remarks(plan: Plan, placing: Placing) -> list[Finding]:
    """What the card tells about the sweep as a whole that differs from the plan."""
    return [*_rhythm_remark(plan, placing), *_step_remark(placing)]


def _rhythm_remark(plan: Plan, placing: Placing) -> list[Finding]:
    planned, heard = plan.shoot.sweep.interval_s, placing.rhythm
    if planned is None or heard is None:
        return []
    if abs(heard.interval_s - planned) <= max(_OTHER_RHYTHM * planned, 0.5):
        return []
    return [
        Finding(
            "interval",
            f"the shutter was released every {_s(heard.interval_s)}, the plan says {_s(planned)}",
            value=round(heard.interval_s, 2),
            unit="s",
        )
    ]


def _step_remark(placing: Placing) -> list[Finding]:
    linear = placing.moves.linear
    across, down = float(linear[0, 0]), float(linear[1, 1])
    if np.linalg.det(linear) < 0.0 or across < 0.0:
        upside = across < 0.0 and down < 0.0
        directions = [
            *(["left to right"] if across < 0.0 else []),
            *(["top to bottom"] if down < 0.0 else []),
        ]
        return [
            Finding(
                "sweep",
                f"the pictures run against the plan ({' and '.join(directions)} swapped): the "
                f"sweep began at another corner than the shoot file says"
                + (", or the camera hung upside down" if upside else "")
                + "; cells are named in the order of the plan",
            )
        ]
    off = max(abs(across - 1.0), abs(down - 1.0))
    if off <= _OTHER_STEP:
        return []
    return [
        Finding(
            "step",
            f"from cell to cell the picture moves {across:.2f} times as far across and {down:.2f} "
            f"times as far down as planned: check the focal length, the edges and the counts in "
            f"the shoot file",
            value=round(across, 3),
            unit="times",
        )
    ]
