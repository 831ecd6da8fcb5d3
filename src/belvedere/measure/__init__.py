"""What one picture, or an overlapping pair, says: no opinions."""

from belvedere.measure.overlap import Overlap
from belvedere.measure.shift import Shift, phase_shift
from belvedere.measure.source import FrameSource, Pixels

__all__ = ["FrameSource", "Overlap", "Pixels", "Shift", "phase_shift"]
