"""The light over a whole sweep, and the best times to begin it.

The elevations asked of the sun (golden hour, night) are common practice, no source; positions
are checked in tests/reference/test_light_sun_spa.py.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise

import astral
import astral.moon
import astral.sun
import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.light import LightFacts, Site, SweptCells, best_starts, light_over

#: A harbour town of our own invention, somewhere temperate.
SALTMERE = Site(50.5, -3.2)
SUMMER_TIME = timezone(timedelta(hours=1))
DAY = datetime(2026, 9, 10, 14, tzinfo=SUMMER_TIME)


def _sweep(
    left_deg: float, right_deg: float, interval_s: float = 3.0, rows: int = 5, columns: int = 24
) -> SweptCells:
    """Row by row from the top left, 14° × 10.6° frames; cells touch sideways and downwards."""
    number = np.arange(rows * columns).reshape(rows, columns)
    pairs = [(number[:, :-1], number[:, 1:]), (number[:-1], number[1:])]
    return SweptCells(
        number.ravel() * interval_s,
        np.tile(np.linspace(left_deg, right_deg, columns), rows),
        np.repeat(np.linspace(12.0, -8.0, rows), columns),
        14.0,
        10.6,
        (
            np.concatenate([one.ravel() for one, _ in pairs]),
            np.concatenate([other.ravel() for _, other in pairs]),
        ),
    )


NORTH = _sweep(-40.0, 40.0)
WEST = _sweep(230.0, 310.0)


def _sun_deg(at: datetime) -> tuple[float, float]:
    """Azimuth and elevation with refraction by astral, the second oracle."""
    observer = astral.Observer(SALTMERE.latitude_deg, SALTMERE.longitude_deg, 0.0)
    return astral.sun.azimuth(observer, at), astral.sun.elevation(observer, at)


def test_the_sun_is_sampled_from_the_first_release_to_the_last() -> None:
    slow = _sweep(-40.0, 40.0, interval_s=60.0)
    facts = light_over(DAY, SALTMERE, slow)
    assert facts.sun[0].at == DAY
    assert facts.sun[-1].at == DAY + timedelta(seconds=60.0 * 119)
    steps = [b.at - a.at for a, b in pairwise(facts.sun)]
    assert max(steps) <= timedelta(minutes=10, seconds=1)
    for sun in facts.sun:
        azimuth, elevation = _sun_deg(sun.at)
        assert sun.azimuth_deg == pytest.approx(azimuth, abs=0.1)
        assert sun.elevation_deg == pytest.approx(elevation, abs=0.1)


def test_a_frame_at_the_sun_has_the_sun_in_its_middle() -> None:
    azimuth, elevation = _sun_deg(DAY)
    one = np.zeros(0, dtype=np.intp)
    cells = SweptCells(
        np.zeros(1), np.array([azimuth]), np.array([elevation]), 5.0, 4.0, (one, one)
    )
    (found,) = light_over(DAY, SALTMERE, cells).sun_cells
    assert found.in_frame
    assert found.separation_deg < 0.1


def test_shadows_between_rows_move_as_far_as_the_sun_does() -> None:
    """Rows follow each other by 24 × 3 s; by astral's azimuths at the ends of that time."""
    facts = light_over(DAY, SALTMERE, NORTH)
    moves, tips = [], []
    for cell in range(96):
        older, newer = (
            _sun_deg(DAY + timedelta(seconds=3.0 * (cell + after))) for after in (0, 24)
        )
        moves.append(abs(newer[0] - older[0]))
        tip = [
            10.0 / np.tan(np.radians(up)) * np.exp(1j * np.radians(azimuth))
            for azimuth, up in (older, newer)
        ]
        tips.append(abs(tip[1] - tip[0]))
    assert facts.shadow_move_deg == pytest.approx(max(moves), rel=0.02)
    assert facts.shadow_move_m == pytest.approx(max(tips), rel=0.02)


