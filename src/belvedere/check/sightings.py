"""What pairs of small pictures show of each other, each looked at once."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.measure import Matching, Peak, Prepared, fixed_pattern, prepare
from belvedere.shoot import Frame

Grey = NDArray[np.uint8]

# About 1.2 MB each, and 2.3 MB: enough for what is looked at within a line and its neighbours.
_KEPT_PICTURES = 120
_KEPT_PAIRS = 100
#: Frames from which the camera's own pattern is learnt.
_FEWEST_FOR_PATTERN, _MOST_FOR_PATTERN = 6, 60
#: Rows of filler below a picture that ends early vary less than this (grey levels).
_FILLER_SPREAD = 0.75


class Sightings:
    """Small pictures of the frames, by index, matched on demand and remembered.

    Displacements go in and come out in full-size pixels; `shrink` is full-size pixels per pixel
    of the small picture. A picture that is empty shows nothing.
    """

    def __init__(self, small: Sequence[Grey], shrink: int, damaged: Sequence[bool]) -> None:
        shapes = [picture.shape for picture in small if picture.size]
        self._shape = max(set(shapes), key=shapes.count) if shapes else (16, 16)
        self._small = small
        self._damaged = damaged
        self.shrink = shrink
        self._pattern = self._shared()
        self._prepared: OrderedDict[int, Prepared] = OrderedDict()
        self._pairs: OrderedDict[tuple[int, int], Matching] = OrderedDict()
        self._ratios: dict[tuple[int, int, float, float, float], float] = {}
        self._peaks: dict[tuple[int, int, float, float, float], Peak] = {}
        self._elsewhere: dict[tuple[int, int], float] = {}

    def peak(self, first: int, second: int) -> Peak:
        """The best displacement at all."""
        return self._full(self._matching(first, second).best())

    def peak_near(
        self, first: int, second: int, expected: tuple[float, float], reach_px: float
    ) -> Peak:
        """The best displacement near the expected one."""
        if first > second:
            return _reversed(self.peak_near(second, first, (-expected[0], -expected[1]), reach_px))
        key = (first, second, round(expected[0]), round(expected[1]), round(reach_px))
        if key not in self._peaks:
            s = self.shrink
            found = self._matching(first, second).near(
                expected[0] / s, expected[1] / s, reach_px / s, reach_px / s
            )
            self._peaks[key] = self._full(found)
        return self._peaks[key]

    def ratio(
        self, first: int, second: int, expected: tuple[float, float], spread_px: float
    ) -> float:
        """Log likelihood ratio of a displacement against "unrelated"; see `Matching.ratio`."""
        if first > second:
            return self.ratio(second, first, (-expected[0], -expected[1]), spread_px)
        spread = max(spread_px / self.shrink, 0.8)
        x, y = expected[0] / self.shrink, expected[1] / self.shrink
        key = (first, second, round(x, 1), round(y, 1), round(spread, 1))
        if key not in self._ratios:
            self._ratios[key] = self._matching(first, second).ratio(x, y, spread, spread)
        return self._ratios[key]

    def elsewhere(self, first: int, second: int) -> float:
        """Log likelihood ratio of "overlapping anyhow" against "unrelated"."""
        if (first, second) not in self._elsewhere:
            self._elsewhere[first, second] = self._matching(first, second).elsewhere()
        return self._elsewhere[first, second]

    def texture(self, index: int) -> float:
        """Independent textured samples in one picture."""
        return self._picture(index).samples

    def _matching(self, first: int, second: int) -> Matching:
        key = (first, second)
        if key in self._pairs:
            self._pairs.move_to_end(key)
            return self._pairs[key]
        matching = Matching(self._picture(first), self._picture(second))
        self._pairs[key] = matching
        if len(self._pairs) > _KEPT_PAIRS:
            self._pairs.popitem(last=False)
        return matching

    def _picture(self, index: int) -> Prepared:
        if index in self._prepared:
            self._prepared.move_to_end(index)
            return self._prepared[index]
        small = self._small[index]
        if small.shape != self._shape:
            small = np.zeros(self._shape, dtype=np.uint8)
        prepared = prepare(
            small, _whole_rows(small) if self._damaged[index] else None, self._pattern
        )
        self._prepared[index] = prepared
        if len(self._prepared) > _KEPT_PICTURES:
            self._prepared.popitem(last=False)
        return prepared

    def _shared(self) -> NDArray[np.float32] | None:
        """What the camera adds to every frame; None where too few frames would tell."""
        whole = [
            small
            for small, damaged in zip(self._small, self._damaged, strict=True)
            if small.shape == self._shape and not damaged
        ]
        if len(whole) < _FEWEST_FOR_PATTERN:
            return None
        return fixed_pattern(whole[:: max(1, len(whole) // _MOST_FOR_PATTERN)])

    def _full(self, peak: Peak) -> Peak:
        return Peak(peak.dx_px * self.shrink, peak.dy_px * self.shrink, peak.support)


def _reversed(peak: Peak) -> Peak:
    return Peak(-peak.dx_px, -peak.dy_px, peak.support)


def _whole_rows(small: Grey) -> int:
    """Rows of a damaged picture above its filler, less a margin for the torn edge."""
    spread = small.astype(np.float32).std(axis=1)
    alive = np.flatnonzero(spread > _FILLER_SPREAD)
    return max(0, int(alive[-1]) - 3) if len(alive) else 0


def sightings(frames: Sequence[Frame], small: Mapping[str, Grey]) -> Sightings:
    """Sightings of `frames`.

    `small` has for each file the upright luma, shrunk by one whole number for all; a frame
    without one shows nothing.
    """
    nothing = np.zeros((0, 0), dtype=np.uint8)
    pictures = [small.get(frame.file, nothing) for frame in frames]
    shrinks = [
        round(frame.width_px / picture.shape[1])
        for frame, picture in zip(frames, pictures, strict=True)
        if picture.size
    ]
    shrink = max(1, max(set(shrinks), key=shrinks.count)) if shrinks else 1
    return Sightings(pictures, shrink, [bool(frame.damage) for frame in frames])
