"""From what overlaps say of exposure and tint to findings: odd frames, jumps that stay, drift."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_pairs import Evidence
from belvedere.check.judge_settings import settings_ev, settings_in_words
from belvedere.check.judge_tone import (
    Runs,
    Tones,
    ab_difference,
    along_the_sweep,
    find_steps,
    only_sure,
    tint_to_ab,
)
from belvedere.check.judge_unlocked import (
    accuse_unlocked_colour,
    accuse_unlocked_exposure,
    colour_was_unlocked,
    exposure_was_unlocked,
)
from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    BLACK_SHARE,
    CLIPPED_SHARE,
    DRIFT_COLOUR,
    DRIFT_EV,
    DRIFTING_EV,
    DRIFTING_TINT,
    FAULT_COLOUR,
    FAULT_EV,
    GOOD_EV,
    GOOD_TINT,
    JUMP_COLOUR,
    JUMP_EV,
    LOPSIDED_TONE,
    SAME_EV,
    STATED_EV,
    WHITE_SHARE,
)
from belvedere.check.tone_walk import Ties, walk_along
from belvedere.check.tone_words import cast
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]


def judge_exposure(
    frames: Sequence[Frame], order: IntArray, tones: Tones, evidence: Evidence
) -> tuple[list[Finding], list[Finding]]:
    """Findings on frames and on the shoot; `order` has the frames' indices by the shutter."""
    found: list[Finding] = []
    shoot: list[Finding] = []
    member, between = along_the_sweep(tones.light, order)
    if len(member) > 1:
        stated = np.array([np.nan if (ev := settings_ev(f)) is None else ev for f in frames])
        ties, stepped = _as_stated(stated[member])
        walk = walk_along(len(member), between, ties, LOPSIDED_TONE)
        if exposure_was_unlocked([frames[number] for number in member]):
            found = accuse_unlocked_exposure(frames, member, walk.value, stated)
        else:
            steps = find_steps(walk.value, walk.broken | stepped, member, JUMP_EV)
            steps = only_sure(steps, walk, between, GOOD_EV)
            found = _accuse_exposure(frames, steps, stated)
            shoot = _drift(frames, steps.drift[:, 0], member)
    found += _nothing_to_see(frames, tones, evidence, {finding.file for finding in found})
    return found, shoot + _clipping(frames, evidence)


def judge_colour(
    frames: Sequence[Frame], order: IntArray, tones: Tones, again: Collection[str] = ()
) -> tuple[list[Finding], list[Finding]]:
    """Findings on frames and on the shoot; `order` has the frames' indices by the shutter.

    Files that are to be repeated `again` anyway need not have the colour of the others where the
    white balance was not locked.
    """
    member, between = along_the_sweep(tones.tint, order)
    if len(member) < 2:
        return [], []
    count = len(member) - 1
    ties = Ties(np.zeros((count, 2)), np.full(count, DRIFTING_TINT))
    walk = walk_along(len(member), between, ties, LOPSIDED_TONE)
    shown = tint_to_ab(walk.value)
    steps = find_steps(shown, walk.broken, member, JUMP_COLOUR)
    if colour_was_unlocked([frames[number] for number in member], steps.kind):
        stay = np.array([frames[number].file not in again for number in member], dtype=np.bool_)
        return accuse_unlocked_colour(frames, member[stay], shown[stay])
    steps = only_sure(steps, walk, between, GOOD_TINT)
    found = []
    for place in np.flatnonzero(steps.kind > 0).tolist():
        away = ab_difference(steps.offset[place])
        if away < FAULT_COLOUR:
            continue
        says = (
            f"{cast(steps.offset[place])} than {_others(frames, steps, place)}: another white "
            f"balance{_why(frames, steps, place)}"
        )
        file = frames[member[place]].file
        found.append(Finding("colour", says, file, round(away, 2), "CIEDE2000"))
    return found, _colour_drift(frames, steps.drift, member)


def _as_stated(stated_ev: FloatArray) -> tuple[Ties, BoolArray]:
    """What the settings (n,) let expect from frame to frame, and where they changed.

    Files say rounded what the camera did, so a change is less sure than none.
    """
    change = np.nan_to_num(-np.diff(stated_ev))
    stepped = np.abs(change) >= SAME_EV
    spread = np.where(stepped, STATED_EV, DRIFTING_EV)
    return Ties(np.where(stepped, change, 0.0)[:, None], spread), stepped


def _accuse_exposure(frames: Sequence[Frame], steps: Runs, stated: FloatArray) -> list[Finding]:
    found = []
    other = _usual_stated(steps, stated)
    for place in np.flatnonzero(steps.kind > 0).tolist():
        step_ev = float(steps.offset[place, 0])
        if abs(step_ev) < FAULT_EV:
            continue
        number = steps.member[place]
        word = "brighter" if step_ev > 0 else "darker"
        found.append(
            Finding(
                "exposure",
                f"{abs(step_ev):.2f} EV {word} than {_others(frames, steps, place)}"
                f"{_stated(frames, number, other, stated)}{_why(frames, steps, place)}",
                frames[number].file,
                round(step_ev, 3),
                "EV",
            )
        )
    return found


