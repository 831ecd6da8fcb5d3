"""The moon against printed examples and against astral.

J. Meeus, "Astronomical Algorithms", 2nd edition, examples 48.a (lit share of the disc) and 49.a
(new moon): from memory. astral, after T. C. Van Flandern and K. F. Pulkkinen (1979), is the
second oracle.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import astral
import astral.moon
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from pvlib import spa

from belvedere.light import Site, day_events, moon_lit, moon_path, moonless

moments = st.datetimes(datetime(2000, 1, 1), datetime(2040, 12, 31), timezones=st.just(UTC))
latitudes = st.floats(-60.0, 60.0)
longitudes = st.floats(-180.0, 180.0)


def test_lit_share_of_the_worked_example() -> None:
    """k = 0.6786 on 1992-04-12 at 0h; 0.001: the minute between TD and UT is 0.0001."""
    assert moon_lit(datetime(1992, 4, 12, tzinfo=UTC)) == pytest.approx(0.6786, abs=0.001)


def test_new_moon_of_the_worked_example_and_full_moon_half_a_month_on() -> None:
    """New moon 1977-02-18 03:37 TD. The moon passes up to 5° from the sun, so the share at new
    moon is up to sin²(2.5°) = 0.002, and a full moon lacks as little; half a month is good to a
    day, which is (π / 29.5)² = 0.011 of the disc.
    """
    new = datetime(1977, 2, 18, 3, 37, tzinfo=UTC)
    assert moon_lit(new) < 0.0025
    assert moon_lit(new + timedelta(days=29.530589 / 2)) > 1.0 - 0.0025 - 0.0115


@given(moments, latitudes, longitudes)
def test_a_second_formula_puts_the_moon_where_we_do(
    moment: datetime, latitude: float, longitude: float
) -> None:
    """astral leaves out the parallax (up to 1.02° below the horizon's view) and keeps the large
    terms of the theory alone (0.1°): with the parallax put back, 0.35° leaves room for both.
    """
    moon = moon_path(np.array([moment.timestamp()]), Site(latitude, longitude))
    observer = astral.Observer(latitude, longitude, 0.0)
    theirs = astral.moon.elevation(observer, moment)
    # sin(parallax) by the radius of the disc: the moon's is 0.2725 of the earth's.
    parallax = np.degrees(np.radians(moon.radius_deg[0]) / 0.2725) * np.cos(np.radians(theirs))
    assert moon.elevation_deg[0] == pytest.approx(theirs - parallax, abs=0.35)


@given(st.dates(date(2000, 1, 1), date(2040, 12, 31)), latitudes, longitudes)
def test_at_rise_and_set_the_upper_limb_touches_the_horizon(
    day: date, latitude: float, longitude: float
) -> None:
    """Limb at −34′ of refraction, by PyEphem's own search for rising and setting."""
    import ephem

    site = Site(latitude, longitude)
    start = datetime(day.year, day.month, day.day, tzinfo=UTC)
    observer = ephem.Observer()
    observer.lat, observer.lon = np.radians(latitude), np.radians(longitude)
    observer.pressure, observer.horizon = 0.0, np.radians(-34.0 / 60.0)
    observer.date = start
    expected = []
    for search, name in (
        (observer.next_rising, "moonrise"),
        (observer.next_setting, "moonset"),
    ):
        expected.append((name, search(ephem.Moon()).datetime().replace(tzinfo=UTC)))
    found = {}
    for event in reversed(day_events(start, site)):
        found[event.name] = event.at
    for name, at in expected:
        # 2 s: our second is rounded; at 60° the limb moves a second of arc in 0.13 s.
        assert abs((found[name] - at).total_seconds()) < 2.0, name


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of each run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(int), [0]])))
    return [(int(first), int(end) - 1) for first, end in edges.reshape(-1, 2)]


@given(moments, latitudes, longitudes)
def test_moonless_hours_are_the_longest_dark_ones_of_the_night(
    moment: datetime, latitude: float, longitude: float
) -> None:
    """Looked at every five minutes, by pvlib's SPA and by `moon_path`."""
    site = Site(latitude, longitude)
    unix_s = moment.timestamp() + np.arange(-24 * 3600.0, 48 * 3600.0, 300.0)
    sun = spa.solar_position_numpy(unix_s, latitude, longitude, 0, 1013, 12, 69.0, 0.5667, 1)[3]
    moon = moon_path(unix_s, site)
    free = (sun < -18.0) & (moon.elevation_deg + moon.radius_deg + 34.0 / 60.0 < 0.0)
    # The night of the start: the first with the sun down that ends after it.
    nights = [run for run in _runs(sun < -0.8333) if unix_s[run[1]] >= moment.timestamp()]
    first, last = nights[0]
    free[:first] = free[last + 1 :] = False
    longest = max((unix_s[end] - unix_s[begin] for begin, end in _runs(free)), default=None)
    found = moonless(moment, site)
    if found is None:
        assert longest is None
        return
    begin_s, end_s = (at.timestamp() for at in found)
    inside = (unix_s > begin_s + 1.0) & (unix_s < end_s - 1.0)
    assert free[inside].all()
    # Up to one sample of five minutes is lost at either end.
    assert (longest or 0.0) - 1.0 <= end_s - begin_s <= (longest or 0.0) + 601.0


def test_a_full_moon_leaves_no_moonless_hours_and_a_new_moon_all_of_the_night() -> None:
    """Full moon 2000-01-21 and new moon 2000-01-06, both from memory (eclipse tables; Meeus)."""
    site = Site(45.0, 0.0)
    assert moonless(datetime(2000, 1, 20, 22, tzinfo=UTC), site) is None
    night = moonless(datetime(2000, 1, 6, 22, tzinfo=UTC), site)
    assert night is not None
    events = day_events(datetime(2000, 1, 6, 22, tzinfo=UTC), site)
    dusk = [e.at for e in events if e.name == "astronomical dusk"][-1]
    dawn = [e.at for e in events if e.name == "astronomical dawn"][-1]
    assert night == (dusk, dawn)
