"""Where the sun stands: the NREL solar position algorithm (SPA), for one moment or 100,000.

I. Reda, A. Andreas, "Solar Position Algorithm for Solar Radiation Applications", Solar Energy
76(5), 577–589, 2004 (NREL/TP-560-34302), as pvlib computes it; ±0.0003° for years −2000 to 6000.
Refraction is that of a standard atmosphere at 12 °C; near the horizon the true one differs by
some hundredths of a degree from day to day. Horizons are those of the sea: no hills, no dip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError
from belvedere.light.model import Site

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

#: Radius of the sun's disc, and the refraction at the horizon, as SPA takes them.
SUN_RADIUS_DEG = 0.26667
HORIZON_REFRACTION_DEG = 0.5667
#: Geometric elevation of the sun's centre at sunrise and sunset (SPA, section A.2).
RISE_DEG = -0.8333
#: Astronomical twilight ends here: the night is fully dark.
ASTRONOMICAL_DEG = -18.0

#: SPA and the short lunar theory both hold in these years; others are slips of the pen.
_YEARS = (1800, 2200)
_TEMPERATURE_C = 12.0
#: A cubic through samples this far apart is off by (ωh)⁴ · 5/384 ≈ 2e-7° (C. de Boor's bound).
_SAMPLE_S = 300.0
#: Samples beyond either end: the spline is poorer in its first and last stretch.
_SPARE = 4


@dataclass(frozen=True, slots=True)
class SunPath:
    """The sun at n moments, arrays of shape (n,) in degrees.

    `azimuth_deg` from true north eastward, 0 to 360; `elevation_deg` of the centre without
    refraction; `apparent_elevation_deg` with it (the same where the sun is below the horizon).
    """

    azimuth_deg: NDArray[np.float64]
    elevation_deg: NDArray[np.float64]
    apparent_elevation_deg: NDArray[np.float64]


def sun_positions(
    moments: Sequence[datetime],
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
) -> SunPath:
    """The sun at each of `moments`, which carry their offsets from UTC.

    Raises
    ------
    PlanError
        If a moment has no offset, or if the place is not on the earth.
    """
    unix_s = np.array([unix_of(moment) for moment in moments], dtype=np.float64)
    return sun_path(unix_s, Site(latitude_deg, longitude_deg, altitude_m))


def sun_path(unix_s: NDArray[np.float64], site: Site) -> SunPath:
    """The sun at each of `unix_s` (seconds since 1970-01-01 00:00 UTC, any shape).

    Where there are more moments than stretches of five minutes between them, the algorithm runs
    for the ends of the stretches and unit vectors are interpolated by a cubic spline.
    """
    from pvlib import spa

    flat = unix_s.ravel()
    azimuth, elevation = _interpolated(flat, site) if _is_dense(flat) else _spa(flat, site)
    lift = spa.atmospheric_refraction_correction(
        _pressure_hpa(site.altitude_m), _TEMPERATURE_C, elevation, HORIZON_REFRACTION_DEG
    )
    shape = unix_s.shape
    return SunPath(
        azimuth.reshape(shape), elevation.reshape(shape), (elevation + lift).reshape(shape)
    )


def sine_of_sun_elevation(begin_s: float, end_s: float, site: Site) -> CubicSpline:
    """Sine of the geocentric elevation of the sun's centre, by which SPA defines rise and set.

    Without refraction and without parallax; a smooth curve of time, `begin_s` to `end_s`.
    """
    from scipy.interpolate import CubicSpline

    unix_s = _samples(begin_s, end_s)
    hour_angle, declination = _hour_angle_and_declination(unix_s, site.longitude_deg)
    latitude = np.radians(site.latitude_deg)
    sine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(
        hour_angle
    )
    return CubicSpline(unix_s, sine)


def solar_noons(begin_s: float, end_s: float, site: Site) -> list[float]:
    """The moments between `begin_s` and `end_s` at which the sun crosses the meridian."""
    from scipy.interpolate import CubicSpline

    unix_s = _samples(begin_s, end_s)
    hour_angle, _ = _hour_angle_and_declination(unix_s, site.longitude_deg)
    sine = CubicSpline(unix_s, np.sin(hour_angle))
    # The sine of the hour angle grows through zero at noon and falls through it at midnight.
    return [moment for moment, rising in crossings(sine, 0.0, begin_s, end_s) if rising]


def hour_angle_deg(unix_s: float, site: Site) -> float:
    """Hour angle of the sun, −180 to 180: negative before noon."""
    hour_angle, _ = _hour_angle_and_declination(np.array([unix_s]), site.longitude_deg)
    return float((np.degrees(hour_angle[0]) + 180.0) % 360.0 - 180.0)


def crossings(
    curve: CubicSpline, level: float, begin_s: float, end_s: float
) -> list[tuple[float, bool]]:
    """Where `curve` passes `level` between two moments: (moment, whether it rises), in order."""
    roots = np.unique(curve.solve(level, extrapolate=False))
    inside = roots[np.isfinite(roots) & (roots >= begin_s) & (roots <= end_s)]
    return [(float(root), bool(curve(root, 1) > 0.0)) for root in inside]


def unix_of(moment: datetime) -> float:
    """Seconds since 1970 of a moment that carries its offset from UTC, or a `PlanError`."""
    if moment.utcoffset() is None:
        raise PlanError(
            f"The time {moment.isoformat()} has no offset from UTC, so the sun cannot be placed.",
            "Write the time with its offset (+02:00), or give the place a time zone.",
        )
    if not _YEARS[0] <= moment.year <= _YEARS[1]:
        raise PlanError(
            f"The time {moment.isoformat()} lies outside the years {_YEARS[0]} to {_YEARS[1]}.",
            "Correct the year.",
        )
    return moment.timestamp()


def at_offset(unix_s: float, like: datetime) -> datetime:
    """The moment in the offset of `like`, to the full second."""
    offset = timezone(like.utcoffset() or timedelta(0))
    return datetime.fromtimestamp(round(unix_s), UTC).astimezone(offset)


def _samples(begin_s: float, end_s: float) -> NDArray[np.float64]:
    count = int(np.ceil((end_s - begin_s) / _SAMPLE_S)) + 1
    steps: NDArray[np.float64] = np.arange(-_SPARE, count + _SPARE, dtype=np.float64)
    return begin_s + _SAMPLE_S * steps


def _is_dense(unix_s: NDArray[np.float64]) -> bool:
    return unix_s.size > 0 and unix_s.size > float(np.ptp(unix_s)) / _SAMPLE_S + 2 * _SPARE + 2


def _interpolated(
    unix_s: NDArray[np.float64], site: Site
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    from scipy.interpolate import CubicSpline

    grid = _samples(float(unix_s.min()), float(unix_s.max()))
    azimuth, elevation = (np.radians(angle) for angle in _spa(grid, site))
    level = np.cos(elevation)
    east_north_up = np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])
    east, north, up = CubicSpline(grid, east_north_up, axis=1)(unix_s)
    return (
        np.degrees(np.arctan2(east, north)) % 360.0,
        np.degrees(np.arctan2(up, np.hypot(east, north))),
    )


def _spa(
    unix_s: NDArray[np.float64], site: Site
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Azimuth and geometric elevation in degrees, without interpolation."""
    from pvlib import spa

    if unix_s.size == 0:
        return unix_s.copy(), unix_s.copy()
    _, _, _, elevation, azimuth, _ = spa.solar_position_numpy(
        unix_s,
        site.latitude_deg,
        site.longitude_deg,
        site.altitude_m,
        _pressure_hpa(site.altitude_m),
        _TEMPERATURE_C,
        _delta_t_s(float(unix_s[0])),
        HORIZON_REFRACTION_DEG,
        1,
    )
    return azimuth, elevation


def _hour_angle_and_declination(
    unix_s: NDArray[np.float64], longitude_deg: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Both in radians, geocentric."""
    from pvlib import spa

    delta_t = _delta_t_s(float(unix_s[0]))
    sidereal, right_ascension, declination = spa.solar_position_numpy(
        unix_s, 0.0, 0.0, 0.0, 0.0, 0.0, delta_t, 0.0, 1, sst=True
    )
    return np.radians(sidereal + longitude_deg - right_ascension), np.radians(declination)


def _delta_t_s(unix_s: float) -> float:
    """Terrestrial minus universal time. 10 s of error move the sun by 0.0001°."""
    from pvlib import spa

    at = datetime.fromtimestamp(unix_s, UTC)
    return float(spa.calculate_deltat(at.year, at.month))


def _pressure_hpa(altitude_m: float) -> float:
    """Air pressure of the standard atmosphere (ISO 2533), below 11 km."""
    return float(1013.25 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)
