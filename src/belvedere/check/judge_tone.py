"""Exposure and colour: one value for each frame, then steps told from drift.

Frames of one shoot are meant to be exposed alike. In shutter order a value can be odd once, jump
and stay, or drift with sun and cloud. A drift is nobody's fault and is said of the shoot; an odd
frame is accused; of two groups that a jump parts, the smaller one is, since it costs less to take
again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.thresholds import (
    DRIFTING_TONE,
    FLOOR_EV,
    FLOOR_TINT,
    LEAST_QUIET,
    LEAST_SAMPLES,
    LOPSIDED_TONE,
    USUAL_VIGNETTING_EV,
)
from belvedere.measure import Levels, ciede2000, lab_from_linear, solve_levels

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

#: How well a single overlap's difference is known, EV or natural logarithm.
_PAIR_TONE = 0.02
#: Linear light of the grey that a tint is shown on.
_MID_GREY = 0.2


@dataclass(frozen=True, slots=True)
class Tones:
    """Exposure (n, 1) in EV and tint (n, 2) of each frame, in arbitrary but common zero points.

    `vignetting` (2,) is the lens's, shared by all frames: EV against the squared radius, 1 at the
    corner, and its square.
    """

    exposure: Levels
    tint: Levels
    vignetting: FloatArray


@dataclass(frozen=True, slots=True)
class Runs:
    """Frames of one group in shutter order, sorted into classes of like value.

    `member` are frame indices in order; `kind` the class of each, the largest class being 0;
    `offset` (n, k) is by how much each frame departs from class 0, drift removed; `drift` (n, k)
    is what changed gradually.
    """

    member: IntArray
    kind: IntArray
    offset: FloatArray
    drift: FloatArray


def solve_tones(frames: int, pairs: Sequence[PairEvidence]) -> Tones:
    """Exposure and tint of each frame from the samples of all overlaps, vignetting removed."""
    bright = [pair for pair in pairs if len(pair.tone.exposure_ev) >= LEAST_SAMPLES]
    coloured = [pair for pair in pairs if len(pair.tone.tint) >= LEAST_SAMPLES]
    vignetting = _vignetting(bright)
    exposures = [(pair.tone.exposure_ev - radial(pair) @ vignetting)[:, None] for pair in bright]
    return Tones(
        _levels(frames, bright, exposures, 1, FLOOR_EV),
        _levels(frames, coloured, [pair.tone.tint for pair in coloured], 2, FLOOR_TINT),
        vignetting,
    )


def _levels(
    frames: int,
    pairs: Sequence[PairEvidence],
    samples: Sequence[FloatArray],
    columns: int,
    floor: float,
) -> Levels:
    """One value for each frame from samples (n, columns) of each overlap."""
    ends = np.array([(pair.a, pair.b) for pair in pairs], dtype=np.intp).reshape(-1, 2)
    if not len(ends):
        return solve_levels(frames, ends, np.zeros((0, columns)), np.zeros(0))
    middle_of = np.array([np.median(values, axis=0) for values in samples])
    middle_of -= lopsided(pairs, middle_of)
    spreads = []
    for pair, values in zip(pairs, samples, strict=True):
        quarter = float(np.subtract(*np.percentile(values, [75, 25], axis=0)).max()) / 1.349
        doubt = 1.25 * quarter / np.sqrt(len(values) / 8.0) + 4.0 * floor / np.sqrt(len(values))
        doubt *= (1.0 if pair.registered else 2.0) * (3.0 if pair.tone.one_sided else 1.0)
        spreads.append(np.hypot(doubt, floor))
    return solve_levels(frames, ends, middle_of, np.array(spreads))


def lopsided(pairs: Sequence[PairEvidence], middle: FloatArray) -> FloatArray:
    """The part of the overlaps' differences (m, k) that a lens brighter on one side explains.

    It is the same for all overlaps in one direction, and adds up along a row: a hundredth of an
    EV from frame to frame is a fifth over twenty columns. What changes evenly with time is left,
    since that is the light.
    """
    shift = np.array([pair.shift_px for pair in pairs])
    after = np.array([[pair.b - pair.a] for pair in pairs], dtype=np.float64)
    step = np.median(np.linalg.norm(shift, axis=1))
    design = np.concatenate([shift / max(float(step), 1.0), after], axis=1)
    held = np.diag((_PAIR_TONE / np.array([LOPSIDED_TONE, LOPSIDED_TONE, DRIFTING_TONE])) ** 2)
    weight = np.ones(len(pairs))
    for _ in range(8):
        normal = (design * weight[:, None]).T @ design + held
        terms = np.linalg.solve(normal, (design * weight[:, None]).T @ middle)
        left = np.linalg.norm(middle - design @ terms, axis=1)
        weight = 1.0 / (1.0 + np.square(left / (2.0 * _PAIR_TONE)))
    explained: FloatArray = design[:, :2] @ terms[:2]
    return explained


def radial(pair: PairEvidence) -> FloatArray:
    """What a pair's samples (n, 2) depend on: differences of radius², and of its square."""
    a, b = pair.tone.radius2_a, pair.tone.radius2_b
    return np.column_stack([b - a, b**2 - a**2])


