"""Exposure in powers of two: aperture, time, speed and brightness add up.

APEX, the additive system of photographic exposure, as Exif restates it (Exif 2.3, CIPA DC-008,
annex C; from memory): ``Ev = Av + Tv = Bv + Sv``. EV100 is the exposure value at ISO 100, the
common measure of how bright a scene is. One EV is a factor of two in light.
"""

from __future__ import annotations

import math

from belvedere.optics.demands import demand_positive

#: Reflected-light meter constant in cd s / m², within the 10.6 to 13.4 of ISO 2720:1974.
REFLECTED_K = 12.5
#: Incident-light meter constant in lx s for a flat receptor, within ISO 2720's 240 to 400.
INCIDENT_C = 250.0


def apex_av(f_number: float) -> float:
    """``Av = 2 log2 N``."""
    demand_positive(f_number, "The f-number")
    return 2.0 * math.log2(f_number)


def apex_tv(shutter_s: float) -> float:
    """``Tv = -log2 t``."""
    demand_positive(shutter_s, "The exposure time", "s")
    return -math.log2(shutter_s)


def apex_sv(iso: float) -> float:
    """``Sv = log2(S / 3.125)``: 5 at ISO 100."""
    demand_positive(iso, "The ISO speed")
    return math.log2(iso / 3.125)


def apex_ev(f_number: float, shutter_s: float) -> float:
    """``Ev = Av + Tv``: the same for all settings that let in the same light."""
    return apex_av(f_number) + apex_tv(shutter_s)


def apex_bv(f_number: float, shutter_s: float, iso: float) -> float:
    """``Bv = Av + Tv - Sv``: the brightness of a scene for which these settings are right."""
    return apex_ev(f_number, shutter_s) - apex_sv(iso)


def ev100(f_number: float, shutter_s: float, iso: float) -> float:
    """The scene's exposure value at ISO 100 for which these settings are right."""
    return apex_bv(f_number, shutter_s, iso) + apex_sv(100.0)


def shutter_s_for(ev100: float, f_number: float, iso: float) -> float:
    """The exposure time that is right for `ev100`; not rounded to a mark."""
    return float(2.0 ** (apex_av(f_number) - ev100 - _stops_above_100(iso)))


def iso_for(ev100: float, f_number: float, shutter_s: float) -> float:
    """The ISO speed that is right for `ev100`; not rounded to a mark."""
    return float(100.0 * 2.0 ** (apex_ev(f_number, shutter_s) - ev100))


def f_number_for(ev100: float, shutter_s: float, iso: float) -> float:
    """The aperture that is right for `ev100`; not rounded to a mark."""
    return float(2.0 ** ((ev100 + _stops_above_100(iso) - apex_tv(shutter_s)) / 2.0))


def luminance_cd_m2(ev100: float, k: float = REFLECTED_K) -> float:
    """Luminance that a reflected-light meter reads as `ev100`: ``L = 2^EV K / 100``."""
    return float(2.0**ev100 * k / 100.0)


def ev100_of_luminance(luminance_cd_m2: float, k: float = REFLECTED_K) -> float:
    """The inverse of `luminance_cd_m2`."""
    demand_positive(luminance_cd_m2, "The luminance", "cd/m²")
    return math.log2(luminance_cd_m2 * 100.0 / k)


def illuminance_lx(ev100: float, c: float = INCIDENT_C) -> float:
    """Illuminance that an incident-light meter reads as `ev100`: ``E = 2^EV C / 100``."""
    return float(2.0**ev100 * c / 100.0)


def ev100_of_illuminance(illuminance_lx: float, c: float = INCIDENT_C) -> float:
    """The inverse of `illuminance_lx`."""
    demand_positive(illuminance_lx, "The illuminance", "lx")
    return math.log2(illuminance_lx * 100.0 / c)


def _stops_above_100(iso: float) -> float:
    return apex_sv(iso) - apex_sv(100.0)
