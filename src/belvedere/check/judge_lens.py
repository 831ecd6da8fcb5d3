"""Vignetting that is hard to mend: too deep, black in the corners, or different between frames."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.judge_tone import radial
from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    BLACK_CORNER,
    DEEP_VIGNETTING_EV,
    VIGNETTING_FRAMES,
    VIGNETTING_STAYS,
    VIGNETTING_STEP_EV,
)
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Grey = NDArray[np.uint8]

#: Samples that tell one overlap's falloff; less falloff than this (EV) has no shape of its own.
_LEAST_SAMPLES, _FLAT_EV = 40, 0.15
#: A corner is so much of the frame, each way; frames darker than this (levels) do not count.
_CORNER, _LIT, _MOST_FRAMES = 0.04, 40.0, 96
_CORNERS = ("top left", "top right", "bottom left", "bottom right")


def judge_vignetting(
    frames: Sequence[Frame],
    order: IntArray,
    pairs: Sequence[PairEvidence],
    vignetting: FloatArray,
    pictures: Sequence[Grey],
) -> list[Finding]:
    """At most one finding: black corners, a falloff too deep, or one that changes.

    `order` are frame indices in the order of the shutter, `vignetting` is that of `solve_tones`,
    `pictures` the small ones.
    """
    black = black_corners(pictures)
    if black:
        says = (
            f"the {_and(black)} of the frames {'is' if len(black) == 1 else 'are'} black: a hood, "
            f"a filter or a strap is in the way, and nothing there can be brightened; see that "
            f"the overlap covers it, or take it off and shoot again"
        )
        return [Finding("vignetting", says, value=float(len(black)), unit="corners")]
    corner_ev = -float(vignetting.sum())
    if corner_ev > DEEP_VIGNETTING_EV:
        says = (
            f"the corners are {corner_ev:.1f} EV darker than the middle: evened out, they are "
            f"noisy; close the aperture by one or two stops next time, or overlap more"
        )
        return [Finding("vignetting", says, value=round(corner_ev, 2), unit="EV")]
    return _changing(frames, order, pairs, vignetting)


def black_corners(pictures: Sequence[Grey]) -> list[str]:
    """Corners (in words) that are black in nearly all frames that are lit in the middle."""
    step = max(1, -(-len(pictures) // _MOST_FRAMES))
    levels = []
    for picture in pictures[::step]:
        height, width = picture.shape
        y, x = max(1, round(_CORNER * height)), max(1, round(_CORNER * width))
        middle = picture[height // 3 : -height // 3, width // 3 : -width // 3]
        if float(middle.mean()) < _LIT:
            continue
        parts = (picture[:y, :x], picture[:y, -x:], picture[-y:, :x], picture[-y:, -x:])
        levels.append([float(part.mean()) for part in parts])
    if len(levels) < VIGNETTING_FRAMES:
        return []
    high = np.quantile(np.array(levels), 0.9, axis=0)
    return [name for name, level in zip(_CORNERS, high, strict=True) if level < BLACK_CORNER]


def _changing(
    frames: Sequence[Frame],
    order: IntArray,
    pairs: Sequence[PairEvidence],
    vignetting: FloatArray,
) -> list[Finding]:
    corner_ev = frame_falloff_ev(len(frames), pairs, vignetting)
    known = order[np.isfinite(corner_ev[order])]
    if len(known) < 2 * VIGNETTING_FRAMES:
        return []
    series = corner_ev[known]
    change = _change_point(series)
    before, after = float(np.median(series[:change])), float(np.median(series[change:]))
    if abs(after - before) < VIGNETTING_STEP_EV:
        return []
    middle = (before + after) / 2.0
    belongs = ((series > middle) == (after > middle)) == (np.arange(len(series)) >= change)
    if min(belongs[:change].mean(), belongs[change:].mean()) < VIGNETTING_STAYS:
        return []
    says = (
        f"the corners are {before:.1f} EV darker than the middle up to "
        f"{frames[known[change - 1]].file}, {after:.1f} EV from {frames[known[change]].file} on: "
        f"the aperture changed, so depth of field did too; keep it, and compare the two parts for "
        f"sharpness"
    )
    return [Finding("vignetting", says, value=round(abs(after - before), 2), unit="EV")]


def frame_falloff_ev(
    frames: int, pairs: Sequence[PairEvidence], vignetting: FloatArray
) -> FloatArray:
    """How much darker the corners of each frame are, EV (frames,); nan where nothing tells.

    An overlap tells the mean of its two frames; a frame has the median of its overlaps.
    """
    corner = float(vignetting.sum())
    shape = vignetting / corner if abs(corner) > _FLAT_EV else np.array([0.5, 0.5])
    said: list[list[float]] = [[] for _ in range(frames)]
    for pair in pairs:
        if len(pair.tone.exposure_ev) < _LEAST_SAMPLES or not pair.registered:
            continue
        falls = radial(pair) @ shape
        falls = falls - np.median(falls)
        height = pair.tone.exposure_ev - np.median(pair.tone.exposure_ev)
        energy = float(falls @ falls)
        if energy > 0.0:
            for end in (pair.a, pair.b):
                said[end].append(-float(falls @ height) / energy)
    return np.array([float(np.median(one)) if one else np.nan for one in said])


def _change_point(series: FloatArray) -> int:
    """Where one step parts a series best, by absolute deviations; not too near its ends."""
    places = range(VIGNETTING_FRAMES, len(series) - VIGNETTING_FRAMES + 1)

    def left(place: int) -> float:
        parts = series[:place], series[place:]
        return sum(float(np.abs(part - np.median(part)).sum()) for part in parts)

    return min(places, key=left)


def _and(names: Sequence[str]) -> str:
    listed = " and ".join(filter(None, [", ".join(names[:-1]), names[-1]]))
    return f"{listed} corner{'s' if len(names) > 1 else ''}"
