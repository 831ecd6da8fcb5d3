"""Exposure and colour: what overlaps say of them, and steps told from drift.

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
    FLOOR_EV,
    FLOOR_TINT,
    LEAST_QUIET,
    LEAST_SAMPLES,
    SAME_MOMENT,
    SURE_JUMP,
    USUAL_VIGNETTING_EV,
)
from belvedere.check.tone_walk import Between, Walk, misfit_cost, standard_errors
from belvedere.measure import Levels, ciede2000, lab_from_linear, solve_levels

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

#: Linear light of the grey that a tint is shown on.
_MID_GREY = 0.2


@dataclass(frozen=True, slots=True)
class Differences:
    """What overlaps say of brightness or colour: the second frame against the first.

    `ends` (m, 2) are frame indices, `middle` (m, k) the median of the samples, `spread` (m,) its
    standard error, `shift_px` (m, 2) where the second frame lies, seen from the first. Where the
    overlap was not `registered` (m,), the scene may have moved meanwhile, as clouds do.
    """

    ends: IntArray
    middle: FloatArray
    spread: FloatArray
    shift_px: FloatArray
    registered: BoolArray


@dataclass(frozen=True, slots=True)
class Tones:
    """What the overlaps say of exposure, in EV, and tint, as natural logarithms.

    `exposure` (n, 1) is each frame's, in an arbitrary but common zero point. `vignetting` (2,) is
    the lens's, shared by all frames: EV against the squared radius, 1 at the corner, and its
    square; the differences of `light` are free of it.
    """

    exposure: Levels
    light: Differences
    tint: Differences
    vignetting: FloatArray


@dataclass(frozen=True, slots=True)
class Runs:
    """Frames in shutter order, sorted into classes of like value.

    `member` are frame indices in order; `kind` the class of each, the largest class being 0;
    `offset` (n, k) is by how much each frame departs from class 0, drift removed; `drift` (n, k)
    is what changed gradually.
    """

    member: IntArray
    kind: IntArray
    offset: FloatArray
    drift: FloatArray


def solve_tones(frames: int, pairs: Sequence[PairEvidence]) -> Tones:
    """Exposure and tint in all overlaps from their samples, vignetting removed."""
    bright = [pair for pair in pairs if len(pair.tone.exposure_ev) >= LEAST_SAMPLES]
    coloured = [pair for pair in pairs if len(pair.tone.tint) >= LEAST_SAMPLES]
    vignetting = _vignetting(bright)
    exposures = [(pair.tone.exposure_ev - radial(pair) @ vignetting)[:, None] for pair in bright]
    light = _differences(bright, exposures, 1, FLOOR_EV)
    tint = _differences(coloured, [pair.tone.tint for pair in coloured], 2, FLOOR_TINT)
    exposure = solve_levels(frames, light.ends, light.middle, light.spread)
    return Tones(exposure, light, tint, vignetting)


def _differences(
    pairs: Sequence[PairEvidence], samples: Sequence[FloatArray], columns: int, floor: float
) -> Differences:
    """The differences from samples (n, columns) of each overlap."""
    spreads, middles = [], []
    for pair, values in zip(pairs, samples, strict=True):
        low, middle, high = np.percentile(values, [25, 50, 75], axis=0)
        quarter = float((high - low).max()) / 1.349
        doubt = 1.25 * quarter / np.sqrt(len(values) / 8.0) + 4.0 * floor / np.sqrt(len(values))
        doubt *= (1.0 if pair.registered else 2.0) * (3.0 if pair.tone.one_sided else 1.0)
        spreads.append(float(np.hypot(doubt, floor)))
        middles.append(middle)
    return Differences(
        np.array([(pair.a, pair.b) for pair in pairs], dtype=np.intp).reshape(-1, 2),
        np.array(middles, dtype=np.float64).reshape(-1, columns),
        np.array(spreads),
        np.array([pair.shift_px for pair in pairs], dtype=np.float64).reshape(-1, 2),
        np.array([pair.registered for pair in pairs], dtype=np.bool_),
    )


def along_the_sweep(differences: Differences, order: IntArray) -> tuple[IntArray, Between]:
    """The frames that have an overlap, in shutter order, and what the overlaps say of them.

    What a frame's unregistered overlaps with frames of another time err by is the same in all of
    them, a cloud that sailed into it, so together they count as one.
    """
    known = np.isin(order, differences.ends)
    member = order[known]
    place = np.zeros(int(order.max(initial=-1)) + 1, dtype=np.intp)
    place[member] = np.arange(len(member))
    ends = place[differences.ends]
    late = ~differences.registered & (np.abs(ends[:, 1] - ends[:, 0]) > SAME_MOMENT)
    count = np.zeros(len(member))
    np.add.at(count, ends[late].ravel(), 1.0)
    alike = np.where(late, count[ends].min(axis=1), 1.0)
    step = float(np.median(np.linalg.norm(differences.shift_px, axis=1))) if len(ends) else 1.0
    between = Between(
        ends,
        differences.middle,
        differences.spread * np.sqrt(alike),
        differences.shift_px / max(step, 1.0),
    )
    return member, between


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


def find_steps(series: FloatArray, broken: BoolArray, member: IntArray, jump: float) -> Runs:
    """Tell jumps from drift among the frames `member`, whose values (n, k) are in shutter order.

    A change from one frame to the next of `jump` or more, or of half that with the change beside
    it, is a jump where the tie between the two is `broken` (n - 1,); all other changes together
    are the drift. Frames between jumps form runs;
    runs whose values agree within two thirds of a jump, drift removed, form a class.
    """
    change = np.diff(series, axis=0)
    jumps = broken & _leaps(change, jump)
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


def _leaps(change: FloatArray, jump: float) -> BoolArray:
    """Whether changes (n, k) are jumps: at once, or in two steps, as a shadow's edge has them."""
    around = np.pad(change, ((1, 1), (0, 0)))
    together = np.maximum(
        np.linalg.norm(change + around[:-2], axis=1), np.linalg.norm(change + around[2:], axis=1)
    )
    size = np.linalg.norm(change, axis=1)
    leaps: BoolArray = (size >= jump) | ((size >= jump / 2.0) & (together >= jump))
    return leaps


