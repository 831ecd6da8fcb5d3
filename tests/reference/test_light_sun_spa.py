"""The sun against the worked example of its algorithm, almanac minutes and a second formula.

SPA: I. Reda, A. Andreas, NREL/TP-560-34302, revised 2008, table A5.1; the same values stand in
pvlib's tests/test_spa.py. Rise and set at longitude 0: the same report, section A.2, as pvlib's
tests print them (truncated to the second or to tenths). Minutes of the U.S. Naval Observatory:
pvlib's tests/test_solarposition.py.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import astral
import astral.sun
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import spa

from belvedere.foundation import PlanError
from belvedere.light import Site, day_events, sun_path, sun_positions

WEST_7 = timezone(timedelta(hours=-7))
EXAMPLE = datetime(2003, 10, 17, 12, 30, 30, tzinfo=WEST_7)
EXAMPLE_SITE = Site(39.742476, -105.1786, 1830.14)

moments = st.datetimes(datetime(1950, 1, 1), datetime(2050, 12, 31), timezones=st.just(UTC))
latitudes = st.floats(-89.5, 89.5)
longitudes = st.floats(-180.0, 180.0)


def test_the_worked_example_to_a_thousandth_of_a_degree() -> None:
    """The report has 820 mbar, 11 °C and ΔT 67 s; ours differ by less than the tolerance."""
    sun = sun_positions([EXAMPLE], 39.742476, -105.1786, 1830.14)
    azimuth, elevation = float(sun.azimuth_deg[0]), float(sun.elevation_deg[0])
    apparent = float(sun.apparent_elevation_deg[0])
    assert azimuth == pytest.approx(194.340241, abs=0.001)
    assert azimuth - 180.0 == pytest.approx(14.340241, abs=0.001)  # astronomers', from south
    assert elevation == pytest.approx(39.872046, abs=0.001)
    assert apparent - elevation == pytest.approx(0.016332, abs=0.001)
    assert apparent == pytest.approx(39.888378, abs=0.001)
    assert 90.0 - apparent == pytest.approx(50.111622, abs=0.001)


def test_interpolated_between_many_moments_it_is_the_same_example() -> None:
    seconds = EXAMPLE.timestamp() + np.linspace(-7200.0, 7200.0, 100_001)
    sun = sun_path(seconds, EXAMPLE_SITE)
    assert sun.azimuth_deg[50_000] == pytest.approx(194.340241, abs=0.001)
    assert 90.0 - sun.apparent_elevation_deg[50_000] == pytest.approx(50.111622, abs=0.001)


def _event(start: datetime, site: Site, name: str) -> datetime:
    """The event of the date of `start`."""
    return next(
        event.at
        for event in day_events(start, site)
        if event.name == name and event.at.date() == start.date()
    )


def _seconds_off(found: datetime, *clock: float) -> float:
    hour, minute, second = clock
    midnight = found.replace(hour=0, minute=0, second=0)
    return abs((found - midnight).total_seconds() - (hour * 3600 + minute * 60 + second))


def test_noon_rise_and_set_of_the_worked_example() -> None:
    """To the second, as printed: ours are rounded to the second as well.

    The printed sunset is the one of the example's date in UT, 00:20:19 on the 17th: by local time
    that is the evening of the 16th. The sun of the 17th sets 87 s earlier.
    """
    for days, name, clock in (
        (0, "solar noon", (11, 46, 5)),
        (0, "sunrise", (6, 12, 43)),
        (1, "sunset", (17, 20, 19)),
    ):
        found = _event(EXAMPLE - timedelta(days=days), EXAMPLE_SITE, name)
        assert _seconds_off(found, *clock) <= 1.0, name


#: Date, latitude, sunrise and sunset (UT) at longitude 0.
RISE_AND_SET = [
    ((1994, 1, 2), 35.0, (7, 8, 12.8), (16, 59, 55.9)),
    ((1996, 7, 5), -35.0, (7, 8, 15.0), (17, 1, 4.0)),
    ((2004, 12, 4), -35.0, (4, 38, 57.0), (19, 2, 2.5)),
]


@pytest.mark.parametrize(("date", "latitude", "rise", "sets"), RISE_AND_SET)
def test_rise_and_set_at_longitude_0(
    date: tuple[int, int, int],
    latitude: float,
    rise: tuple[float, float, float],
    sets: tuple[float, float, float],
) -> None:
    """1.5 s: a printed value lost up to a second, ours is rounded by up to half of one."""
    start = datetime(*date, 12, tzinfo=UTC)
    site = Site(latitude, 0.0)
    assert _seconds_off(_event(start, site, "sunrise"), *rise) <= 1.5
    assert _seconds_off(_event(start, site, "sunset"), *sets) <= 1.5


EAST_8 = timezone(timedelta(hours=8))
#: Latitude, longitude, offset, month and day of 2015, sunrise, sunset.
MINUTES = [
    (39.0, -105.0, WEST_7, (1, 2), (7, 19), (16, 49)),
    (39.0, -105.0, WEST_7, (4, 2), (5, 43), (18, 24)),
    (39.0, -105.0, WEST_7, (8, 2), (5, 1), (19, 10)),
    (39.0, -105.0, WEST_7, (12, 2), (7, 1), (16, 38)),
    (39.917, 116.383, EAST_8, (1, 2), (7, 36), (17, 0)),
    (39.917, 116.383, EAST_8, (4, 2), (5, 58), (18, 39)),
    (39.917, 116.383, EAST_8, (8, 2), (5, 13), (19, 28)),
    (39.917, 116.383, EAST_8, (12, 2), (7, 17), (16, 50)),
]


@pytest.mark.parametrize(("latitude", "longitude", "offset", "day", "rise", "sets"), MINUTES)
def test_minutes_of_the_naval_observatory(
    latitude: float,
    longitude: float,
    offset: timezone,
    day: tuple[int, int],
    rise: tuple[int, int],
    sets: tuple[int, int],
) -> None:
    """120 s: full minutes, and the published ones stray from SPA by up to 91 s."""
    start = datetime(2015, *day, 12, tzinfo=offset)
    site = Site(latitude, longitude)
    assert _seconds_off(_event(start, site, "sunrise"), *rise, 0) <= 120.0
    assert _seconds_off(_event(start, site, "sunset"), *sets, 0) <= 120.0


@given(moments, latitudes, longitudes, st.integers(200, 3000), st.floats(1.0, 20.0))
def test_interpolation_loses_less_than_the_algorithm_claims(
    begin: datetime, latitude: float, longitude: float, count: int, interval_s: float
) -> None:
    """Against pvlib's SPA at the very moments; the algorithm itself claims ±0.0003°."""
    seconds = begin.timestamp() + interval_s * np.arange(count)
    sun = sun_path(seconds, Site(latitude, longitude))
    some = slice(None, None, max(1, count // 20))
    zenith, true_zenith, _, _, azimuth, _ = spa.solar_position_numpy(
        seconds[some],
        latitude,
        longitude,
        0.0,
        1013.25,
        12.0,
        spa.calculate_deltat(begin.year, begin.month),
        0.5667,
        1,
    )
    assert sun.elevation_deg[some] == pytest.approx(90.0 - true_zenith, abs=1e-5)
    across = np.cos(np.radians(90.0 - true_zenith))
    turned = (sun.azimuth_deg[some] - azimuth + 180.0) % 360.0 - 180.0
    assert np.abs(turned * across).max() < 1e-5
    # Refraction sets in at once at the horizon, where one of the two may be a hair lower.
    risen = np.abs(90.0 - true_zenith + 0.8333) > 1e-3
    assert sun.apparent_elevation_deg[some][risen] == pytest.approx(90.0 - zenith[risen], abs=1e-4)


@given(moments, latitudes, longitudes)
def test_a_second_formula_agrees(moment: datetime, latitude: float, longitude: float) -> None:
    """Oracle: astral, by J. Meeus' shorter formulae (good to 0.01°; 0.1° leaves room)."""
    sun = sun_positions([moment], latitude, longitude)
    observer = astral.Observer(latitude, longitude, 0.0)
    elevation = astral.sun.elevation(observer, moment, with_refraction=False)
    azimuth = astral.sun.azimuth(observer, moment)
    assert sun.elevation_deg[0] == pytest.approx(elevation, abs=0.1)
    turned = (sun.azimuth_deg[0] - azimuth + 180.0) % 360.0 - 180.0
    assert abs(turned) * np.cos(np.radians(elevation)) < 0.1


def test_an_hour_without_an_offset_is_refused() -> None:
    with pytest.raises(PlanError, match="has no offset from UTC"):
        sun_positions([datetime(2026, 6, 21, 12)], 50.0, 0.0)


@pytest.mark.parametrize(
    ("latitude", "longitude", "altitude", "name"),
    [(90.5, 0.0, 0.0, "latitude"), (0.0, 400.0, 0.0, "longitude"), (0.0, 0.0, 2e4, "altitude")],
)
def test_a_place_off_the_earth_is_refused(
    latitude: float, longitude: float, altitude: float, name: str
) -> None:
    with pytest.raises(PlanError, match=f"The {name} of the place is"):
        Site(latitude, longitude, altitude)
