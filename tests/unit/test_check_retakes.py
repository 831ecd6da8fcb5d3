"""The retake list: the way, the settings to repeat, the light."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import ephem
import numpy as np
import pytest

from belvedere.check import CellReport, Finding, RetakeStop, RetakeTour
from belvedere.check.retakes import common_settings, plan_retakes
from belvedere.shoot import Frame, Plan, Settings, make_plan, parse_shoot

SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
{start}
[camera]
sensor_width_mm = 7.44
image_width_px = 800
image_height_px = 600
[lens]
focal_length_mm = 34.0
[grid]
{edges}
top_deg = 16.0
bottom_deg = -10.0
overlap = 0.30
rows = 4
columns = {columns}
[sweep]
start = "{corner}"
interval_s = 3.0
[head]
pan_speed_deg_s = {pan}
tilt_speed_deg_s = 10.0
settle_s = 1.5
{place}
"""
EDGES = "left_deg = -30.0\nright_deg = 30.0"
PLACE = "[place]\nlatitude_deg = 50.1\nlongitude_deg = -5.5\naltitude_m = 0.0"
CAMERA = Settings(1 / 400, 5.6, 100.0, 34.0, white_balance="manual", flash_fired=False)


def plan_of(**changes: Any) -> Plan:
    values = {"start": "", "edges": EDGES, "columns": 6, "corner": "top-left", "pan": 20.0} | {
        "place": ""
    }
    return make_plan(parse_shoot(SHOOT.format(**(values | changes))))


def retakes(
    plan: Plan,
    bad: Iterable[tuple[int, int]],
    settings: Mapping[tuple[int, int], Settings] | None = None,
    began: datetime | None = datetime(2031, 5, 17, 10, 20),
) -> tuple[tuple[RetakeStop, ...], RetakeTour | None]:
    """The list for cells of a sweep that are soft; all others are good."""
    bad = set(bad)
    reports, frames = [], []
    for number, cell in enumerate(plan.cells):
        place, file = (cell.row, cell.column), f"PIC_{number:04d}.JPG"
        at = None if began is None else began + timedelta(seconds=3 * number)
        own = (settings or {}).get(place, CAMERA)
        frames.append(Frame(file, "", 1, 800, 600, taken_at=at, settings=own))
        state = "soft" if place in bad else "good"
        says = (Finding("soft", "not sharp", file),) if place in bad else ()
        reports.append(CellReport(*place, state, (file,), 1.0, says))
    placing = SimpleNamespace(frames=tuple(frames), cell=np.arange(len(frames)))
    return plan_retakes(plan, reports, placing)  # type: ignore[arg-type]


def test_nothing_to_shoot_again() -> None:
    assert retakes(plan_of(), ()) == ((), None)


def test_the_way_and_its_time_add_up_by_hand() -> None:
    """A head that pans 20° and tilts 10° a second, both at once, and starts and stops in 0.2 s."""
    plan = plan_of()
    stops, tour = retakes(plan, {(1, 4), (3, 2)})
    assert tour is not None
    assert [(s.row, s.column) for s in stops] == [(1, 4), (3, 2)] or [
        (s.row, s.column) for s in stops
    ] == [(3, 2), (1, 4)]
    assert (tour.start_row, tour.start_column) == (1, 1)
    step, down = plan.column_steps_deg[0], plan.row_step_deg
    one = max(3 * step / 20, 0.0) + max(2 * step / 20, 2 * down / 10)
    other = max(step / 20, 2 * down / 10) + max(2 * step / 20, 2 * down / 10)
    assert tour.moves_s == pytest.approx(min(one, other) + 2 * 0.2, abs=0.06)
    # Settling 1.5 s for each, and the camera's time on top.
    assert tour.seconds > tour.moves_s + 2 * 1.5


def test_steps_from_before_lead_from_stop_to_stop() -> None:
    bad = [(1, 6), (2, 2), (4, 1), (4, 5), (3, 3), (2, 6), (1, 2)]
    plan = plan_of(corner="bottom-right")
    stops, tour = retakes(plan, bad)
    assert tour is not None
    row, column = tour.start_row, tour.start_column
    assert (row, column) == (4, 6)
    bearing, elevation = plan.cell(row, column).bearing_deg, plan.cell(row, column).elevation_deg
    for stop in stops:
        assert stop.columns_from_before is not None
        row, column = row + stop.rows_from_before, column + stop.columns_from_before
        bearing, elevation = bearing + stop.pan_deg, elevation + stop.tilt_deg
        assert (row, column) == (stop.row, stop.column)
        assert (stop.columns_from_start, stop.rows_from_start) == (6 - column, 4 - row)
        assert (bearing, elevation) == pytest.approx((stop.bearing_deg, stop.elevation_deg))
    assert sorted((s.row, s.column) for s in stops) == sorted(bad)


