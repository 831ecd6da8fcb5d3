"""From exposure and tint of each frame to findings: odd frames, jumps that stay, drift."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_pairs import Evidence
from belvedere.check.judge_settings import settings_ev, settings_in_words
from belvedere.check.judge_tone import (
    Runs,
    Tones,
    ab_difference,
    find_steps,
    tint_to_ab,
)
from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    BLACK_SHARE,
    CLIPPED_SHARE,
    DRIFT_COLOUR,
    DRIFT_EV,
    FAULT_COLOUR,
    FAULT_EV,
    JUMP_COLOUR,
    JUMP_EV,
    RESTLESS_SHARE,
    SET_ANEW_SHARE,
    SURE_JUMP,
    WHITE_SHARE,
)
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]


def judge_exposure(
    frames: Sequence[Frame], order: IntArray, tones: Tones, evidence: Evidence
) -> tuple[list[Finding], list[Finding]]:
    """Findings on frames and on the shoot."""
    levels = tones.exposure
    stated_ev = [settings_ev(frame) for frame in frames]
    wandering = _set_anew(stated_ev)
    found: list[Finding] = []
    shoot: list[Finding] = []
    for member in _groups(levels.group, levels.error, order):
        steps = find_steps(levels.value, levels.error, member, JUMP_EV, SURE_JUMP)
        if not wandering:
            found += _accuse_exposure(frames, steps, stated_ev)
        shoot += _drift(
            frames, levels.value[member, 0] if wandering else steps.drift[:, 0], member, wandering
        )
    accused = {finding.file for finding in found}
    for number, frame in enumerate(frames):
        tone = evidence.tones.get(number)
        alone = not np.isfinite(levels.error[number])
        if tone is None or frame.file in accused or not alone:
            continue
        if tone.dark > BLACK_SHARE:
            found.append(_whole(frame, "almost black all over: is the lens cap on?"))
        elif tone.clipped > WHITE_SHARE:
            found.append(_whole(frame, "blown out all over: check the exposure"))
    return found, shoot + _clipping(frames, evidence)


def judge_colour(
    frames: Sequence[Frame], order: IntArray, tones: Tones
) -> tuple[list[Finding], list[Finding]]:
    """Findings on frames and on the shoot."""
    levels = tones.tint
    wandering = _set_anew([settings_ev(frame) for frame in frames])
    shown = tint_to_ab(levels.value)
    # A tint's error in ln, seen on mid grey: some 50 units of a* or b*.
    error = levels.error * 50.0
    found: list[Finding] = []
    shoot: list[Finding] = []
    for member in _groups(levels.group, levels.error, order):
        steps = find_steps(shown, error, member, JUMP_COLOUR, SURE_JUMP)
        steady = not (wandering or _restless(steps))
        for place in np.flatnonzero(steps.kind > 0).tolist():
            number = member[place]
            away = ab_difference(steps.offset[place])
            if away < FAULT_COLOUR or not steady:
                continue
            cast = _cast(steps.offset[place])
            found.append(
                Finding(
                    "colour",
                    f"{cast} than {_others(frames, steps, place)}: white balance differs by "
                    f"{away:.1f} (CIEDE2000 on grey){_why(frames, steps, place)}",
                    frames[number].file,
                    round(away, 2),
                    "CIEDE2000",
                )
            )
        extent = float(np.ptp(steps.drift if steady else shown[member], axis=0).max())
        if extent > DRIFT_COLOUR:
            why = "as the light does" if steady else "white balance was not locked"
            shoot.append(
                Finding(
                    "colour",
                    f"colour drifts over {_span(frames, member)} by about {extent:.0f} (CIEDE2000 "
                    f"on grey), {why}; no single frame is at fault",
                    value=round(extent, 1),
                    unit="CIEDE2000",
                )
            )
    return found, shoot


def _groups(group: IntArray, error: FloatArray, order: IntArray) -> list[IntArray]:
    """Frames that hang together, in shutter order, groups of two and more."""
    known = order[np.isfinite(error[order])]
    members = [known[group[known] == number] for number in dict.fromkeys(group[known].tolist())]
    return [member for member in members if len(member) > 1]


def _accuse_exposure(
    frames: Sequence[Frame], steps: Runs, stated_ev: Sequence[float | None]
) -> list[Finding]:
    found = []
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
                f"{_stated(frames, steps, place, stated_ev)}{_why(frames, steps, place)}",
                frames[number].file,
                round(step_ev, 3),
                "EV",
            )
        )
    return found


def _run(steps: Runs, place: int) -> tuple[int, int]:
    """First and last place of the run of like frames around `place`."""
    first = last = place
    while first > 0 and steps.kind[first - 1] == steps.kind[place]:
        first -= 1
    while last + 1 < len(steps.kind) and steps.kind[last + 1] == steps.kind[place]:
        last += 1
    return first, last


def _others(frames: Sequence[Frame], steps: Runs, place: int) -> str:
    first, last = _run(steps, place)
    if last > first or (steps.kind == 0).sum() <= 2:
        usual = [frames[number].file for number in steps.member[steps.kind == 0]]
        return usual[0] if len(usual) == 1 else f"the {len(usual)} frames like {usual[0]}"
    return "its neighbours"


def _why(frames: Sequence[Frame], steps: Runs, place: int) -> str:
    """A jump that stays: which frames it parts, and why these are accused."""
    first, last = _run(steps, place)
    if last == first:
        return ""
    names = f"{frames[steps.member[first]].file} to {frames[steps.member[last]].file}"
    count, rest = last - first + 1, int((steps.kind == 0).sum())
    return (
        f"; the change stays for {count} frames ({names}), the fewer against {rest}: "
        f"take these again, or all the others"
    )


def _stated(
    frames: Sequence[Frame], steps: Runs, place: int, stated_ev: Sequence[float | None]
) -> str:
    """What the settings in the files say to it, where they changed."""
    number = int(steps.member[place])
    mine = stated_ev[number]
    usual = [
        (value, int(other))
        for other in steps.member[steps.kind == 0]
        if (value := stated_ev[int(other)]) is not None
    ]
    if mine is None or not usual:
        return ""
    middle, other = sorted(usual)[len(usual) // 2]
    if abs(middle - mine) < 0.05:
        return " (its settings do not tell of it)"
    return (
        f" ({settings_in_words(frames[number])} against {settings_in_words(frames[other])}, "
        f"{middle - mine:+.2f} EV by the settings)"
    )


def _set_anew(stated_ev: Sequence[float | None]) -> bool:
    """True where the camera set the exposure anew for most frames: nobody's jump."""
    stated = [round(value, 2) for value in stated_ev if value is not None]
    return len(stated) >= 6 and len(set(stated)) > SET_ANEW_SHARE * len(stated)


