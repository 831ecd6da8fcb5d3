"""What is wrong with a frame, in the check's words for states."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from belvedere.rehearse.camera_model import CameraTraits, FrameRecord, Gains
from belvedere.rehearse.shot import Shot

#: Gravest first, in the words and the order of the check.
GRAVITY = ("missing", "corrupt", "soft", "shaken", "exposure", "colour", "good")

#: An exposure is wrong from a sixth of a stop on, or six times the usual jitter, if more.
_WRONG_EV, _WRONG_JITTERS = 1.0 / 6.0, 6.0
#: Light or an automatic white balance of another colour: from this ratio of the gains on.
_WRONG_GAIN = 1.08
#: A frame is soft where even its sharpest part has a blur disc of this diameter, and shaken where
#: the motion of the camera leaves a streak of this length (judgement, by eye at 100 %).
_SOFT_PX, _STREAK_PX = 2.0, 2.0
#: Variance of a uniform line of length 1.
_LINE = 1.0 / 12.0


@dataclass(frozen=True, slots=True)
class Usual:
    """What most frames of the sweep have: exposure, and gains of red and blue against green.

    `ev` holds at the beginning of the scene's clock and changes evenly by `ev_per_s`.
    """

    ev: float = 0.0
    ev_per_s: float = 0.0
    gains: Gains = (1.0, 1.0, 1.0)


def frame_states(
    shot: Shot,
    traits: CameraTraits,
    record: FrameRecord | None = None,
    usual: Usual | None = None,
) -> list[str]:
    """What is wrong with a frame, gravest first; empty for a good one.

    With the `record` of what was really used, automatic modes, depth and vibration count too,
    against what is `usual` on this card.
    """
    usual = usual or Usual()
    wrong = set()
    blur = shot.exposure.blur
    if shot.kept < 1.0:
        wrong.add("corrupt")
    if blur.defocus_px > 0.0 or (record is not None and record.defocus_px[0] >= _SOFT_PX):
        wrong.add("soft")
    if blur.motion_px > 0.0 or (record is not None and _streak_px(record) >= _STREAK_PX):
        wrong.add("shaken")
    limit_ev = max(_WRONG_EV, _WRONG_JITTERS * traits.gain_jitter_ev)
    usual_ev = usual.ev + usual.ev_per_s * shot.conditions.at_s
    if abs(brightness_ev(shot, record) - usual_ev) > limit_ev:
        wrong.add("exposure")
    if shot.exposure.white_balance != (1.0, 1.0, 1.0):
        wrong.add("colour")
    apart = np.array(colour_gains(shot, record)) / np.array(usual.gains)
    if float(np.abs(np.log(apart)).max()) > np.log(_WRONG_GAIN):
        wrong.add("colour")
    return sorted(wrong, key=GRAVITY.index)


def usual_of(shots: Sequence[Shot], records: Mapping[int, FrameRecord]) -> Usual:
    """What most frames of the sweep have; by hand and in even light that is nought and one."""
    sweep = [shot for shot in shots if shot.role != "before the sweep"]
    if not sweep:
        return Usual()
    evs = [brightness_ev(shot, records.get(shot.number), faults=False) for shot in sweep]
    gains = [colour_gains(shot, records.get(shot.number), faults=False) for shot in sweep]
    red, green, blue = (float(gain) for gain in np.median(np.array(gains), axis=0))
    ev, ev_per_s = float(np.median(evs)), 0.0
    if all(shot.settings.exposure_mode == "manual" for shot in sweep):
        ev, ev_per_s = _even_drift([shot.conditions.at_s for shot in sweep], evs)
    return Usual(ev, ev_per_s, (red, green, blue))


def _even_drift(at_s: Sequence[float], evs: Sequence[float]) -> tuple[float, float]:
    """The line through most of the frames: their median, and how it changes with time.

    The slope is the median of the slopes between frames half a sweep apart (after H. Theil, 1950,
    and P. K. Sen, 1968; from memory), so that a cloud's shadow does not count.
    """
    times, values = np.asarray(at_s), np.asarray(evs)
    half = len(times) // 2
    apart_s = times[half:] - times[: len(times) - half]
    moved = apart_s > 0.0
    slope = 0.0
    if moved.any():
        rise = values[half:] - values[: len(values) - half]
        slope = float(np.median(rise[moved] / apart_s[moved]))
    return float(np.median(values - slope * times)), slope


def brightness_ev(shot: Shot, record: FrameRecord | None, *, faults: bool = True) -> float:
    """How much brighter a picture is than one that shows the light as it is painted."""
    ev = shot.conditions.illumination_ev
    if shot.settings.exposure_mode == "auto" and record is not None:
        # The camera answers to the light: what it made of it, its own error aside, is in `ev`.
        ev = record.ev - shot.exposure.ev
    return ev + shot.exposure.ev if faults else ev


def colour_gains(shot: Shot, record: FrameRecord | None, *, faults: bool = True) -> Gains:
    """Red, green and blue of a grey thing in the picture, green 1."""
    light, gains = np.array(shot.conditions.illuminant), np.ones(3)
    if shot.settings.white_balance_mode == "auto" and record is not None:
        gains = np.array(record.white_balance)
    elif faults:
        gains = np.array(shot.exposure.white_balance)
    red, green, blue = (float(value) for value in light * gains)
    return red / green, 1.0, blue / green


def _streak_px(record: FrameRecord) -> float:
    """The length of the streak that accounts for the kernel being longer than it is wide."""
    kernel = record.kernel
    return float(np.sqrt(max(0.0, kernel.along_px**2 - kernel.across_px**2) / _LINE))
