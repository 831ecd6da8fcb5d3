"""Lamps on the mains: bands across the rows of a frame, or frames that are bright by chance.

Lamps are brightest twice in a period of the mains. A sensor that is read row by row turns that
into bands, which lie elsewhere in every frame; the scene cancels between two frames of an overlap,
and what is left is a wave along the rows. A shutter that opens all rows at once makes whole frames
brighter or darker by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_settings import settings_ev
from belvedere.check.model import Finding
from belvedere.check.small_overlaps import SmallOverlap
from belvedere.check.thresholds import (
    BANDS_ALIKE,
    BANDS_EV,
    BANDS_PAIRS,
    BANDS_SHARE,
    RESTLESS_EV,
    RESTLESS_FRAMES,
    RESTLESS_TURNS,
    SAME_EV,
    SIDE_SHARE,
)
from belvedere.measure import Levels
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

#: Waves tried, cycles in the height of a frame: lamps that flash 100 or 120 times a second, over
#: 1/70 to 1/12 s of readout.
_CYCLES = np.arange(1.4, 8.01, 0.1)
#: Levels that tell brightness; profiles are averaged to so many values.
_DARK, _BRIGHT, _VALUES = 12.0, 240.0, 48
_LEAST_ACROSS = 8
_ADVICE = (
    "keep the shutter open for whole flashes of the lamps: 1/50 s, 1/25 s or longer where the "
    "mains run at 50 Hz, 1/60 s, 1/30 s or longer at 60 Hz"
)


@dataclass(frozen=True, slots=True)
class Bands:
    """The wave by which one overlap's frames differ along an axis, 0 the rows, 1 the columns.

    `swing_ev` is its amplitude, `cycles` how often it goes up and down in a frame, `share` what
    it explains of all that differs along the axis.
    """

    a: int
    b: int
    axis: int
    swing_ev: float
    cycles: float
    share: float


def judge_flicker(
    frames: Sequence[Frame],
    order: IntArray,
    exposure: Levels,
    bands: Sequence[Bands],
) -> list[Finding]:
    """At most one finding: bands, or else exposures that jump by chance.

    `order` are frame indices in the order of the shutter, `bands` those of all overlaps.
    """
    bands = _agreeing(bands)
    if bands:
        worst = max(bands, key=lambda one: one.swing_ev)
        says = (
            f"bands lie across the frames, elsewhere in each: where neighbours overlap, one is up "
            f"to {worst.swing_ev:.2f} EV brighter or darker than the other "
            f"({frames[worst.a].file} and {frames[worst.b].file} most, {len(bands)} overlaps in "
            f"all); lamps flicker with the mains: {_ADVICE}"
        )
        return [Finding("flicker", says, value=round(worst.swing_ev, 2), unit="EV")]
    return _restless(frames, order, exposure)


def bands_of(overlap: SmallOverlap, shape: tuple[int, int]) -> list[Bands]:
    """The clear bands of an overlap, along the axes that it has most of; `shape` is a frame's."""
    found = []
    for axis in (0, 1):
        if overlap.in_a.shape[axis] >= SIDE_SHARE * shape[axis]:
            bands = bands_in(overlap, axis, shape)
            if bands is not None and bands.swing_ev >= BANDS_EV and bands.share >= BANDS_SHARE:
                found.append(bands)
    return found


def bands_in(overlap: SmallOverlap, axis: int, shape: tuple[int, int]) -> Bands | None:
    """The wave that best explains how two frames differ along an axis; None without evidence.

    Least squares of a wave over a polynomial of degree 4 (exposure, haze, vignetting of another
    aperture) to the median of log2 of the ratio of luminances across the axis.
    """
    place, ratio_ev = _profile(overlap, axis, shape)
    if len(place) < _VALUES // 2:
        return None
    smooth, waves, inverse = _waves(place.tobytes())
    left = ratio_ev - smooth @ (smooth.T @ ratio_ev)
    across = waves @ left
    swing = np.einsum("kij,kj->ki", inverse, across)
    share = np.einsum("ki,ki->k", across, swing) / max(float(left @ left), 1e-12)
    best = int(share.argmax())
    size = float(np.hypot(*swing[best]))
    return Bands(overlap.a, overlap.b, axis, size, float(_CYCLES[best]), float(share[best]))


