"""Place frames on cells, judge them, give the verdict and the retake list."""

from belvedere.check.model import (
    GRAVITY,
    CellReport,
    CheckReport,
    Finding,
    OtherFrame,
    Placement,
    RetakeStop,
    State,
    Verdict,
)

__all__ = [
    "GRAVITY",
    "CellReport",
    "CheckReport",
    "Finding",
    "OtherFrame",
    "Placement",
    "RetakeStop",
    "State",
    "Verdict",
]