def _slope_around(change: FloatArray, jumps: NDArray[np.bool_]) -> FloatArray:
    """The drift from frame to frame that goes on beneath each jump: the median of those near."""
    slope = np.zeros_like(change)
    for place in np.flatnonzero(jumps):
        near = slice(max(0, place - 4), place + 5)
        quiet = change[near][~jumps[near]]
        if len(quiet) >= LEAST_QUIET:
            slope[place] = np.median(quiet, axis=0)
    return slope


def only_sure(steps: Runs, walk: Walk, between: Between, least: float) -> Runs:
    """The same, without the runs whose departure the overlaps around them do not insist on.

    A run stays where the overlaps that join it with frames of other classes fit clearly worse
    without its departure, where it departs by `least` at least, whatever the errors, and where
    most of those overlaps show it: after a cloud whose shadow came softly and went at once,
    frames are as they were before.
    """
    kind, offset, drift = steps.kind.copy(), steps.offset.copy(), steps.drift.copy()
    usual = np.flatnonzero(kind == 0)
    edges = np.flatnonzero(np.diff(kind)) + 1
    runs = [run for run in np.split(np.arange(len(kind)), edges) if kind[run[0]] > 0]
    contrast = np.array([_against_usual(len(kind), run, usual) for run in runs])
    errors = standard_errors(walk, between, contrast.reshape(-1, len(kind)))
    for row, run, error in zip(contrast, runs, errors, strict=True):
        departs = row @ walk.value
        surely = float(np.linalg.norm(departs)) - SURE_JUMP * error >= least
        joins = _joins(steps.kind, run, between)
        if not (surely and _insisted_on(departs, joins, walk, between)):
            drift[run] += offset[run]
            kind[run], offset[run] = 0, 0.0
    return Runs(steps.member, kind, offset, drift)


def _insisted_on(departs: FloatArray, joins: FloatArray, walk: Walk, between: Between) -> bool:
    """Whether most overlaps that join a run with others show its departure, and all need it."""
    joining, sign = joins != 0, joins[joins != 0, None]
    left, spread = walk.left[joining], between.spread[joining]
    a, b = between.ends[joining].T
    shown = (sign * (walk.value[b] - walk.value[a])) @ departs / float(departs @ departs)
    weight = 1.0 / np.square(spread)
    if weight[shown > 0.5].sum() < 0.5 * weight.sum():
        return False
    spread = spread * _at_odds(left, spread)
    gain = misfit_cost(left + sign * departs, spread) - misfit_cost(left, spread)
    return gain >= SURE_JUMP**2


def _against_usual(frames: int, run: IntArray, usual: IntArray) -> FloatArray:
    """Weights (frames,) of the run's ends against the usual frames before and after it."""
    row = np.zeros(frames)
    before, after = usual[usual < run[0]], usual[usual > run[-1]]
    sides = [(run[0], before[-1:]), (run[-1], after[:1])]
    sides = [(end, place) for end, place in sides if len(place)]
    for end, place in sides:
        row[end] += 1.0 / len(sides)
        row[place] -= 1.0 / len(sides)
    return row


def _joins(kind: IntArray, run: IntArray, between: Between) -> FloatArray:
    """For each overlap 1 or -1 where its second or first frame alone lies in the run, else 0.

    Overlaps with other frames of the same class do not count.
    """
    inside = np.zeros(len(kind), dtype=np.bool_)
    inside[run] = True
    a, b = between.ends.T
    joins: FloatArray = (inside[b].astype(float) - inside[a]) * (kind[a] != kind[b])
    return joins


def _at_odds(left: FloatArray, spread: FloatArray) -> float:
    """How many times further apart overlaps lie than their errors explain, 1 at least.

    Glitter and clouds mislead overlaps each in its own way, a camera that changed all alike
    (R. T. Birge, "The calculation of errors by the method of least squares", Phys. Rev. 40, 1932,
    by the median here).
    """
    if not len(left):
        return 1.0
    return max(1.0, float(np.median(np.linalg.norm(left, axis=1) / spread)) / 0.67)
