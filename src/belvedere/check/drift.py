"""What moved as a whole between two neighbouring lines: clouds that sailed on, a knocked tripod.

A line takes minutes. By the time of the next one the clouds may have gone a whole column on; then
all frames of plain sky agree on the wrong cells. The agreement of a line is thus one observation,
not as many as there are frames: a common displacement explains it, at a price.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.sightings import Sightings

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Price (natural log) of a common displacement: how rare it is, and that it was fitted.
PRICE = 9.0
#: Mean log likelihood ratio of a pair from which the lines fit well enough as they are.
_FITS = 5.0
#: Support (natural log) from which a peak anywhere is taken for true, and how many must agree.
_SURE, _FEWEST = 12.0, 3
#: Nothing is looked for further than this share of the frame.
_FURTHEST = 1.2


@dataclass(frozen=True, slots=True)
class Drift:
    """Displacement in px from the earlier line to the later one: `steady`, or so much a frame."""

    steady: tuple[float, float] = (0.0, 0.0)
    per_frame: tuple[float, float] = (0.0, 0.0)

    def between(self, frames: int) -> FloatArray:
        """The displacement (2,) from a frame of the earlier line to one so many frames later."""
        moved: FloatArray = np.array(self.steady) + np.array(self.per_frame) * frames
        return moved


def drift_of(
    pairs: IntArray,
    expected_px: FloatArray,
    spread_px: float,
    seen: Sightings,
    width_px: int,
    most: FloatArray,
) -> tuple[Drift | None, float]:
    """How the content moved between two lines, None where it did not, with its price counted.

    `pairs` (P, 2) are frames of the earlier and the later line, `expected_px` (P, 2) their
    displacements, `most` (P,) what each may say at most. The second value is the log likelihood
    ratio of all pairs together.
    """
    still = fit_of(pairs, expected_px, spread_px, seen, most)
    if still > _FITS * len(pairs) or len(pairs) < _FEWEST:
        return None, still
    found = _sure_peaks(pairs, expected_px, seen, width_px)
    best: Drift | None = None
    best_fit = still
    for drift in _candidates(pairs, found, spread_px):
        moved = np.array([drift.between(int(b - a)) for a, b in pairs])
        fit = fit_of(pairs, expected_px + moved, spread_px, seen, most) - PRICE
        if fit > best_fit:
            best, best_fit = drift, fit
    return best, best_fit


def fit_of(
    pairs: IntArray, expected_px: FloatArray, spread_px: float, seen: Sightings, most: FloatArray
) -> float:
    """Log likelihood ratio of all `pairs` (P, 2) being displaced as expected (P, 2).

    None of them says more than its `most` (P,).
    """
    spread = np.array([spread_px])
    return sum(
        min(float(seen.ratios(int(a), int(b), shift[None], spread)[0]), float(top))
        for (a, b), shift, top in zip(pairs, expected_px, most, strict=True)
    )


def _sure_peaks(
    pairs: IntArray, expected_px: FloatArray, seen: Sightings, width_px: int
) -> FloatArray:
    """How far the best displacement of each pair (P, 2) is off the expected one, nan if unsure."""
    off = np.full(expected_px.shape, np.nan)
    for i, (a, b) in enumerate(pairs):
        peak = seen.peak(int(a), int(b))
        if peak.support >= _SURE:
            off[i] = np.array([peak.dx_px, peak.dy_px]) - expected_px[i]
    off[np.abs(off).max(axis=1) > _FURTHEST * width_px] = np.nan
    return off


def _candidates(pairs: IntArray, off_px: FloatArray, spread_px: float) -> list[Drift]:
    """The displacement that most pairs agree on, as a steady one and as so much a frame."""
    sure = np.isfinite(off_px).all(axis=1)
    if sure.sum() < _FEWEST:
        return []
    off, frames = off_px[sure], (pairs[sure, 1] - pairs[sure, 0])[:, None]
    steady = _agreed(off, np.ones_like(frames), spread_px)
    per_frame = _agreed(off / frames, frames, spread_px)
    return [
        Drift(steady=(float(steady[0]), float(steady[1]))),
        Drift(per_frame=(float(per_frame[0]), float(per_frame[1]))),
    ]


def _agreed(values: FloatArray, scale: IntArray, spread_px: float) -> FloatArray:
    """The middle of the largest group of `values` (P, 2) that agree within the spread."""
    apart = np.linalg.norm((values[:, None] - values[None]) * scale[None], axis=2)
    group = apart < 3.0 * spread_px
    middle: FloatArray = np.median(values[group[group.sum(axis=1).argmax()]], axis=0)
    return middle