def test_columns_first_ages_the_neighbours_otherwise() -> None:
    """Touching cells of the greatest age difference count, in whichever order they are named."""
    columns_first = replace(NORTH, release_s=np.arange(120).reshape(24, 5).T.ravel() * 3.0)
    by_rows = light_over(DAY, SALTMERE, NORTH)
    by_columns = light_over(DAY, SALTMERE, columns_first)
    assert by_rows.shadow_move_deg is not None
    assert by_columns.shadow_move_deg is not None
    assert by_columns.shadow_move_deg == pytest.approx(by_rows.shadow_move_deg * 5 / 24, rel=0.05)
    turned = replace(NORTH, touching=(NORTH.touching[1], NORTH.touching[0]))
    assert light_over(DAY, SALTMERE, turned).shadow_move_deg == by_rows.shadow_move_deg


def test_at_night_there_are_no_shadows_and_no_daylight_to_change() -> None:
    facts = light_over(datetime(2026, 9, 10, 23, 30, tzinfo=SUMMER_TIME), SALTMERE, WEST)
    assert facts.phase == "night"
    assert facts.shadow_move_deg is None
    assert facts.shadow_move_m is None
    assert facts.brightness_drift_ev == facts.touching_drift_ev == 0.0
    assert facts.sun_cells == ()


def test_dusk_darkens_and_touching_cells_differ_by_their_share_of_it() -> None:
    """Six minutes at dusk: the darkening is near even, so rows 72 s apart get a fifth of it."""
    facts = light_over(datetime(2026, 9, 10, 19, 50, tzinfo=SUMMER_TIME), SALTMERE, NORTH)
    assert facts.brightness_drift_ev < -0.5
    share = facts.touching_drift_ev / -facts.brightness_drift_ev
    assert share == pytest.approx(72.0 / 357.0, rel=0.3)


def test_without_a_zero_bearing_the_rest_is_still_said() -> None:
    start = datetime(2026, 9, 10, 18, 30, tzinfo=SUMMER_TIME)
    known = light_over(start, SALTMERE, WEST)
    unknown = light_over(start, SALTMERE, replace(WEST, azimuth_deg=None))
    assert known.sun_cells
    assert unknown.sun_cells == ()
    assert unknown.sun == known.sun
    assert unknown.events == known.events
    assert all("picture" not in choice.says for choice in unknown.best_starts)


def _elevations(facts: LightFacts) -> list[float]:
    return [_sun_deg(choice.at)[1] for choice in facts.best_starts]


def test_who_plans_dusk_gets_dusk() -> None:
    start = datetime(2026, 9, 10, 19, 40, tzinfo=SUMMER_TIME)
    facts = light_over(start, SALTMERE, NORTH)
    assert facts.best_starts
    first = facts.best_starts[0].at
    assert abs(first - start) < timedelta(hours=1.5)
    assert -6.5 < _elevations(facts)[0] < 6.5


def test_who_plans_dawn_gets_dawn() -> None:
    start = datetime(2026, 9, 10, 6, 40, tzinfo=SUMMER_TIME)
    first = light_over(start, SALTMERE, NORTH).best_starts[0].at
    assert abs(first - start) < timedelta(hours=1.5)


def test_a_view_to_the_west_by_day_is_not_begun_against_the_sun() -> None:
    """In the late afternoon the sun stands in the west, over the picture."""
    start = datetime(2026, 9, 10, 17, 30, tzinfo=SUMMER_TIME)
    facts = light_over(start, SALTMERE, WEST)
    assert facts.sun_cells
    for choice in facts.best_starts:
        assert choice.at.date() == start.date()
        azimuth, elevation = (np.radians(angle) for angle in _sun_deg(choice.at))
        assert elevation > np.radians(6.0)
        assert WEST.azimuth_deg is not None
        turn, up = np.radians(WEST.azimuth_deg) - azimuth, np.radians(WEST.elevation_deg)
        cosine = np.sin(up) * np.sin(elevation) + np.cos(up) * np.cos(elevation) * np.cos(turn)
        # Half a diagonal is 8.8°; the sweep takes six minutes, the sun 1.5° in them.
        assert np.degrees(np.arccos(cosine.max())) > 8.8 + 10.0 - 1.5


