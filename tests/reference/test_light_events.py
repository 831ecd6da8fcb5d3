"""Twilights, golden and blue hour against their definitions and against astral.

Civil, nautical, astronomical twilight: the sun's centre 6°, 12°, 18° below the horizon, without
refraction (the definition of the almanacs). Golden hour from −4° to +6° and blue hour from −6° to
−4°: common practice, no source; astral has the same edges.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import astral
import astral.sun
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import spa

from belvedere.light import LightEvent, Site, day_events, phase

DATES = st.dates(date(2000, 1, 1), date(2040, 12, 31))
#: Where the sun rises and sets steeply enough for every twilight of every day.
TEMPERATE = st.floats(-45.0, 45.0)
LONGITUDES = st.floats(-180.0, 180.0)

LEVELS_DEG = {
    "astronomical": -18.0,
    "nautical": -12.0,
    "civil": -6.0,
    "sunrise": -0.8333,
    "sunset": -0.8333,
}


def _noon(day: date, longitude_deg: float) -> datetime:
    """About noon of `day` in the whole-hour offset of the longitude."""
    offset = timezone(timedelta(hours=round(longitude_deg / 15.0)))
    return datetime(day.year, day.month, day.day, 12, tzinfo=offset)


def _geometric_deg(event: LightEvent, latitude_deg: float, longitude_deg: float) -> float:
    unix_s = np.array([event.at.timestamp()])
    sun = spa.solar_position(unix_s, latitude_deg, longitude_deg, 0, 1013.25, 12, 69.0, 0.5667)
    return float(sun[3][0])


@given(DATES, TEMPERATE, LONGITUDES)
def test_each_event_has_the_sun_where_its_definition_puts_it(
    day: date, latitude: float, longitude: float
) -> None:
    """0.006°: half a second of rounding (0.002°), and the sun's parallax (0.0024°) that the
    elevation seen from the place has and the definition does not.
    """
    events = day_events(_noon(day, longitude), Site(latitude, longitude))
    checked = set()
    for event in events:
        for word, level in LEVELS_DEG.items():
            if event.name.startswith(word):
                elevation = _geometric_deg(event, latitude, longitude)
                assert elevation == pytest.approx(level, abs=0.006), event
                checked.add(word)
    assert checked == set(LEVELS_DEG)


@given(DATES, TEMPERATE, LONGITUDES)
def test_golden_and_blue_hour_lie_between_their_edges(
    day: date, latitude: float, longitude: float
) -> None:
    events = day_events(_noon(day, longitude), Site(latitude, longitude))
    seen = []
    for event in events:
        if event.name.startswith(("golden", "blue")):
            elevation = _geometric_deg(event, latitude, longitude)
            seen.append((event.name, round(elevation)))
            assert elevation == pytest.approx(round(elevation), abs=0.006)
    morning = [
        ("blue hour begins", -6),
        ("blue hour ends", -4),
        ("golden hour begins", -4),
        ("golden hour ends", 6),
    ]
    evening = [
        ("golden hour begins", 6),
        ("golden hour ends", -4),
        ("blue hour begins", -4),
        ("blue hour ends", -6),
    ]
    assert seen[:8] == morning + evening


@given(DATES, TEMPERATE, LONGITUDES)
def test_astral_sees_the_same_times(day: date, latitude: float, longitude: float) -> None:
    """90 s: astral's formula is good to 0.01° (at most 5 s here), and it takes the declination
    of one moment for the event's, which costs it the rest.
    """
    noon = _noon(day, longitude)
    observer = astral.Observer(latitude, longitude, 0.0)
    events = day_events(noon, Site(latitude, longitude))
    found = {event.name: event.at for event in reversed(events)}  # the first of each name
    zone = noon.tzinfo
    for depression, names in (
        (6.0, ("civil dawn", "civil dusk")),
        (12.0, ("nautical dawn", "nautical dusk")),
        (18.0, ("astronomical dawn", "astronomical dusk")),
    ):
        dawn = astral.sun.dawn(observer, day, depression, tzinfo=zone)
        dusk = astral.sun.dusk(observer, day, depression, tzinfo=zone)
        for name, expected in zip(names, (dawn, dusk), strict=True):
            assert abs((found[name] - expected).total_seconds()) < 90.0, name


#: Name of the phase with the sun there, by the same definitions.
PHASES = [
    (60.0, "day"),
    (6.1, "day"),
    (5.9, "golden hour"),
    (-3.9, "golden hour"),
    (-4.1, "blue hour"),
    (-5.9, "blue hour"),
    (-6.1, "nautical twilight"),
    (-11.9, "nautical twilight"),
    (-12.1, "astronomical twilight"),
    (-17.9, "astronomical twilight"),
    (-18.1, "night"),
    (-70.0, "night"),
]


@pytest.mark.parametrize(("elevation", "name"), PHASES)
def test_the_phase_has_its_name(elevation: float, name: str) -> None:
    assert phase(elevation) == name


def test_under_the_midnight_sun_nothing_rises_and_noon_stays() -> None:
    """At 78° north the sun does not set from mid-April to late August: any almanac."""
    names = [event.name for event in day_events(datetime(2026, 6, 21, 12, tzinfo=UTC), Site(78, 0))]
    assert not {"sunrise", "sunset", "civil dusk", "golden hour begins"} & set(names)
    assert "solar noon" in names


def test_in_the_polar_night_twilight_comes_without_a_sunrise() -> None:
    """At 78° north at the winter solstice the noon sun is 90 − 78 − 23.4 = −11.4°."""
    names = [
        event.name for event in day_events(datetime(2026, 12, 21, 12, tzinfo=UTC), Site(78, 0))
    ]
    assert "sunrise" not in names
    assert "civil dawn" not in names
    assert {"nautical dawn", "nautical dusk", "solar noon"} <= set(names)


@given(DATES, st.floats(-90.0, 90.0), LONGITUDES)
def test_no_place_and_no_day_is_too_odd(day: date, latitude: float, longitude: float) -> None:
    noon = _noon(day, longitude)
    events = day_events(noon, Site(latitude, longitude))
    assert [event.at for event in events] == sorted(event.at for event in events)
    assert "solar noon" in {event.name for event in events}
    midnight = noon.replace(hour=0)
    for event in events:
        assert midnight <= event.at <= midnight + timedelta(hours=36)
        assert event.at.utcoffset() == noon.utcoffset()


@given(DATES, st.floats(-60.0, 60.0), LONGITUDES)
def test_noon_comes_once_a_day_with_the_sun_on_the_meridian(
    day: date, latitude: float, longitude: float
) -> None:
    """Within 30 minutes of zone and 17 of the equation of time; azimuth 0° or 180° by SPA."""
    noon = _noon(day, longitude)
    found = [
        event.at
        for event in day_events(noon, Site(latitude, longitude))
        if event.name == "solar noon" and event.at.date() == day
    ]
    assert len(found) == 1
    assert abs(found[0] - noon) < timedelta(minutes=48)
    around = found[0].timestamp() + np.array([-60.0, 60.0])
    sun = spa.solar_position_numpy(around, latitude, longitude, 0, 1013, 12, 69.0, 0.5667, 1)
    east = np.cos(np.radians(sun[3])) * np.sin(np.radians(sun[4]))
    assert east[0] > 0.0 > east[1]
