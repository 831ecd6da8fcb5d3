"""What one picture, or an overlapping pair, says: no opinions."""

from belvedere.measure.correlation import Matching, Peak, Prepared, prepare
from belvedere.measure.features import FeatureMatch, find_overlaps, match_features
from belvedere.measure.overlap import Overlap
from belvedere.measure.shift import Shift, phase_shift
from belvedere.measure.source import FrameSource, Pixels

__all__ = [
    "FeatureMatch",
    "FrameSource",
    "Matching",
    "Overlap",
    "Peak",
    "Pixels",
    "Prepared",
    "Shift",
    "find_overlaps",
    "match_features",
    "phase_shift",
    "prepare",
]
