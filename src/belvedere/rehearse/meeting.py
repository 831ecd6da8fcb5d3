"""What a frame meets: light, faults of exposure, colour and sharpness, the swing of the tripod."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from belvedere.optics import ev100
from belvedere.rehearse.blur import Blur
from belvedere.rehearse.camera_model import (
    NORMAL_EXPOSURE_S,
    NORMAL_F_NUMBER,
    NORMAL_ISO,
    CameraSettings,
    CameraTraits,
    Exposure,
    Flicker,
    FrameConditions,
)
from belvedere.rehearse.faults import (
    CellFault,
    ColourJump,
    ExposureJump,
    Flickering,
    FocusWrong,
    Shaken,
    Soft,
    WetLens,
)
from belvedere.rehearse.head import HeadTraits
from belvedere.rehearse.vibration import Gusts, Oscillation
from belvedere.shoot import USUAL_SETTLE_S, Shoot

#: A swing that moves a point by less than this during the exposure is left out.
_LEAST_SWING_PX = 0.05
_ARCSEC_PER_DEG = 3600.0


def settings_of(shoot: Shoot) -> CameraSettings:
    """The camera as the shoot file sets it; what it leaves out is the rehearsal's normal."""
    wish = shoot.conditions.exposure
    return CameraSettings(
        f_number=wish.f_number or NORMAL_F_NUMBER,
        exposure_s=wish.shutter_s or NORMAL_EXPOSURE_S,
        iso=wish.iso or NORMAL_ISO,
        focus_m=shoot.conditions.focus.distance_m,
    )


def exposure_of(
    faults: Sequence[CellFault], traits: CameraTraits, rng: np.random.Generator
) -> Exposure:
    """How a frame comes out with these faults at work."""
    ev = float(rng.normal(0.0, 1.0)) * traits.gain_jitter_ev
    red, blue, blur = 1.0, 1.0, Blur()
    for fault in faults:
        if isinstance(fault, ExposureJump):
            ev += fault.ev
        elif isinstance(fault, ColourJump):
            red, blue = red * fault.red, blue * fault.blue
        elif isinstance(fault, Soft):
            blur = replace(blur, defocus_px=fault.blur_px)
        elif isinstance(fault, Shaken):
            blur = replace(
                blur, motion_px=fault.length_px, motion_direction_deg=fault.direction_deg
            )
    return Exposure(ev, (red, 1.0, blue), blur)


def stated_exposure_s(faults: Sequence[CellFault], settings: CameraSettings) -> float:
    """The exposure time that a camera set by hand writes into the file."""
    stated = [fault.ev for fault in faults if isinstance(fault, ExposureJump) and fault.stated]
    return float(settings.exposure_s * 2.0 ** sum(stated))


def settings_with(faults: Sequence[CellFault], settings: CameraSettings) -> CameraSettings:
    """The settings of one frame: those of the shoot, and autofocus where it went wrong."""
    for fault in faults:
        if isinstance(fault, FocusWrong):
            settings = replace(settings, focus_m=fault.distance_m, focus_mode="manual")
    return settings


def conditions_of(
    faults: Sequence[CellFault], settings: CameraSettings, at_s: float, rng: np.random.Generator
) -> FrameConditions:
    """What a frame meets at a moment of the shoot, but for daylight, dust and swing.

    The light is such that the settings of the shoot expose it as it is painted.
    """
    drops, flicker = 0, None
    for fault in faults:
        if isinstance(fault, WetLens):
            drops += fault.drops
        elif isinstance(fault, Flickering):
            phase = float(rng.random())
            flicker = Flicker(mains_hz=fault.mains_hz, depth=fault.depth, phase=phase)
    return FrameConditions(
        at_s=at_s,
        light_ev100=ev100(settings.f_number, settings.exposure_s, settings.iso),
        drops=drops,
        flicker=flicker,
    )


def sway_in(wind: Gusts | None, exposure_s: float, px_per_deg: float) -> Gusts | None:
    """The wind's sway during one exposure; None where no picture could show it."""
    if wind is None:
        return None
    away_px = wind.deviation_arcsec / _ARCSEC_PER_DEG * px_per_deg
    seen_px = away_px * min(2.0 * np.pi * wind.rate_hz * exposure_s, 2.0)
    return wind if seen_px >= _LEAST_SWING_PX else None


def swing_left(
    head: HeadTraits,
    shoot: Shoot,
    delay_s: float,
    exposure_s: float,
    px_per_deg: float,
    rng: np.random.Generator,
) -> Oscillation | None:
    """The swing that the move before a frame leaves; None where no picture could show it.

    `delay_s` is from the contact to the open shutter. The swing goes along the rows for the most
    part, as heads turn more than they tilt.
    """
    settle = shoot.conditions.head.settle_s
    since_s = (USUAL_SETTLE_S if settle is None else settle) + delay_s
    phase, direction = float(rng.random()), float(rng.normal(0.0, 20.0))
    rate = 2.0 * np.pi * head.swing_hz
    left_px = head.swing_arcsec / _ARCSEC_PER_DEG * px_per_deg
    left_px *= float(np.exp(-head.swing_damping * rate * since_s))
    if left_px * min(rate * exposure_s, 2.0) < _LEAST_SWING_PX:
        return None
    return Oscillation(
        amplitude_arcsec=head.swing_arcsec,
        rate_hz=head.swing_hz,
        damping=head.swing_damping,
        since_stop_s=since_s,
        direction_deg=direction,
        phase=phase,
    )
