"""Place frames on cells, judge them, give the verdict and the retake list."""

from belvedere.check.ahead import Ahead
from belvedere.check.crops import Crops, by_homography, laid_on, telling_crops
from belvedere.check.gaps import Geometry, judge_positions
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
from belvedere.check.overlaps import overlaps_of, placed_overlaps
from belvedere.check.pair_notes import PairMemory
from belvedere.check.place import Placing, place
from belvedere.check.positions import Positions, find_positions
from belvedere.check.reasons import DIRECTIONS, Beside, Neighbour, Reasons, reasons_for
from belvedere.check.retakes import steps_from_start
from belvedere.check.sightings import Sightings, sightings
from belvedere.check.verdict import report

__all__ = [
    "DIRECTIONS",
    "GRAVITY",
    "Ahead",
    "Beside",
    "CellReport",
    "CheckReport",
    "Crops",
    "Finding",
    "Geometry",
    "Judgement",
    "Located",
    "Moves",
    "Neighbour",
    "OtherFrame",
    "PairMemory",
    "Placement",
    "Placing",
    "Positions",
    "Reasons",
    "RetakeLight",
    "RetakeStop",
    "RetakeTour",
    "Sightings",
    "Spreads",
    "State",
    "Verdict",
    "by_homography",
    "find_positions",
    "judge",
    "judge_positions",
    "laid_on",
    "locate",
    "overlaps_of",
    "place",
    "placed_overlaps",
    "reasons_for",
    "report",
    "sightings",
    "steps_from_start",
    "telling_crops",
    "with_retakes",
]