@lru_cache(64)
def _waves(places: bytes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A base of polynomials (n, 5), the waves less these (k, 2, n), and their inverse normals.

    Overlaps of one grid lie at the same places, so the same ones come again and again.
    """
    place = np.frombuffer(places)
    smooth, _ = np.linalg.qr(np.vander(place - 0.5, 5))
    turns = 2.0 * np.pi * np.outer(_CYCLES, place)
    waves = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    waves = waves - waves @ smooth @ smooth.T
    inverse = np.linalg.inv(waves @ waves.transpose(0, 2, 1) + 1e-6 * np.eye(2))
    return smooth, waves, inverse


def _profile(
    overlap: SmallOverlap, axis: int, shape: tuple[int, int]
) -> tuple[FloatArray, FloatArray]:
    """Places along the axis (share of the frame) and the ratio of b to a there, EV."""
    a, b = overlap.in_a, overlap.in_b
    if axis == 1:
        a, b = a.T, b.T
    a, b = a[:, ::2], b[:, ::2]
    usable = (np.minimum(a, b) > _DARK) & (np.maximum(a, b) < _BRIGHT)
    ratio = np.sort(np.where(usable, _log2_light(b) - _log2_light(a), np.nan), axis=1)
    count = usable.sum(axis=1)
    middle = ratio[np.arange(len(ratio)), count // 2]
    first = overlap.top if axis == 0 else overlap.left
    good = count >= _LEAST_ACROSS
    place, middle = (np.flatnonzero(good) + first + 0.5) / shape[axis], middle[good]
    step = max(1, len(place) // _VALUES)
    kept = len(place) // step * step
    return (
        place[:kept].reshape(-1, step).mean(axis=1),
        middle[:kept].reshape(-1, step).mean(axis=1, dtype=np.float64),
    )


def _log2_light(level: NDArray[np.float32]) -> NDArray[np.float32]:
    """log2 of linear light of encoded levels, by the power law of sRGB (IEC 61966-2-1)."""
    light: NDArray[np.float32] = np.float32(2.4) * np.log2(
        (level / np.float32(255.0) + np.float32(0.055)) / np.float32(1.055)
    )
    return light


def _agreeing(bands: Sequence[Bands]) -> list[Bands]:
    """The most bands along one axis that have one frequency; none if they are too few."""
    best: list[Bands] = []
    for axis, cycles in sorted({(one.axis, one.cycles) for one in bands}):
        alike = [
            one
            for one in bands
            if one.axis == axis and abs(one.cycles - cycles) <= BANDS_ALIKE * cycles
        ]
        best = max(best, alike, key=len)
    return best if len(best) >= BANDS_PAIRS else []


def _restless(frames: Sequence[Frame], order: IntArray, exposure: Levels) -> list[Finding]:
    """Exposures that go up and down by chance at settings that stay."""
    known = order[np.isfinite(exposure.error[order])]
    stated = {value for n in known if (value := settings_ev(frames[int(n)])) is not None}
    if len(known) < RESTLESS_FRAMES or not stated or max(stated) - min(stated) > SAME_EV:
        return []
    changes = [
        float(exposure.value[b, 0] - exposure.value[a, 0])
        for a, b in pairwise(known)
        if exposure.group[a] == exposure.group[b]
    ]
    if len(changes) < RESTLESS_FRAMES - 1:
        return []
    change = np.array(changes)
    usual_ev = float(np.median(np.abs(change)))
    turns = float((change[:-1] * change[1:]).sum() / max(float((change**2).sum()), 1e-12))
    if usual_ev < RESTLESS_EV or turns > RESTLESS_TURNS:
        return []
    says = (
        f"the exposure goes up and down from frame to frame, by {usual_ev:.2f} EV and more for "
        f"every other frame, at settings that stay: lamps flicker with the mains ({_ADVICE}), or "
        f"the aperture does not close alike each time"
    )
    return [Finding("flicker", says, value=round(usual_ev, 2), unit="EV")]
