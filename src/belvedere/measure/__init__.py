"""What one picture, or an overlapping pair, says: no opinions."""

from belvedere.measure.features import FeatureMatch, find_overlaps, match_features
from belvedere.measure.overlap import Overlap
from belvedere.measure.shift import Shift, phase_shift
from belvedere.measure.source import FrameSource, Pixels

__all__ = [
    "FeatureMatch",
    "FrameSource",
    "Overlap",
    "Pixels",
    "Shift",
    "find_overlaps",
    "match_features",
    "phase_shift",
]
