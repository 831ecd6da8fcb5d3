"""What the check says: placements, findings, cells, the verdict."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from belvedere.shoot import Settings

Verdict = Literal["complete", "reshoot", "unsure"]
State = Literal["good", "missing", "soft", "shaken", "exposure", "colour", "corrupt", "unsure"]

#: Gravest first: a cell's state is the gravest of its findings.
GRAVITY: tuple[State, ...] = (
    "missing",
    "corrupt",
    "soft",
    "shaken",
    "exposure",
    "colour",
    "unsure",
    "good",
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong with a cell or a frame, with the evidence for it.

    `kind` is a state for what a cell can have, or one of the kinds that stand on the shoot as a
    whole ("parallax", "settings", "overlap", …). `says` is a sentence a person can act on.
    """

    kind: str
    says: str
    file: str = ""
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Placement:
    """Which cell a frame belongs to, with the confidence.

    `row` and `column` are None for a frame that belongs to no cell; `role` then says what it is
    ("before the sweep", "after the sweep", "foreign"). Where a cell has several frames, `takes`
    of them, the last good one is in charge unless the person chose another.
    """

    file: str
    row: int | None
    column: int | None
    confidence: float
    role: str = ""
    evidence: str = ""


@dataclass(frozen=True, slots=True)
class CellReport:
    """The state of one cell; `frames` has the one in charge first."""

    row: int
    column: int
    state: State
    frames: tuple[str, ...]
    confidence: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class OtherFrame:
    """A frame that belongs to no cell."""

    file: str
    role: str


@dataclass(frozen=True, slots=True)
class RetakeStop:
    """One cell to re-shoot and how to reach it.

    `columns_from_start` and `rows_from_start` are counted from the sweep's start corner. From the
    stop before, the first one from the start corner: `columns_from_before` to the right (None
    between rows that have not the same columns), `rows_from_before` down, `pan_deg` to the right
    and `tilt_deg` up. `settings` are those of the good frames around it.
    """

    row: int
    column: int
    bearing_deg: float
    elevation_deg: float
    columns_from_start: int
    rows_from_start: int
    why: str
    columns_from_before: int | None = None
    rows_from_before: int = 0
    pan_deg: float = 0.0
    tilt_deg: float = 0.0
    settings: Settings = field(default_factory=Settings)


@dataclass(frozen=True, slots=True)
class RetakeLight:
    """Whether the light allows the retakes, from `begin` to `end`, in the offset of the plan.

    `change_ev` is the greatest change of daylight since a cell was taken, `shadows_turned_deg` the
    greatest turn of shadows (None without sun), `sunset` None where the sun was down already.
    """

    allows: bool
    begin: datetime
    end: datetime
    change_ev: float
    shadows_turned_deg: float | None
    sunset: datetime | None
    says: str


@dataclass(frozen=True, slots=True)
class RetakeTour:
    """What all stops of the retake list have in common.

    It begins at the start corner, `start_row` and `start_column`. `moves_s` is the time that the
    head turns, `seconds` all of it: turning, settling, and the camera's time for each frame.
    `settings` are what most stops ask for; `light` is None where nothing is known of it.
    """

    start_row: int
    start_column: int
    moves_s: float
    seconds: float
    settings: Settings
    light: RetakeLight | None


@dataclass(frozen=True, slots=True)
class CheckReport:
    """The answer at the tripod."""

    verdict: Verdict
    cells: tuple[CellReport, ...]
    other_frames: tuple[OtherFrame, ...]
    findings: tuple[Finding, ...]
    retakes: tuple[RetakeStop, ...]
    placements: tuple[Placement, ...]
    seconds: float
    retake_tour: RetakeTour | None = None
