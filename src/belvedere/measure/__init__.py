"""What one picture, or an overlapping pair, says: no opinions."""

from belvedere.measure.shift import Shift, phase_shift
from belvedere.measure.source import FrameSource, Pixels

__all__ = ["FrameSource", "Pixels", "Shift", "phase_shift"]
