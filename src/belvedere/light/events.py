"""What the day brings: rise and set of sun and moon, twilights, golden and blue hour.

Civil, nautical and astronomical twilight end with the sun's centre 6°, 12° and 18° below the
horizon: standard definitions. Golden hour (sun between −4° and +6°) and blue hour (−6° to −4°)
are common practice, no source; their edges vary from one author to the next by a degree or two.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np

from belvedere.light.model import LightEvent, Site
from belvedere.light.moon import sine_above_horizon
from belvedere.light.sun import (
    ASTRONOMICAL_DEG,
    RISE_DEG,
    at_offset,
    crossings,
    sine_of_sun_elevation,
    solar_noons,
    unix_of,
)

GOLDEN_TOP_DEG = 6.0
GOLDEN_BOTTOM_DEG = -4.0
BLUE_BOTTOM_DEG = -6.0
NAUTICAL_DEG = -12.0

#: Elevation of the sun; what begins or ends as it rises through it; and as it sets.
_LEVELS: tuple[tuple[float, tuple[str, ...], tuple[str, ...]], ...] = (
    (ASTRONOMICAL_DEG, ("astronomical dawn",), ("astronomical dusk",)),
    (NAUTICAL_DEG, ("nautical dawn",), ("nautical dusk",)),
    (BLUE_BOTTOM_DEG, ("civil dawn", "blue hour begins"), ("blue hour ends", "civil dusk")),
    (
        GOLDEN_BOTTOM_DEG,
        ("blue hour ends", "golden hour begins"),
        ("golden hour ends", "blue hour begins"),
    ),
    (RISE_DEG, ("sunrise",), ("sunset",)),
    (GOLDEN_TOP_DEG, ("golden hour ends",), ("golden hour begins",)),
)

#: From midnight of the day to noon of the next: the day and the night after it.
_WINDOW_S = 36 * 3600.0


def phase(elevation_deg: float) -> str:
    """The part of the day with the sun's centre at `elevation_deg`, without refraction."""
    if elevation_deg > GOLDEN_TOP_DEG:
        return "day"
    if elevation_deg > GOLDEN_BOTTOM_DEG:
        return "golden hour"
    if elevation_deg > BLUE_BOTTOM_DEG:
        return "blue hour"
    if elevation_deg > NAUTICAL_DEG:
        return "nautical twilight"
    if elevation_deg > ASTRONOMICAL_DEG:
        return "astronomical twilight"
    return "night"


def day_events(start: datetime, site: Site) -> tuple[LightEvent, ...]:
    """What the day of `start` and the night after it bring, in order.

    From midnight of the date of `start` to noon of the next, in the offset of `start` and to the
    full second. Where the sun or the moon never passes a level (polar day and night), its events
    are simply not there.

    Raises
    ------
    PlanError
        If `start` has no offset from UTC.
    """
    begin_s = midnight_s(start)
    end_s = begin_s + _WINDOW_S
    found = [(moment, "solar noon") for moment in solar_noons(begin_s, end_s, site)]
    sun = sine_of_sun_elevation(begin_s, end_s, site)
    for level_deg, rising_names, setting_names in _LEVELS:
        level = float(np.sin(np.radians(level_deg)))
        for moment, rises in crossings(sun, level, begin_s, end_s):
            found += [(moment, name) for name in (rising_names if rises else setting_names)]
    moon = sine_above_horizon(begin_s, end_s, site)
    for moment, rises in crossings(moon, 0.0, begin_s, end_s):
        found.append((moment, "moonrise" if rises else "moonset"))
    found.sort(key=lambda event: event[0])
    return tuple(LightEvent(at_offset(moment, start), name) for moment, name in found)


def midnight_s(start: datetime) -> float:
    """Midnight of the date of `start` in its offset, in seconds since 1970."""
    seconds = start.hour * 3600 + start.minute * 60 + start.second + start.microsecond * 1e-6
    return unix_of(start) - seconds
