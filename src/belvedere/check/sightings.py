"""What pairs of small pictures show of each other, each looked at once."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from belvedere.check.likeness import Likeness, likeness
from belvedere.foundation import Progress, Steps
from belvedere.measure import Matching, Peak, Prepared, fixed_pattern, prepare
from belvedere.shoot import Frame

Grey = NDArray[np.uint8]
FloatArray = NDArray[np.float64]

#: Bytes of pictures made ready, some 1 to 2 MB each: two rows of most grids. What two of them show
#: of each other takes a few kilobytes and is all kept.
_MEMORY = 170_000_000
_FEWEST_KEPT = 24
#: Pairs that one thread takes at a time: neighbours share pictures.
_PORTION = 16
#: Frames from which the camera's own pattern is learnt.
_FEWEST_FOR_PATTERN, _MOST_FOR_PATTERN = 6, 60
#: Least spread of an expected displacement, in pixels of the small picture.
_LEAST_SPREAD_PX = 0.8
#: A rival has so much of the best displacement's support, and is so far from it, in pixels of the
#: small picture.
_RIVAL_SHARE, _RIVAL_APART_PX = 0.6, 12.0
#: So many of them make a scene that repeats itself.
MANY_RIVALS = 3
#: A camera that stands still may tremble by so much, in pixels of the small picture.
_TREMBLES_PX = 2.5
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
        self._lock = Lock()
        self._prepared: OrderedDict[int, Prepared] = OrderedDict()
        self._pairs: dict[tuple[int, int], Matching] = {}
        self._texture: dict[int, float] = {}
        self._likeness: Likeness | None = None

    def match(self, pairs: Sequence[tuple[int, int]], threads: int) -> Steps[None]:
        """Match pairs that will be asked for, in several threads; the rest is matched when asked.

        The transforms leave the interpreter free, so so many threads take so much less time.
        """
        wanted = [(min(pair), max(pair)) for pair in pairs if pair[0] != pair[1]]
        portions = [wanted[first : first + _PORTION] for first in range(0, len(wanted), _PORTION)]
        with ThreadPoolExecutor(threads) as pool:
            try:
                for done, _ in enumerate(pool.map(self._match_all, portions)):
                    seen = min(len(wanted), (done + 1) * _PORTION)
                    yield Progress("comparing small pictures", seen, len(wanted), "overlaps")
            finally:
                pool.shutdown(cancel_futures=True)

    def _match_all(self, pairs: Sequence[tuple[int, int]]) -> None:
        for first, second in pairs:
            self._matching(first, second)

    def peak(self, first: int, second: int) -> Peak:
        """The best displacement at all."""
        if first > second:
            return _reversed(self.peak(second, first))
        return self._full(self._matching(first, second).best())

    def peak_near(
        self, first: int, second: int, expected: tuple[float, float], reach_px: float
    ) -> Peak:
        """The best displacement near the expected one."""
        if first > second:
            return _reversed(self.peak_near(second, first, (-expected[0], -expected[1]), reach_px))
        s = self.shrink
        found = self._matching(first, second).near(
            expected[0] / s, expected[1] / s, reach_px / s, reach_px / s
        )
        return self._full(found)

    def ratio(
        self, first: int, second: int, expected: tuple[float, float], spread_px: float
    ) -> float:
        """Log likelihood ratio of a displacement against "unrelated"; see `Matching.ratios`."""
        return float(self.ratios(first, second, np.array([expected]), np.array([spread_px]))[0])

    def ratios(
        self, first: int, second: int, expected_px: FloatArray, spread_px: FloatArray
    ) -> FloatArray:
        """The same for many displacements (N, 2) and spreads (N,)."""
        if first > second:
            return self.ratios(second, first, -expected_px, spread_px)
        spread = np.maximum(spread_px / self.shrink, _LEAST_SPREAD_PX)
        return self._matching(first, second).ratios(expected_px / self.shrink, spread)

    def elsewhere(self, first: int, second: int) -> float:
        """Log likelihood ratio of "overlapping anyhow" against "unrelated"."""
        return self._matching(min(first, second), max(first, second)).elsewhere()

    def rivals(self, first: int, second: int) -> int:
        """Displacements that fit about as well as the best one: windows repeat, and fences."""
        peaks, support = self._matching(min(first, second), max(first, second)).peaks()
        if not len(support):
            return 0
        good = peaks[support > _RIVAL_SHARE * support.max()]
        apart = np.abs(good - peaks[support.argmax()]).max(axis=1) > _RIVAL_APART_PX
        return len(np.unique(np.round(good[apart] / _RIVAL_APART_PX), axis=0))

    def likeness(self) -> Likeness:
        """How far each frame is just the same picture as the one before."""
        if self._likeness is None:
            whole = [
                None if damaged or small.shape != self._shape else small
                for small, damaged in zip(self._small, self._damaged, strict=True)
            ]
            trembled = np.zeros((len(whole), 2))
            for t in range(1, len(whole)):
                # Windows may lie on others after as little.
                if self.rivals(t - 1, t) < MANY_RIVALS:
                    peak = self._matching(t - 1, t).near(0.0, 0.0, _TREMBLES_PX, _TREMBLES_PX)
                    trembled[t] = peak.dx_px, peak.dy_px
            self._likeness = likeness(whole, trembled)
        return self._likeness

    def small(self, index: int) -> Grey:
        """The small picture itself."""
        return self._small[index]

    def texture(self, index: int) -> float:
        """Independent textured samples in one picture."""
        if index not in self._texture:
            self._picture(index)
        return self._texture[index]

    def _matching(self, first: int, second: int) -> Matching:
        key = (first, second)
        if key not in self._pairs:
            self._pairs[key] = Matching(self._picture(first), self._picture(second))
        return self._pairs[key]

    def _picture(self, index: int) -> Prepared:
        with self._lock:
            if index in self._prepared:
                self._prepared.move_to_end(index)
                return self._prepared[index]
        small = self._small[index]
        if small.shape != self._shape:
            small = np.zeros(self._shape, dtype=np.uint8)
        prepared = prepare(
            small, _whole_rows(small) if self._damaged[index] else None, self._pattern
        )
        with self._lock:
            self._texture[index] = prepared.samples
            self._prepared[index] = prepared
            while len(self._prepared) > max(_FEWEST_KEPT, _MEMORY // prepared.nbytes):
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