def _vignetting(pairs: Sequence[PairEvidence]) -> FloatArray:
    """EV against the squared radius and its square (2,), shared by all frames.

    Each overlap's own exposure difference is removed first; Cauchy weights; a prior holds what
    the overlaps leave open.
    """
    if not pairs:
        return np.zeros(2)
    rows, heights = [], []
    for pair in pairs:
        distance = radial(pair)
        rows.append(distance - distance.mean(axis=0))
        heights.append(pair.tone.exposure_ev - np.median(pair.tone.exposure_ev))
    design, height = np.concatenate(rows), np.concatenate(heights)
    weight: FloatArray = np.ones(len(height))
    solution: FloatArray = np.zeros(2)
    held = np.eye(2) * (0.1 / USUAL_VIGNETTING_EV) ** 2
    for _ in range(6):
        normal = design.T @ (design * weight[:, None]) + held
        solution = np.asarray(
            np.linalg.solve(normal, design.T @ (height * weight)), dtype=np.float64
        )
        misfit = height - design @ solution
        scale = max(0.02, 1.5 * float(np.median(np.abs(misfit))))
        weight = (1.0 / (1.0 + np.square(misfit / scale))).astype(np.float64)
    return solution


def tint_to_ab(tint: FloatArray) -> FloatArray:
    """What a tint (n, 2) makes of mid grey, as (n, 2) coordinates whose length is near CIEDE2000.

    For colours near grey the formula stretches a* by one half and leaves b* as it is.
    """
    lab = lab_from_linear(tinted_grey(tint))
    ab: FloatArray = lab[..., 1:] * np.array([1.5, 1.0])
    return ab


def tinted_grey(tint: FloatArray) -> FloatArray:
    """Mid grey (n, 3) in linear light under the gains of a tint, its luminance kept."""
    gains = np.exp(np.stack([tint[..., 0], np.zeros(tint.shape[:-1]), tint[..., 1]], axis=-1))
    luminance = gains @ np.array([0.2126, 0.7152, 0.0722])
    grey: FloatArray = _MID_GREY * gains / luminance[..., None]
    return grey


def ab_difference(ab: FloatArray) -> float:
    """CIEDE2000 between mid grey and mid grey moved by a step (2,) of `tint_to_ab`."""
    light = float(lab_from_linear(np.full(3, _MID_GREY))[0])
    return float(ciede2000([light, 0.0, 0.0], [light, ab[0] / 1.5, ab[1]]))


def find_steps(
    value: FloatArray, error: FloatArray, member: IntArray, jump: float, sure: float
) -> Runs:
    """Tell jumps from drift among the frames `member` of one group, in shutter order.

    A change from one frame to the next of `jump` or more, and of `sure` standard errors, is a
    jump; all smaller changes together are the drift. Frames between jumps form runs; runs whose
    values agree within two thirds of a jump, drift removed, form a class.
    """
    series = value[member]
    change = np.diff(series, axis=0)
    size = np.linalg.norm(change, axis=1)
    doubt = np.hypot(error[member][1:], error[member][:-1])
    jumps = (size >= jump) & (size >= sure * doubt)
    slow = np.where(jumps[:, None], _slope_around(change, jumps), change)
    zero = np.zeros((1, series.shape[1]))
    level = np.concatenate([zero, np.cumsum(change - slow, axis=0)])
    drift = np.concatenate([zero, np.cumsum(slow, axis=0)])
    run = np.concatenate([[0], np.cumsum(jumps)])
    centres: list[FloatArray] = []
    counts: list[int] = []
    kind = np.zeros(len(member), dtype=np.intp)
    for number in range(int(run[-1]) + 1):
        here = run == number
        place = level[here][0]
        distance = [float(np.linalg.norm(place - centre)) for centre in centres]
        nearest = int(np.argmin(distance)) if distance else -1
        if nearest < 0 or distance[nearest] > jump * 2.0 / 3.0:
            centres.append(place)
            counts.append(0)
            nearest = len(centres) - 1
        kind[here] = nearest
        total = counts[nearest] + int(here.sum())
        centres[nearest] = (centres[nearest] * counts[nearest] + place * here.sum()) / total
        counts[nearest] = total
    order = np.argsort(-np.array(counts), kind="stable")
    rank = np.empty(len(order), dtype=np.intp)
    rank[order] = np.arange(len(order))
    offset = level - centres[int(order[0])]
    return Runs(member, rank[kind], offset, drift)


def _slope_around(change: FloatArray, jumps: NDArray[np.bool_]) -> FloatArray:
    """The drift from frame to frame that goes on beneath each jump: the median of those near."""
    slope = np.zeros_like(change)
    for place in np.flatnonzero(jumps):
        near = slice(max(0, place - 4), place + 5)
        quiet = change[near][~jumps[near]]
        if len(quiet) >= LEAST_QUIET:
            slope[place] = np.median(quiet, axis=0)
    return slope