def _drift(
    frames: Sequence[Frame], series: FloatArray, member: IntArray, wandering: bool
) -> list[Finding]:
    extent = float(np.ptp(series))
    if extent < DRIFT_EV:
        return []
    names = _span(frames, member)
    if wandering:
        says = (
            f"exposure drifts by {extent:.2f} EV over {names}: it was not locked, the camera set "
            f"it anew for most frames; lock it next time, the balance evens it out"
        )
    else:
        says = (
            f"brightness drifts by {extent:.2f} EV over {names}, as when sun and cloud change; "
            f"no single frame is at fault"
        )
    return [Finding("exposure", says, value=round(extent, 2), unit="EV")]


def _span(frames: Sequence[Frame], member: IntArray) -> str:
    return f"{frames[member[0]].file} to {frames[member[-1]].file}"


def _restless(steps: Runs) -> bool:
    """True where jumps are so many that the camera, and not a fault, must be behind them."""
    jumps = int(np.count_nonzero(np.diff(steps.kind)))
    return len(steps.kind) >= 8 and jumps > RESTLESS_SHARE * len(steps.kind)


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


def _whole(frame: Frame, says: str) -> Finding:
    return Finding("exposure", says, frame.file)


def _cast(ab: FloatArray) -> str:
    """A colour step (2,) in words: a* runs from green to magenta, b* from blue to yellow."""
    a, b = float(ab[0]), float(ab[1])
    if abs(b) > 0.6 * abs(a):
        return "warmer" if b > 0 else "cooler"
    return "more magenta" if a > 0 else "greener"
