"""Place frames on cells, judge them, give the verdict and the retake list."""

from belvedere.check.judge import judge
from belvedere.check.judge_model import Judgement
from belvedere.check.locate import Located, locate, with_retakes
from belvedere.check.model import (
    GRAVITY,
    CellReport,
    CheckReport,
    Finding,
    OtherFrame,
    Placement,
    RetakeLight,
    RetakeStop,
    RetakeTour,
    State,
    Verdict,
)
from belvedere.check.moves import Moves, Spreads
from belvedere.check.overlaps import placed_overlaps
from belvedere.check.place import Placing, place
from belvedere.check.retakes import steps_from_start
from belvedere.check.sightings import Sightings, sightings
from belvedere.check.verdict import report

__all__ = [
    "GRAVITY",
    "CellReport",
    "CheckReport",
    "Finding",
    "Judgement",
    "Located",
    "Moves",
    "OtherFrame",
    "Placement",
    "Placing",
    "RetakeLight",
    "RetakeStop",
    "RetakeTour",
    "Sightings",
    "Spreads",
    "State",
    "Verdict",
    "judge",
    "locate",
    "place",
    "placed_overlaps",
    "report",
    "sightings",
    "steps_from_start",
    "with_retakes",
]