def _nothing_to_see(
    frames: Sequence[Frame], tones: Tones, evidence: Evidence, accused: set[str]
) -> list[Finding]:
    """Frames that no overlap tells of, and that are black or white all over."""
    found = []
    for number, frame in enumerate(frames):
        tone = evidence.tones.get(number)
        alone = not np.isfinite(tones.exposure.error[number])
        if tone is None or frame.file in accused or not alone:
            continue
        if tone.dark > BLACK_SHARE:
            says = "almost black all over: is the lens cap on?"
            found.append(Finding("exposure", says, frame.file))
        elif tone.clipped > WHITE_SHARE:
            says = "blown out all over: check the exposure"
            found.append(Finding("exposure", says, frame.file))
    return found


def _run(steps: Runs, place: int) -> tuple[int, int]:
    """First and last place of the run of like frames around `place`."""
    edges = np.flatnonzero(np.diff(steps.kind))
    after = int(np.searchsorted(edges, place))
    first = int(edges[after - 1]) + 1 if after else 0
    last = int(edges[after]) if after < len(edges) else len(steps.kind) - 1
    return first, last


def _others(frames: Sequence[Frame], steps: Runs, place: int) -> str:
    first, last = _run(steps, place)
    if last > first or (steps.kind == 0).sum() <= 2:
        usual = steps.member[steps.kind == 0]
        first_of = frames[usual[0]].file
        return first_of if len(usual) == 1 else f"the {len(usual)} frames like {first_of}"
    return "its neighbours"


def _why(frames: Sequence[Frame], steps: Runs, place: int) -> str:
    """A jump that stays: how many frames it is about, and why these are accused."""
    first, last = _run(steps, place)
    if last == first:
        return ""
    names = f"from {frames[steps.member[first]].file} to {frames[steps.member[last]].file}"
    count, rest = last - first + 1, int((steps.kind == 0).sum())
    return f"; so are all {count} frames {names}: fewer to take again than the other {rest}"


def _usual_stated(steps: Runs, stated: FloatArray) -> int | None:
    """The usual frame that states the middle exposure; None where none states any."""
    usual = steps.member[steps.kind == 0]
    usual = usual[np.isfinite(stated[usual])]
    return int(usual[np.argsort(stated[usual])[len(usual) // 2]]) if len(usual) else None


def _stated(frames: Sequence[Frame], number: int, other: int | None, stated: FloatArray) -> str:
    """What the settings in the files say to it, where they changed."""
    if other is None or not np.isfinite(stated[number]):
        return ""
    if abs(stated[other] - stated[number]) < SAME_EV:
        return " (at the same settings)"
    return (
        f" ({settings_in_words(frames[number])} against {settings_in_words(frames[other])}, "
        f"{stated[other] - stated[number]:+.2f} EV by the settings)"
    )


def _drift(frames: Sequence[Frame], drift_ev: FloatArray, member: IntArray) -> list[Finding]:
    extent = float(np.ptp(drift_ev))
    if extent < DRIFT_EV:
        return []
    says = (
        f"brightness drifts by {extent:.2f} EV over {_span(frames, member)}, as when sun and cloud "
        f"change; no single frame is at fault"
    )
    return [Finding("exposure", says, value=round(extent, 2), unit="EV")]


def _colour_drift(frames: Sequence[Frame], drift: FloatArray, member: IntArray) -> list[Finding]:
    extent = float(np.ptp(drift, axis=0).max())
    if extent <= DRIFT_COLOUR:
        return []
    away = drift[-1] - drift[0]
    says = (
        f"the colours drift over {_span(frames, member)}, the last frames are {cast(away)} than "
        f"the first, as the light does; no single frame is at fault"
        if float(np.linalg.norm(away)) > extent / 2.0
        else f"the colours drift over {_span(frames, member)}, as the light does; no single frame "
        f"is at fault"
    )
    return [Finding("colour", says, value=round(extent, 1), unit="CIEDE2000")]


def _span(frames: Sequence[Frame], member: IntArray) -> str:
    return f"{frames[member[0]].file} to {frames[member[-1]].file}"


def _clipping(frames: Sequence[Frame], evidence: Evidence) -> list[Finding]:
    clipped = [
        frames[number].file
        for number, tone in sorted(evidence.tones.items())
        if tone.clipped > CLIPPED_SHARE
    ]
    if not clipped:
        return []
    return [
        Finding(
            "clipping",
            f"{len(clipped)} of {len(frames)} frames are blown out over more than a quarter "
            f"({clipped[0]}{' …' if len(clipped) > 1 else ''}): expose for the bright parts",
            value=float(len(clipped)),
            unit="frames",
        )
    ]