def test_a_full_turn_goes_the_shorter_way_round() -> None:
    plan = plan_of(edges="full_turn = true", columns=54)
    (stop,), _ = retakes(plan, {(1, plan.columns_per_row[0])})
    assert stop.columns_from_before == -1
    assert stop.pan_deg == pytest.approx(-plan.column_steps_deg[0], abs=1e-6)


def test_many_stops_are_sorted_quickly_and_each_is_there_once() -> None:
    plan = plan_of(edges="full_turn = true", columns=54)
    everyone = {(cell.row, cell.column) for cell in plan.cells}
    stops, tour = retakes(plan, everyone)
    assert tour is not None
    assert {(s.row, s.column) for s in stops} == everyone
    assert len(stops) == len(everyone) == 216


def test_settings_are_those_of_the_good_frames_around() -> None:
    """The upper rows focus farther and so were taken with another time; the faulty frame's own
    settings, the wrong ones maybe, do not count."""
    plan = plan_of()
    upper = replace(CAMERA, exposure_time_s=1 / 800)
    odd = replace(CAMERA, iso=1600.0)
    by_cell = {(row, column): upper for row in (1, 2) for column in range(1, 7)} | {(4, 3): odd}
    stops, tour = retakes(plan, {(1, 3), (4, 3), (4, 5)}, by_cell)
    assert tour is not None
    found = {(s.row, s.column): s.settings for s in stops}
    assert found == {(1, 3): upper, (4, 3): CAMERA, (4, 5): CAMERA}
    assert tour.settings == CAMERA


def test_where_all_differ_the_middle_one_counts() -> None:
    taken = [Settings(exposure_time_s=t) for t in (0.01, 0.04, 0.02, 0.5, 0.005)]
    assert common_settings(taken).exposure_time_s == 0.02
    assert common_settings([Settings(), CAMERA]) == CAMERA


def sunset_utc(day: str) -> datetime:
    """By ephem (VSOP87 theory): upper limb at the horizon, refraction 34′ as almanacs take it."""
    here = ephem.Observer()
    here.lat, here.lon, here.pressure, here.horizon = "50.1", "-5.5", 0, "-0:34"
    here.date = f"{day} 12:00"
    return here.next_setting(ephem.Sun()).datetime()


def test_light_of_an_ordinary_afternoon() -> None:
    plan = plan_of(start="start = 2031-05-17T16:20:00+00:00", place=PLACE)
    _, tour = retakes(plan, {(2, 2)}, began=datetime(2031, 5, 17, 16, 20))
    assert tour is not None
    assert tour.light is not None
    assert tour.light.allows
    assert tour.light.sunset is not None
    off = tour.light.sunset.replace(tzinfo=None) - sunset_utc("2031/5/17")
    assert abs(off.total_seconds()) < 60.0
    # Five minutes after the last frame, which is 23 intervals of 3 s after the first.
    assert tour.light.begin.replace(tzinfo=None) == datetime(2031, 5, 17, 16, 26, 9)
    assert abs(tour.light.change_ev) < 0.1


def test_too_late_after_sunset_and_in_fast_dusk() -> None:
    set_at = sunset_utc("2031/5/17")
    plan = plan_of(start="start = 2031-05-17T19:00:00+00:00", place=PLACE)
    _, tour = retakes(plan, {(2, 2)}, began=set_at - timedelta(minutes=4))
    assert tour is not None
    assert tour.light is not None
    assert not tour.light.allows
    assert "too late today" in tour.light.says
    # Half an hour after sunset, daylight falls by more than a stop in five minutes (nautical
    # twilight: from some 3 lux to 0.01 lux in about 40 minutes, common tables of illuminance).
    _, tour = retakes(plan, {(1, 1)}, began=set_at + timedelta(minutes=45))
    assert tour is not None
    assert tour.light is not None
    assert tour.light.change_ev < -1.0
    assert not tour.light.allows
    assert "darker" in tour.light.says


@pytest.mark.parametrize("what", ["no place", "no start", "no clock", "clock never set"])
def test_nothing_is_said_of_light_that_nobody_knows(what: str) -> None:
    start = "" if what == "no start" else "start = 2031-05-17T16:20:00+00:00"
    plan = plan_of(start=start, place="" if what == "no place" else PLACE)
    clocks = {"no clock": None, "clock never set": datetime(2000, 1, 1)}
    _, tour = retakes(plan, {(2, 2)}, began=clocks.get(what, datetime(2031, 5, 17, 16, 20)))
    assert tour is not None
    assert tour.light is None
