"""Hazards draw what they promise, at the rates the page names, and the same for the same seed."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import ephem
import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.rehearse import (
    HAZARDS,
    Dust,
    Rehearsal,
    Shaken,
    Soft,
    WetLens,
    releases,
    with_hazard,
)
from belvedere.shoot import Plan, make_plan, parse_shoot

SHOOT = """
[camera]
sensor_width_mm = 7.44
image_width_px = 288
image_height_px = 216
[lens]
focal_length_mm = 30.5
[grid]
left_deg = -50.0
right_deg = 50.0
top_deg = 20.0
bottom_deg = -20.0
overlap = 0.30
[sweep]
interval_s = 3.0
"""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(parse_shoot(SHOOT))


@pytest.mark.parametrize("name", HAZARDS)
def test_every_hazard_can_be_rehearsed_and_is_the_same_for_the_same_seed(
    plan: Plan, name: str
) -> None:
    drawn = with_hazard(Rehearsal(plan, seed=4), name)
    assert drawn.hazards == (name,)
    assert drawn == with_hazard(Rehearsal(plan, seed=4), name)
    assert len(releases(drawn)) == len(plan.cells)


def test_wind_shakes_one_frame_in_ten_in_company_and_in_one_direction(plan: Plan) -> None:
    # A chain of two states that begins with 0.06 and ends with 0.35 is in a gust for
    # 0.06 / (0.06 + 0.35) of the time; 0.7 of its frames are shaken: 0.102.
    shaken, together, count = 0, 0, 0
    places = [(cell.row, cell.column) for cell in plan.cells]
    for seed in range(150):
        faults = with_hazard(Rehearsal(plan, seed=seed), "windy").faults
        hit = [any(isinstance(f, Shaken) and f.cell == p for f in faults) for p in places]
        shaken, count = shaken + sum(hit), count + len(hit)
        together += sum(a and b for a, b in pairwise(hit))
        assert all(2.5 <= f.length_px <= 10.0 for f in faults if isinstance(f, Shaken))
    assert shaken / count == pytest.approx(0.102, abs=0.02)
    # Independent ones would have company one time in ten.
    assert together / shaken > 0.3


def test_a_hazard_leaves_what_was_asked_for_by_name(plan: Plan) -> None:
    for seed in range(30):
        drawn = with_hazard(
            Rehearsal(plan, seed=seed, faults=(Shaken((2, 3)), Soft((2, 4)))), "windy"
        )
        assert sum(getattr(f, "cell", None) in {(2, 3), (2, 4)} for f in drawn.faults) == 2
        releases(drawn)


def test_dusk_begins_with_the_sun_just_below_the_horizon(plan: Plan) -> None:
    """Against another almanac: ephem, its sun without refraction."""
    drawn = with_hazard(Rehearsal(plan), "dusk")
    assert drawn.daylight is not None
    observer, sun = ephem.Observer(), ephem.Sun()
    observer.lat, observer.lon = str(drawn.daylight.site.latitude_deg), "8"
    observer.pressure = 0.0
    observer.date = drawn.daylight.start.replace(tzinfo=None)
    sun.compute(observer)
    # A minute moves the sun by up to a quarter of a degree.
    assert np.degrees(float(sun.alt)) == pytest.approx(-1.5, abs=0.3)
    assert drawn.start - Rehearsal(plan).start < timedelta(hours=24)
    lights = [shot.conditions.illumination_ev for shot in releases(drawn)]
    assert lights == sorted(lights, reverse=True)
    assert lights[-1] < -0.3


def test_drops_stay_and_grains_are_in_every_frame(plan: Plan) -> None:
    wet = [shot.conditions.drops for shot in releases(with_hazard(Rehearsal(plan), "showery"))]
    assert wet == sorted(wet)
    assert wet[0] == 0 < wet[-1]
    dusty = with_hazard(Rehearsal(plan), "dusty")
    (grains,) = (f.grains for f in dusty.faults if isinstance(f, Dust))
    assert 8 <= grains <= 30
    assert {shot.conditions.dust_grains for shot in releases(dusty)} == {grains}
    assert not any(isinstance(f, WetLens) for f in dusty.faults)


def test_a_hazard_is_asked_for_once_and_by_its_name(plan: Plan) -> None:
    with pytest.raises(PlanError, match="Did you mean “cold”"):
        with_hazard(Rehearsal(plan), "coldd")
    with pytest.raises(PlanError, match="twice"):
        with_hazard(with_hazard(Rehearsal(plan), "cold"), "cold")


def test_a_market_day_has_the_same_people_in_a_retake(plan: Plan) -> None:
    first = with_hazard(Rehearsal(plan, seed=6), "crowded")
    assert 240 <= first.crowd <= 420
    later = Rehearsal(plan, seed=6, first_number=first.first_number + 99, only=((1, 2),))
    assert with_hazard(later, "crowded").crowd == first.crowd
    assert Rehearsal(plan).crowd == 0
    others = {with_hazard(Rehearsal(plan, seed=seed), "crowded").crowd for seed in range(8)}
    assert len(others) > 4
    assert first.faults == () == with_hazard(Rehearsal(plan, seed=7), "crowded").faults


def test_wind_sways_the_tripod_where_an_exposure_is_long_enough_to_show_it(plan: Plan) -> None:
    windy = with_hazard(Rehearsal(plan, seed=3), "windy")
    assert {shot.conditions.gusts for shot in releases(windy)} == {None}  # 1/400 s
    # 12 arcsec at 20.6 px a degree are 0.07 px; in 0.25 s a sway of 1.5 Hz goes all of its way.
    in_the_evening = releases(with_hazard(windy, "dusk"))
    assert all(shot.conditions.gusts is not None for shot in in_the_evening)
    calm = releases(with_hazard(Rehearsal(plan, seed=3), "dusk"))
    assert {shot.conditions.gusts for shot in calm} == {None}