def test_a_night_with_some_moon_is_begun_without_it() -> None:
    """The moon of 2026-09-24, nearly full, sets before the night ends (astral)."""
    start = datetime(2026, 9, 24, 1, 30, tzinfo=SUMMER_TIME)
    facts = light_over(start, SALTMERE, NORTH)
    assert facts.moonless is not None
    begin, end = facts.moonless
    assert begin <= facts.best_starts[0].at <= end
    observer = astral.Observer(SALTMERE.latitude_deg, SALTMERE.longitude_deg, 0.0)
    moonset = astral.moon.moonset(observer, start.date(), tzinfo=SUMMER_TIME)
    assert moonset is not None
    # astral's moon is good to a third of a degree: some minutes at a slow set.
    assert abs(begin - moonset) < timedelta(minutes=10)
    assert facts.moon_lit > 0.8


def test_choices_are_few_and_apart_and_best_first() -> None:
    for hour in (2, 7, 11, 15, 20, 23):
        start = datetime(2026, 9, 10, hour, 5, tzinfo=SUMMER_TIME)
        choices = light_over(start, SALTMERE, WEST).best_starts
        assert 1 <= len(choices) <= 3
        assert [c.score for c in choices] == sorted((c.score for c in choices), reverse=True)
        assert all(0.0 < choice.score <= 1.0 for choice in choices)
        for one, other in pairwise(choices):
            phases = {choice.says.split(",")[0] for choice in (one, other)}
            assert abs(one.at - other.at) >= timedelta(hours=1) or len(phases) == 2
        assert all(choice.at.utcoffset() == start.utcoffset() for choice in choices)


def test_no_hour_of_a_polar_day_is_offered_for_a_night() -> None:
    """The sun never comes below 78 + 23.4 − 90 = +11.4° there on this day."""
    facts = light_over(datetime(2026, 6, 21, 0, tzinfo=UTC), Site(78.0, 0.0), NORTH)
    assert facts.phase == "day"
    assert facts.moonless is None
    assert all(choice.says.startswith("Day") for choice in facts.best_starts)


def test_a_sweep_of_days_has_no_good_start_and_does_not_crash() -> None:
    facts = light_over(DAY, SALTMERE, _sweep(-40.0, 40.0, interval_s=3600.0))
    assert facts.best_starts == ()
    assert len(facts.sun) == 49


def test_a_start_without_an_offset_is_refused() -> None:
    with pytest.raises(PlanError, match="has no offset from UTC"):
        light_over(datetime(2026, 9, 10, 14), SALTMERE, NORTH)


def test_a_year_that_is_a_slip_of_the_pen_is_refused() -> None:
    with pytest.raises(PlanError, match="outside the years"):
        light_over(datetime(206, 9, 10, 14, tzinfo=UTC), SALTMERE, NORTH)


def test_arrays_of_different_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="one equal length"):
        light_over(DAY, SALTMERE, replace(NORTH, elevation_deg=np.zeros(3)))


def test_the_sun_just_over_the_picture_is_avoided_as_well() -> None:
    """To the south, the noon sun (44°) is 11° over the top edge: flare without a sun in frame."""
    south = replace(_sweep(140.0, 220.0), elevation_deg=np.repeat(np.linspace(28.0, 8.0, 5), 24))
    noon = datetime(2026, 9, 10, 13, 10, tzinfo=SUMMER_TIME)
    asked = light_over(noon, SALTMERE, south)
    assert asked.sun_cells
    assert not any(cell.in_frame for cell in asked.sun_cells)
    best = asked.best_starts[0]
    assert not light_over(best.at, SALTMERE, south).sun_cells
    assert "no frame near the sun" in best.says


def test_older_neighbours_lower_the_score() -> None:
    """Shadows turn by some 15° an hour, and by no less around noon."""
    young = best_starts(DAY, NORTH, SALTMERE, 60.0)[0]
    old = best_starts(DAY, NORTH, SALTMERE, 3600.0)[0]
    assert old.score < 0.5 * young.score
