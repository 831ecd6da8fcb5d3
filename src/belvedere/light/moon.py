"""Where the moon stands, how much of it is lit, and the hours of the night without it.

Positions by PyEphem (the XEphem library of E. C. Downey: VSOP87 and the lunar theory of
M. Chapront-Touzé and J. Chapront in short form), a few seconds of arc; nothing is downloaded.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from belvedere.light.model import Site
from belvedere.light.sun import (
    ASTRONOMICAL_DEG,
    HORIZON_REFRACTION_DEG,
    RISE_DEG,
    at_offset,
    crossings,
    hour_angle_deg,
    sine_of_sun_elevation,
    sun_path,
    unix_of,
)

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

_HALF_DAY_S = 43_200.0
_SAMPLE_S = 600.0
#: PyEphem counts days from 1899-12-31 12:00 UT.
_UNIX_EPOCH_IN_EPHEM_DAYS = 25_567.5


@dataclass(frozen=True, slots=True)
class MoonPath:
    """The moon at n moments as seen from the place, arrays of shape (n,) in degrees.

    `elevation_deg` is that of the centre, without refraction.
    """

    azimuth_deg: NDArray[np.float64]
    elevation_deg: NDArray[np.float64]
    radius_deg: NDArray[np.float64]


def moon_path(unix_s: NDArray[np.float64], site: Site) -> MoonPath:
    """The moon at each of `unix_s` (n,), seconds since 1970-01-01 00:00 UTC."""
    import ephem

    observer = _observer(site)
    moon = ephem.Moon()
    rows = np.empty((len(unix_s), 3))
    for row, moment in zip(rows, unix_s.tolist(), strict=True):
        observer.date = _ephem_days(moment)
        moon.compute(observer)
        row[:] = moon.az, moon.alt, moon.radius
    azimuth, elevation, radius = np.degrees(rows).T
    return MoonPath(azimuth, elevation, radius)


def moon_lit(moment: datetime) -> float:
    """The lit share of the moon's disc at `moment`, 0 (new) to 1 (full)."""
    import ephem

    return float(ephem.Moon(_ephem_days(unix_of(moment))).phase) / 100.0


def sine_above_horizon(begin_s: float, end_s: float, site: Site) -> CubicSpline:
    """Sine of the elevation of the moon's upper limb with refraction: zero at rise and set.

    Rise and set are those of the almanacs: upper limb on a level horizon, 34′ of refraction.
    """
    from scipy.interpolate import CubicSpline

    spare = 4 * _SAMPLE_S
    unix_s = np.arange(begin_s - spare, end_s + spare + _SAMPLE_S, _SAMPLE_S)
    moon = moon_path(unix_s, site)
    limb_deg = moon.elevation_deg + moon.radius_deg + HORIZON_REFRACTION_DEG
    return CubicSpline(unix_s, np.sin(np.radians(limb_deg)))


def moonless(start: datetime, site: Site) -> tuple[datetime, datetime] | None:
    """The longest stretch, in the night of `start`, with the sun below −18° and the moon down.

    The night is the one `start` lies in, or else the next one; the whole of it counts, also what
    lies before `start`. None where the night has no such stretch. In the offset of `start`.
    """
    begin_s, end_s = night_s(unix_of(start), site)
    sun = sine_of_sun_elevation(begin_s, end_s, site)
    moon = sine_above_horizon(begin_s, end_s, site)
    dark = float(np.sin(np.radians(ASTRONOMICAL_DEG)))
    changes = [moment for moment, _ in crossings(sun, dark, begin_s, end_s)]
    changes += [moment for moment, _ in crossings(moon, 0.0, begin_s, end_s)]
    best = (0.0, 0.0)
    # Between two changes nothing changes, so the middle speaks for the whole. Two moonless
    # stretches never meet: where one ends, the sun or the moon comes.
    for stretch in pairwise([begin_s, *sorted(changes), end_s]):
        half = (stretch[0] + stretch[1]) / 2.0
        if sun(half) < dark and moon(half) < 0.0 and stretch[1] - stretch[0] > best[1] - best[0]:
            best = stretch
    if best[1] <= best[0]:
        return None
    return at_offset(best[0], start), at_offset(best[1], start)


def night_s(start_s: float, site: Site) -> tuple[float, float]:
    """From noon to noon around the night in which `start_s` lies, or else around the next one."""
    hour_angle = hour_angle_deg(start_s, site)
    noon_s = start_s - hour_angle / 180.0 * _HALF_DAY_S
    elevation = sun_path(np.array([start_s]), site).elevation_deg[0]
    before_dawn = hour_angle < 0.0 and elevation < RISE_DEG
    begin_s = noon_s - 2.0 * _HALF_DAY_S if before_dawn else noon_s
    return begin_s, begin_s + 2.0 * _HALF_DAY_S


def _observer(site: Site) -> Any:
    import ephem

    observer = ephem.Observer()
    observer.lat = np.radians(site.latitude_deg)
    observer.lon = np.radians(site.longitude_deg)
    observer.elevation = site.altitude_m
    observer.pressure = 0.0  # no refraction: it is added where it is wanted
    return observer


def _ephem_days(unix_s: float) -> float:
    return unix_s / 86_400.0 + _UNIX_EPOCH_IN_EPHEM_DAYS
