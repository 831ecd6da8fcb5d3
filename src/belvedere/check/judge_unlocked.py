"""Exposure or white balance left on automatic: which frames to repeat so that the rest is alike.

The camera set anew what should have stayed, so there are no odd frames and no usual ones. What can
be kept is the largest set of frames in one light; the others are worth taking again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_settings import settings_ev, settings_in_words
from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    FAULT_COLOUR,
    FAULT_EV,
    JUMP_EV,
    RESTLESS_SHARE,
    SAME_EV,
    SET_ANEW_SHARE,
)
from belvedere.check.tone_words import cast
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

#: Of so many values, evenly spread, the middle of any two may be the middle of the light.
_TRIED = 60
#: So many changes of colour are more than faults, where the camera says it was on automatic.
_CHANGES = 3
_FEW = 6


def exposure_was_unlocked(frames: Sequence[Frame]) -> bool:
    """Whether the camera chose the exposure for each frame (in shutter order), as files state it.

    Cameras say so; where they do not, many different exposures do, or many changes.
    """
    stated = [value for frame in frames if (value := settings_ev(frame)) is not None]
    if not stated or np.ptp(stated) < SAME_EV:
        return False
    if _mostly(frame.settings.exposure_mode for frame in frames) == "auto":
        return True
    changes = int((np.abs(np.diff(stated)) >= SAME_EV).sum())
    values = len({round(value, 2) for value in stated})
    often = changes > RESTLESS_SHARE * len(stated) and values > 3
    return len(stated) >= _FEW and (values > SET_ANEW_SHARE * len(stated) or often)


def colour_was_unlocked(frames: Sequence[Frame], kind: IntArray) -> bool:
    """Whether the white balance was set for each frame; `kind` are the frames' classes of colour.

    Steady daylight gives an automatic white balance nothing to do; then nothing was lost.
    """
    changes = int(np.count_nonzero(np.diff(kind)))
    if _mostly(frame.settings.white_balance for frame in frames) == "auto":
        return changes >= _CHANGES
    return len(kind) > _FEW and changes > RESTLESS_SHARE * len(kind)


def accuse_unlocked_exposure(
    frames: Sequence[Frame], member: IntArray, value_ev: FloatArray, stated_ev: FloatArray
) -> list[Finding]:
    """The fewest frames to repeat so that the others lie in one light.

    `value_ev` (k, 1) are the exposures of the frames `member` in shutter order. Where each change
    from frame to frame is small, nobody sees a seam, and none need be repeated.
    """
    if not (np.abs(np.diff(value_ev[:, 0])) >= JUMP_EV).any():
        return []
    kept, middle = one_light(value_ev, FAULT_EV)
    usual = _usual(member[kept], stated_ev)
    found = []
    for place in np.flatnonzero(~kept).tolist():
        number = int(member[place])
        step_ev = float(value_ev[place, 0] - middle[0])
        says = f"{'brighter' if step_ev > 0 else 'darker'} than {_alike(frames, member[kept])}"
        says += _against(frames, number, usual, stated_ev)
        found.append(Finding("exposure", says, frames[number].file, round(step_ev, 3), "EV"))
    return found


def accuse_unlocked_colour(
    frames: Sequence[Frame], member: IntArray, ab: FloatArray
) -> tuple[list[Finding], list[Finding]]:
    """The fewest frames to repeat, and a sentence on the shoot; `ab` (k, 2) as `tint_to_ab`."""
    if not len(member):
        return [], []
    kept, middle = one_light(ab, FAULT_COLOUR)
    found = []
    for place in np.flatnonzero(~kept).tolist():
        away = ab[place] - middle
        says = f"{cast(away)} than {_alike(frames, member[kept])}"
        size = round(float(np.linalg.norm(away)), 2)
        found.append(Finding("colour", says, frames[int(member[place])].file, size, "CIEDE2000"))
    if not found:
        return [], []
    extent = float(np.ptp(ab, axis=0).max())
    says = (
        "white balance was not locked: the camera chose the colours of each frame anew; lock it "
        "and repeat the cells that are named. If you have raw files too, one white balance for "
        "all of them does as well"
    )
    return found, [Finding("colour", says, value=round(extent, 1), unit="CIEDE2000")]


def one_light(value: FloatArray, radius: float) -> tuple[BoolArray, FloatArray]:
    """The largest set of values (k, c) within `radius` of a point: a mask (k,) and the point (c,).

    The points tried are the values and, for an even choice of them, the middles between any two.
    """
    chosen = value[np.argsort(value[:, 0], kind="stable")]
    chosen = chosen[np.unique(np.linspace(0, len(chosen) - 1, _TRIED).astype(int))]
    middles = (chosen[:, None] + chosen[None, :]).reshape(-1, value.shape[1]) / 2.0
    best: tuple[int, float, FloatArray] | None = None
    for point in middles:
        distance = np.linalg.norm(value - point, axis=1)
        inside = distance <= radius
        found = int(inside.sum()), -float(distance[inside].sum()), point
        if best is None or found[:2] > best[:2]:
            best = found
    assert best is not None
    kept: BoolArray = np.linalg.norm(value - best[2], axis=1) <= radius
    return kept, best[2]


def _mostly(stated: Iterable[str | None]) -> str | None:
    """What most of those files say that say anything."""
    counts = Counter(value for value in stated if value is not None)
    return counts.most_common(1)[0][0] if counts else None


def _usual(kept: IntArray, stated_ev: FloatArray) -> int | None:
    """The frame of those kept that states the middle exposure."""
    known = kept[np.isfinite(stated_ev[kept])]
    return int(known[np.argsort(stated_ev[known])[len(known) // 2]]) if len(known) else None


def _against(frames: Sequence[Frame], number: int, usual: int | None, stated_ev: FloatArray) -> str:
    """The settings of a frame against the usual ones, where they differ."""
    if usual is None or not np.isfinite(stated_ev[number]):
        return ""
    step_ev = float(stated_ev[usual] - stated_ev[number])
    if abs(step_ev) < SAME_EV:
        return ""
    return (
        f": {settings_in_words(frames[number])} against {settings_in_words(frames[usual])}, "
        f"{step_ev:+.2f} EV by the settings"
    )


def _alike(frames: Sequence[Frame], kept: IntArray) -> str:
    if len(kept) == 1:
        return frames[int(kept[0])].file
    return f"the {len(kept)} frames that are alike"
