"""Place frames on cells, judge them, give the verdict and the retake list."""

from belvedere.check.judge import judge
from belvedere.check.judge_model import Judgement
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
    "Judgement",
    "OtherFrame",
    "Placement",
    "RetakeStop",
    "State",
    "Verdict",
    "judge",
]
