"""Soft and shaken frames: from blur differences between neighbours to findings on frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_pairs import DetailEvidence, Evidence, PairEvidence
from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    APART_SHARE,
    KNOWN_ALIKE_PX2,
    KNOWN_PX2,
    KNOWN_SHARE,
    LEAST_LENS_PAIRS,
    LEAST_PEERS,
    LEAST_SECTORS,
    LENS_QUARTILES_PX2,
    LOOSE_BLUR_PX2,
    NEAR_PX2,
    NEAR_SHARE,
    ROUND_SHARE,
    SHARP_FEW,
    SHARP_FEW_SHARE,
    SHARP_QUANTILE,
    SOFT_EDGE_PX,
    SOFT_PX2,
    STREAK_BESIDE,
    SURE_BLUR,
    SUSPECT_PX2,
)
from belvedere.measure import Levels, ellipse, motion_px, solve_levels
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]

_MOST_TOGETHER = 1200  # frames whose differences are held in memory at once


@dataclass(frozen=True, slots=True)
class Sharpness:
    """Blur of each frame against the sharp ones: variances and their errors (n, 4), px².

    A sector without evidence has the error inf. `apart` (n, 4) says where a frame hangs together
    with a few others alone: were they all soft, it would not show.
    """

    blur_px2: FloatArray
    error_px2: FloatArray
    apart: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Ground:
    """What a pair is seen by: hard detail that agrees, and not clouds or waves (`firm`).

    Where it does not agree, `still_a` and `still_b` say whose detail there stands still.
    """

    firm: bool = True
    still_a: bool = True
    still_b: bool = True


def solve_sharpness(
    frames: int, pairs: Sequence[PairEvidence], ground: Sequence[Ground] | None = None
) -> Sharpness:
    """One blur for each frame out of all overlaps, the lens's own unevenness subtracted.

    `ground` says for each pair what it is seen by; without it, all pairs are firm.
    """
    pairs = _credible(pairs, [Ground()] * len(pairs) if ground is None else ground)
    blur_px2, error_px2 = np.zeros((frames, 4)), np.full((frames, 4), np.inf)
    apart = np.zeros((frames, 4), dtype=bool)
    sharpest = _sharpest(frames, pairs)
    solved = []
    for sector in range(4):
        used = [
            pair
            for pair in pairs
            if pair.detail is not None and np.isfinite(pair.detail.spread_px2[sector])
        ]
        blur = np.array([pair.detail.blur_px2[sector] for pair in used if pair.detail])
        spread = np.array([pair.detail.spread_px2[sector] for pair in used if pair.detail])
        solved.append(_levels(frames, used, blur, spread))
    step_px2 = _greatest_step(solved)
    for sector, levels in enumerate(solved):
        blur_px2[:, sector], error_px2[:, sector] = _above_sharp(levels, sharpest, step_px2)
        together = np.bincount(levels.group)[levels.group]
        apart[:, sector] = together < APART_SHARE * together.max(initial=0)
    return Sharpness(blur_px2, error_px2, apart)


def _credible(pairs: Sequence[PairEvidence], ground: Sequence[Ground]) -> list[PairEvidence]:
    """Without overlaps that nobody need believe when they accuse a frame of much blur.

    So it is said by an overlap that could not be registered, the frame being drowned in blur; or by
    clouds and waves, which need not be the same in both frames however well they seem to fit. They
    are believed where the sharper frame shows what stands still, and where the other is not as
    sharp as another neighbour.
    """
    alike = {
        end
        for pair in pairs
        if pair.registered and pair.detail is not None
        for end in (pair.a, pair.b)
        if (np.abs(pair.detail.blur_px2[pair.detail.spread_px2 < KNOWN_ALIKE_PX2]) < SOFT_PX2).any()
    }
    return [
        pair
        for pair, seen_by in zip(pairs, ground, strict=True)
        if pair.detail is None
        or (pair.registered and (seen_by.firm or _greatest(pair.detail) < LOOSE_BLUR_PX2))
        or _witness_stands(pair, seen_by, alike)
    ]


def _witness_stands(pair: PairEvidence, seen_by: Ground, alike: set[int]) -> bool:
    """Whether the sharper of two frames is to be believed that the other is blurred."""
    if pair.detail is not None and pair.detail.blur_px2.sum() > 0:
        return seen_by.still_a and pair.b not in alike
    return seen_by.still_b and pair.a not in alike


def _greatest(detail: DetailEvidence) -> float:
    return float(np.abs(detail.blur_px2[np.isfinite(detail.spread_px2)]).max(initial=0.0))


def _levels(
    frames: int, pairs: Sequence[PairEvidence], blur: FloatArray, spread: FloatArray
) -> Levels:
    ends = np.array([(pair.a, pair.b) for pair in pairs], dtype=np.intp).reshape(-1, 2)
    return solve_levels(frames, ends, blur - _uneven_lens(pairs, blur), spread)


def _sharpest(frames: int, pairs: Sequence[PairEvidence]) -> NDArray[np.bool_]:
    """The frames that blur is counted from, by all directions together, (n,).

    The sharper quarter; but where a few are surely sharper still, those: then most of the shoot is
    soft, and the few show how sharp it could be.
    """
    used, blur, spread = [], [], []
    for pair in pairs:
        seen = np.isfinite(pair.detail.spread_px2) if pair.detail else np.zeros(4, dtype=bool)
        if pair.detail and seen.sum() >= LEAST_SECTORS:
            used.append(pair)
            blur.append(float(pair.detail.blur_px2[seen].mean()))
            spread.append(float(np.sqrt(np.square(pair.detail.spread_px2[seen]).mean())))
    levels = _levels(frames, used, np.array(blur), np.array(spread))
    sharp = np.zeros(frames, dtype=bool)
    known = np.isfinite(levels.error)
    for number in np.unique(levels.group[known]):
        member = np.flatnonzero(known & (levels.group == number))
        value, error = levels.value[member, 0], levels.error[member]
        usual = float(np.quantile(value, SHARP_QUANTILE, method="lower"))
        surely = value < usual - np.maximum(SOFT_PX2, SURE_BLUR * error)
        few = max(SHARP_FEW, SHARP_FEW_SHARE * len(member))
        level = float(np.median(value[surely])) if surely.sum() >= few else usual
        sharp[member] = value <= level + SUSPECT_PX2 / 2.0
    return sharp


def _uneven_lens(pairs: Sequence[PairEvidence], blur: FloatArray) -> FloatArray:
    """What most pairs in the same direction share: a decentred lens, softer towards one edge.

    Only where they really share it: a soft last row is no lens.
    """
    common = np.zeros_like(blur)
    shift = np.array([pair.shift_px for pair in pairs]).reshape(-1, 2)
    angle = np.degrees(np.arctan2(shift[:, 1], shift[:, 0])) % 360.0
    octant = np.round(angle / 45.0).astype(int) % 8
    for direction in range(4):
        forward, backward = octant == direction, octant == direction + 4
        sign = forward.astype(float) - backward.astype(float)
        member = sign != 0
        if member.sum() < LEAST_LENS_PAIRS:
            continue
        low, middle, high = np.quantile(blur[member] * sign[member], [0.25, 0.5, 0.75])
        if high - low < LENS_QUARTILES_PX2:
            common[member] = sign[member] * np.clip(middle, -0.5, 0.5)
    return common


def _greatest_step(solved: Sequence[Levels]) -> FloatArray:
    """How far each frame surely stands off most others, in whichever direction it does most, (n,).

    What is known to a fraction of that in another direction is known well enough.
    """
    steps = []
    for levels in solved:
        step = np.zeros(len(levels.value))
        known = np.isfinite(levels.error)
        for number in np.unique(levels.group[known]):
            member = known & (levels.group == number)
            step[member] = np.abs(levels.value[member, 0] - np.median(levels.value[member, 0]))
        steps.append(np.where(known & (levels.error < NEAR_SHARE * step), step, 0.0))
    greatest: FloatArray = np.max(steps, axis=0)
    return greatest


def _above_sharp(
    levels: Levels, sharpest: NDArray[np.bool_], step_px2: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Blur counted from sharp frames, and its error; both (n,).

    Each frame is counted from the sharp ones among those that it can be compared with: not from
    frames beyond a neighbour so blurred that the comparison through it says little. `step_px2` (n,)
    is the greatest step of each frame.
    """
    above, error = np.zeros(len(levels.value)), np.full(len(levels.value), np.inf)
    known = np.isfinite(levels.error)
    for number in np.unique(levels.group[known]):
        for member in _portions(np.flatnonzero(levels.group == number)):
            value = levels.value[member, 0]
            apart = levels.apart(member)
            step = np.maximum(np.abs(value[:, None] - value[None, :]), step_px2[member, None])
            near = apart <= np.maximum(NEAR_PX2, NEAR_SHARE * step)
            for place, frame in enumerate(member):
                peers = near[place]
                if peers.sum() < min(LEAST_PEERS, (len(member) + 1) // 2):
                    continue
                sharp = peers & sharpest[member]
                measure = (
                    np.median(value[sharp])
                    if sharp.any()
                    else np.quantile(value[peers], SHARP_QUANTILE)
                )
                above[frame] = value[place] - measure
                own = np.sort(apart[place, sharp if sharp.sum() > 1 else peers])
                error[frame] = own[len(own) // 2] if len(own) > 1 else np.inf
    return above, error


def _portions(member: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """A group in portions of a size whose frames can all be compared with each other."""
    count = -(-len(member) // _MOST_TOGETHER)
    return np.array_split(member, count)


def judge_sharpness(
    frames: Sequence[Frame], sharpness: Sharpness
) -> tuple[list[Finding], dict[str, str]]:
    """Findings on soft and shaken frames, and the frames with nothing to judge."""
    findings: list[Finding] = []
    unjudged: dict[str, str] = {}
    for frame, blur, error, apart in zip(
        frames, sharpness.blur_px2, sharpness.error_px2, sharpness.apart, strict=True
    ):
        known = error < np.maximum(KNOWN_PX2, KNOWN_SHARE * np.abs(blur))
        known |= error < KNOWN_SHARE * np.abs(blur[known]).max(initial=0.0)
        if known.sum() < LEAST_SECTORS:
            unjudged[frame.file] = (
                "nothing to judge here: no fine detail where it overlaps its neighbours"
            )
            continue
        if (known & ~apart).any():
            # Against a few of its like alone a soft frame is not soft.
            known &= ~apart
        blur = _borne_out(blur, known)
        whole = np.where(known, np.maximum(blur, 0.0), np.maximum(blur[known], 0.0).mean())
        # No blur is negative: as far as a direction falls below zero, the others may be wrong too.
        doubt = max(float(np.median(error[known])), -float(blur[known].min()))
        finding = _finding(frame, whole, doubt)
        if finding is not None:
            findings.append(finding)
        elif (known & ~apart).sum() < LEAST_SECTORS:
            unjudged[frame.file] = (
                "nothing to judge here: only a few frames show this detail, and if all of them "
                "are soft it does not show"
            )
    return findings, unjudged


def _borne_out(blur: FloatArray, known: NDArray[np.bool_]) -> FloatArray:
    """Blur (4,) no greater in one direction than the directions beside it allow.

    A streak of variance V leaves V / 2 at 45°; what stands alone is no blur of the camera's.
    """
    allowed = blur.copy()
    for sector in np.flatnonzero(known):
        beside = [s for s in ((sector - 1) % 4, (sector + 1) % 4) if known[s]]
        if beside:
            most = STREAK_BESIDE * float(np.maximum(blur[beside], 0.0).mean()) + SOFT_PX2
            allowed[sector] = min(blur[sector], most)
    return allowed


def judge_edges(frames: Sequence[Frame], evidence: Evidence) -> tuple[list[Finding], list[Finding]]:
    """Frames that stand alone, and a shoot that is soft as a whole, by their sharpest edges.

    Neighbours that are all alike hide a fault that they share.
    """
    met = {number for pair in evidence.pairs for number in (pair.a, pair.b)}
    blurs = evidence.edge_blur_px
    found = [
        Finding(
            "soft",
            f"even the sharpest edges are blurred by about {blur:.0f} px; check the focus",
            frames[number].file,
            round(blur, 1),
            "px",
        )
        for number, blur in sorted(blurs.items())
        if number not in met and blur > SOFT_EDGE_PX
    ]
    together = [blur for number, blur in blurs.items() if number in met]
    if len(together) < 2 or min(together) < SOFT_EDGE_PX:
        return found, []
    says = (
        f"all frames are soft alike: even the sharpest edges are blurred by about "
        f"{min(together):.0f} px; check the focus and shoot again"
    )
    value = round(min(together), 1)
    found += [Finding("soft", says, frames[number].file, value, "px") for number in sorted(met)]
    return found, [Finding("soft", says, value=value, unit="px")]


def _finding(frame: Frame, blur: FloatArray, error: float) -> Finding | None:
    greatest, least, direction = ellipse(blur)
    if greatest < max(SUSPECT_PX2, SURE_BLUR * error):
        return None
    if least >= max(SOFT_PX2, ROUND_SHARE * greatest):
        sigma = float(np.sqrt(max((greatest + least) / 2.0, 0.0)))
        return Finding(
            "soft",
            f"less sharp than its neighbours where they show the same: a blur of about "
            f"{sigma:.1f} px in every direction; check the focus",
            frame.file,
            round(sigma, 2),
            "px",
        )
    if greatest - least < SUSPECT_PX2:
        return None
    length = motion_px(greatest - max(least, 0.0))
    return Finding(
        "shaken",
        f"blurred along one direction, {_direction(direction)}, by about {length:.0f} px, "
        f"unlike its neighbours: the camera moved",
        frame.file,
        round(length, 1),
        "px",
    )


def _direction(direction_deg: float) -> str:
    """A direction in words: from x to the right, clockwise."""
    words = ("sideways", "falling to the right", "up and down", "rising to the right")
    return words[round(direction_deg / 45.0) % 4]
