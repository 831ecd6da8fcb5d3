"""Which frame is in charge where: a small map, carried to any level as smooth outlines."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.compose.model import Layout, Window

Labels = NDArray[np.int32]
Weights = NDArray[np.float32]

#: Pixels of the label map around a window that its outlines depend on.
_MARGIN = 3
_BINOMIAL = np.array([1.0, 4.0, 6.0, 4.0, 1.0], np.float32) / 16.0


@dataclass(frozen=True, slots=True)
class Outlines:
    """The label map at `level`: (height, width) numbers of frames, every pixel has one."""

    labels: Labels
    level: int
    full_turn: bool

    def present(self, level: int, window: Window) -> Labels:
        """Numbers of the frames that may be in charge somewhere in `window` of `level`."""
        return np.unique(self._around(level, window)[0])

    def claim(self, level: int, window: Window, number: int) -> Weights:
        """How strongly frame `number` claims each pixel of `window`: (height, width), 0 to 1.

        The map's indicator, smoothed and enlarged (or averaged): where the claims of two frames
        cross runs a smooth outline. Sums of powers of two: exact in float32, so the same for
        every block.
        """
        labels, left, top = self._around(level, window)
        smooth = smoothed((labels == number).astype(np.float32))
        if level <= self.level:
            times = 1 << (self.level - level)
            sized = cv2.resize(smooth, None, fx=times, fy=times, interpolation=cv2.INTER_LINEAR)
            left, top = left * times, top * times
        else:
            times = 1 << (level - self.level)
            sized = cv2.resize(
                smooth, None, fx=1 / times, fy=1 / times, interpolation=cv2.INTER_AREA
            )
            left, top = left // times, top // times
        x, y = window.left - left, window.top - top
        return np.array(sized[y : y + window.height, x : x + window.width], np.float32)

    def _around(self, level: int, window: Window) -> tuple[Labels, int, int]:
        """The part of the map that `window` depends on, and its place in the map."""
        if level <= self.level:
            times = 1 << (self.level - level)
            left, top = window.left // times - _MARGIN, window.top // times - _MARGIN
            right = -(-window.right // times) + _MARGIN
            bottom = -(-window.bottom // times) + _MARGIN
        else:
            times = 1 << (level - self.level)
            left, top = (window.left - 1) * times, (window.top - 1) * times
            right, bottom = (window.right + 1) * times, (window.bottom + 1) * times
        height, width = self.labels.shape
        rows = np.clip(np.arange(top, bottom), 0, height - 1)
        columns = np.arange(left, right)
        columns = columns % width if self.full_turn else np.clip(columns, 0, width - 1)
        return self.labels[rows][:, columns], left, top


def smoothed(indicator: Weights) -> Weights:
    """Five-tap binomial smoothing; outside the array lies nothing."""
    weights: Weights = cv2.sepFilter2D(  # type: ignore[assignment]
        indicator, cv2.CV_32F, _BINOMIAL, _BINOMIAL, borderType=cv2.BORDER_CONSTANT
    )
    return weights


def map_level(layout: Layout, frame_side_px: float) -> int:
    """The level of the label map: frames about 160 px on their short side, 16 MP at most."""
    level = max(0, round(float(np.log2(frame_side_px / 160.0))))
    while np.prod(layout.size_at(level), dtype=np.int64) > 16_000_000:
        level += 1
    return level
