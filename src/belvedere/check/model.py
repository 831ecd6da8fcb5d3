"""What the check says: placements, findings, cells, the verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

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
    """One cell to re-shoot and how to reach it: moves counted from the sweep's start corner."""

    row: int
    column: int
    bearing_deg: float
    elevation_deg: float
    columns_from_start: int
    rows_from_start: int
    why: str


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
