"""Light over a rehearsed shoot, against the planner's sun, printed lux values and CIE daylight.

The planner's sun is the NREL algorithm as pvlib computes it; ephem is a second, independent one
(B. Rhodes, PyEphem: the VSOP87 theory). Lux at sunset (400) and at the end of civil twilight
(3.4): commonly printed, from memory. Colour of daylight: colour-science.
"""

from __future__ import annotations

import warnings
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import ephem
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.foundation import PlanError
from belvedere.light import Site, brightness_drift_ev, sun_positions
from belvedere.rehearse.daylight import (
    CloudShadow,
    Daylight,
    daylight_rgb,
    illumination,
    passing_shadow,
    sky_temperature_k,
    sun_elevations_deg,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it warns that matplotlib is not there
    import colour

CLEAR = Daylight()
EVENING = Daylight(start=datetime(2031, 5, 17, 18, 30, tzinfo=UTC))


@given(
    st.floats(-60.0, 60.0),
    st.integers(0, 24 * 365),
    st.floats(0.0, 4.0 * 3600.0),
)
def test_the_sun_drifts_as_the_planner_says(latitude: float, hour: int, at_s: float) -> None:
    start = datetime(2031, 1, 1, tzinfo=UTC) + timedelta(hours=hour)
    light = Daylight(Site(latitude, 8.0), start)
    path = sun_positions([start, start + timedelta(seconds=at_s)], latitude, 8.0)
    expected = brightness_drift_ev(float(path.elevation_deg[0]), float(path.elevation_deg[1]))
    ev, _ = illumination(light, at_s)
    assert float(ev) == pytest.approx(expected, abs=1e-3)


def test_the_sun_stands_where_another_ephemeris_has_it() -> None:
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = "54", "8", 0.0
    for at_s in (0.0, 1800.0, 7200.0):
        observer.date = (EVENING.start + timedelta(seconds=at_s)).replace(tzinfo=None)
        sun = ephem.Sun(observer)
        ours = float(sun_elevations_deg(EVENING, np.array([at_s]))[0])
        # Ephem's parallax and nutation differ by a few thousandths of a degree at most.
        assert ours == pytest.approx(np.degrees(float(sun.alt)), abs=0.01)


def test_dusk_falls_as_the_printed_lux_values_do() -> None:
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = "54", "8", 0.0
    observer.date = EVENING.start.replace(tzinfo=None)
    observer.horizon = "-0:50"
    sets = observer.next_setting(ephem.Sun()).datetime().replace(tzinfo=UTC)
    observer.horizon = "-6"
    ends = observer.next_setting(ephem.Sun(), use_center=True).datetime().replace(tzinfo=UTC)
    ev, _ = illumination(replace(EVENING, start=sets), (ends - sets).total_seconds())
    assert float(ev) == pytest.approx(np.log2(3.4 / 400.0), abs=0.3)


def test_dusk_warms_and_then_turns_blue() -> None:
    # Common practice, no source: golden light with a low sun, blue hour from −4° to −8°.
    at_s = np.arange(0.0, 7200.0, 60.0)
    sun_deg = sun_elevations_deg(EVENING, at_s)
    _, gains = illumination(EVENING, at_s)
    warmth = gains[:, 0] / gains[:, 2]
    assert 0.0 <= sun_deg[np.argmax(warmth)] <= 3.0
    assert np.all(warmth[sun_deg < -4.0] < 0.6)
    ev, _ = illumination(EVENING, at_s)
    assert np.all(np.diff(ev) < 0.0)


@pytest.mark.parametrize("temperature_k", [4000.0, 5003.0, 6504.0, 7000.0, 9000.0, 12_000.0])
def test_the_colour_of_daylight_is_that_of_the_standard(temperature_k: float) -> None:
    # Oracle: colour-science, CIE daylight to linear sRGB without adaptation.
    xy = colour.temperature.CCT_to_xy_CIE_D(temperature_k)
    rgb = colour.XYZ_to_RGB(colour.xy_to_XYZ(xy), "sRGB", chromatic_adaptation_transform=None)
    # Matrices printed with four decimals.
    assert daylight_rgb(temperature_k) == pytest.approx(rgb / rgb[1], abs=2e-3)


def test_warmer_and_bluer_than_noon() -> None:
    # D50 and D65 are the trade's "horizon" and "noon" light (ISO 3664; CIE 15).
    assert sky_temperature_k(50.0) == pytest.approx(5600.0, abs=300.0)
    assert sky_temperature_k(1.0) < 4500.0
    assert sky_temperature_k(-7.0) > 9000.0


@given(st.integers(0, 1000), st.floats(0.0, 6.0 * 3600.0))
def test_clouds_stay_within_what_was_asked_and_are_slow(seed: int, at_s: float) -> None:
    cloudy = Daylight(clouds_ev=0.3, seed=seed)
    pair = np.array([at_s, at_s + 10.0])
    drift = illumination(cloudy, pair)[0] - illumination(CLEAR, pair)[0]
    assert np.all(np.abs(drift) <= 0.3 + 1e-9)
    # The steepest of waves of 240 s: 0.3 / 2 · 2π / 240 s over 10 s.
    assert abs(drift[1] - drift[0]) <= 0.15 * 2.0 * np.pi / 240.0 * 10.0 + 1e-9


def test_clouds_use_the_room_they_have() -> None:
    at_s = np.arange(0.0, 3600.0, 30.0)
    reached = [
        np.ptp(illumination(Daylight(clouds_ev=0.3, seed=seed), at_s)[0]) for seed in range(20)
    ]
    # ±0.3 EV is 0.6 from end to end; a typical hour uses a third of it or more.
    assert 0.2 < np.median(reached) < 0.6


def test_the_start_is_the_measure_of_all() -> None:
    for seed in range(5):
        ev, gains = illumination(Daylight(clouds_ev=0.3, seed=seed), 0.0, 12.0, 3.0)
        assert float(ev) == pytest.approx(0.0, abs=1e-9)
        assert gains == pytest.approx(np.ones(3))


def test_a_shadow_crosses_the_picture_in_its_time() -> None:
    shadow = CloudShadow(100.0, 90.0, -40.0, 40.0, 30.0, 6.0, -1.25)
    light = Daylight(shadows=(shadow,))
    at_s = np.arange(0.0, 300.0, 0.5)
    clear, _ = illumination(CLEAR, at_s)
    for bearing_deg in (-39.0, 0.0, 39.0):
        dark = illumination(light, at_s, bearing_deg, -5.0)[0] - clear
        assert dark.min() == pytest.approx(-1.25, abs=1e-6)
        under = at_s[dark < -0.625]
        # The way is the picture, the shadow's width and one edge: 116° in 90 s; 30° take 23.3 s.
        assert np.ptp(under) == pytest.approx(30.0 / 116.0 * 90.0, abs=1.1)
        assert np.all(dark[(at_s < 100.0) | (at_s > 190.0)] == 0.0)
        # Soft: the edge takes 6° / 116° · 90 s = 4.7 s, so no half second takes more than 1.5
        # (a smooth step's steepest) times its even share.
        assert np.abs(np.diff(dark)).max() <= 1.5 * 1.25 * 0.5 / (6.0 / 116.0 * 90.0) + 1e-6


def test_a_shadow_lies_on_the_land_and_not_on_the_sky() -> None:
    light = Daylight(shadows=(CloudShadow(100.0, 90.0, -40.0, 40.0, 30.0, 6.0),))
    ev, gains = illumination(light, 145.0, 0.0, np.array([-10.0, 0.0, 6.0, 12.0, 30.0]))
    clear = float(illumination(CLEAR, 145.0)[0])
    assert ev[:3] - clear == pytest.approx([-1.25] * 3)
    assert ev[3:] - clear == pytest.approx([0.0] * 2)
    assert gains[0, 2] > 1.02  # what is left is the sky's light, and bluer
    assert gains[4] == pytest.approx(illumination(CLEAR, 145.0)[1])


@given(st.integers(0, 500), st.floats(10.0, 350.0), st.floats(150.0, 4000.0))
def test_passing_shadows_are_of_the_size_they_should_be(
    seed: int, span_deg: float, sweep_s: float
) -> None:
    shadow = passing_shadow(seed, -span_deg / 2.0, span_deg / 2.0, sweep_s)
    assert 60.0 <= shadow.lasts_s <= 120.0
    assert -1.5 <= shadow.depth_ev <= -1.0
    assert shadow.begins_s >= 0.0
    assert shadow.begins_s + shadow.lasts_s <= sweep_s
    at_s = shadow.begins_s + np.linspace(0.0, 1.0, 401) * shadow.lasts_s
    dark = illumination(Daylight(shadows=(shadow,)), at_s)[0] - illumination(CLEAR, at_s)[0]
    assert dark.min() == pytest.approx(shadow.depth_ev, abs=1e-9)


def test_the_shape_is_that_of_the_arguments() -> None:
    ev, gains = illumination(CLEAR, np.zeros((3, 1)), np.zeros(4))
    assert (ev.shape, gains.shape) == ((3, 4), (3, 4, 3))


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(PlanError, match="no offset from UTC"):
        Daylight(start=datetime(2031, 5, 17, 10, 20))
    with pytest.raises(PlanError, match="cannot be"):
        CloudShadow(0.0, 0.0, -1.0, 1.0, 1.0, 1.0)
    with pytest.raises(PlanError, match="no edge"):
        CloudShadow(0.0, 60.0, -1.0, 1.0, 1.0, 0.1)
