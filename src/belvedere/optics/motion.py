"""How far the picture moves on the sensor during an exposure, and how long is short enough.

All lengths are in pixels near the middle of the picture, where a pixel sees most. Motion turns a
point into a streak; how much of one is allowed is a choice, half a pixel to one as a rule (common
practice, no source).
"""

from __future__ import annotations

import math

from belvedere.foundation import PlanError
from belvedere.optics.demands import demand_not_negative, demand_positive

#: The sky turns once in a sidereal day of 86 164.0905 s.
SKY_RATE_ARCSEC_S = 360.0 * 3600.0 / 86_164.0905


def angular_motion_px(rate_deg_s: float, shutter_s: float, focal_length_px: float) -> float:
    """Streak of something that turns past the camera at `rate_deg_s`."""
    demand_not_negative(rate_deg_s, "The angular rate", "°/s")
    demand_positive(shutter_s, "The exposure time", "s")
    return math.radians(rate_deg_s * shutter_s) * _focal(focal_length_px)


def subject_rate_deg_s(speed_m_s: float, distance_m: float) -> float:
    """Angular rate of a subject that crosses the view at `distance_m`."""
    demand_not_negative(speed_m_s, "The speed", "m/s")
    demand_positive(distance_m, "The distance", "m")
    return math.degrees(speed_m_s / distance_m)


def subject_motion_px(
    speed_m_s: float, distance_m: float, shutter_s: float, focal_length_px: float
) -> float:
    """Streak of a subject that crosses the view; exact on a plane that faces the camera."""
    return angular_motion_px(subject_rate_deg_s(speed_m_s, distance_m), shutter_s, focal_length_px)


def star_rate_deg_s(declination_deg: float = 0.0) -> float:
    """Angular rate of a star: 15.041 seconds of arc a second on the equator of the sky."""
    return SKY_RATE_ARCSEC_S / 3600.0 * abs(math.cos(math.radians(declination_deg)))


def star_motion_px(shutter_s: float, focal_length_px: float, declination_deg: float = 0.0) -> float:
    """Trail of a star during the exposure."""
    return angular_motion_px(star_rate_deg_s(declination_deg), shutter_s, focal_length_px)


def shake_px(
    amplitude_arcsec: float, rate_hz: float, shutter_s: float, focal_length_px: float
) -> float:
    """The farthest apart a swinging camera can be within one exposure.

    The swing is a sinusoid, its `amplitude_arcsec` measured from the middle to one side; the
    exposure is taken at the worst moment, through the middle. From half a swing on it is the
    whole swing, twice the amplitude, however long the exposure. A whole swing lingers at its ends
    and so blurs up to a quarter more than an even streak of its length.
    """
    demand_not_negative(amplitude_arcsec, "The amplitude of the shake", "arcsec")
    demand_positive(rate_hz, "The rate of the shake", "Hz")
    demand_positive(shutter_s, "The exposure time", "s")
    quarter_turns = min(1.0, 2.0 * rate_hz * shutter_s)
    return _swing_px(amplitude_arcsec, focal_length_px) * math.sin(0.5 * math.pi * quarter_turns)


def shutter_s_for_motion(allowed_px: float, rate_deg_s: float, focal_length_px: float) -> float:
    """The longest exposure that keeps a steady motion within `allowed_px`; inf where all is still.

    For a subject take `subject_rate_deg_s`, for stars `star_rate_deg_s`.
    """
    demand_positive(allowed_px, "The allowed motion", "px")
    demand_not_negative(rate_deg_s, "The angular rate", "°/s")
    if rate_deg_s == 0.0:
        return math.inf
    return allowed_px / (math.radians(rate_deg_s) * _focal(focal_length_px))


def shutter_s_for_shake(
    allowed_px: float, amplitude_arcsec: float, rate_hz: float, focal_length_px: float
) -> float:
    """The longest exposure that keeps a shake within `allowed_px`; inf where every one does."""
    demand_positive(allowed_px, "The allowed motion", "px")
    demand_positive(rate_hz, "The rate of the shake", "Hz")
    swing = _swing_px(amplitude_arcsec, focal_length_px)
    if swing <= allowed_px:
        return math.inf
    return math.asin(allowed_px / swing) / (math.pi * rate_hz)


def _swing_px(amplitude_arcsec: float, focal_length_px: float) -> float:
    return 2.0 * math.radians(amplitude_arcsec / 3600.0) * _focal(focal_length_px)


def _focal(focal_length_px: float) -> float:
    if not focal_length_px > 0.0:
        raise PlanError(
            f"The focal length is {focal_length_px:g} pixels.", "Give focal length and sensor size."
        )
    return focal_length_px
