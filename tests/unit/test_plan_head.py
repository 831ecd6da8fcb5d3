"""The grid of a real head: frames straight up and down, steps, stops, and the tripod below.

What a grid must show is held by projection in tests/property/test_plan_coverage.py; here is what
it looks like, and what is said where it cannot be. Figures by hand.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from belvedere.foundation import PlanError
from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.conditions import Conditions, Head
from belvedere.shoot.tripod import rows_that_see_the_tripod

#: 39.6° × 27.0° with 50 mm.
CAMERA = Camera(36.0, 24.0, 6000, 4000)


def _plan(head: Head | None = None, focal_mm: float = 50.0, **grid: Any) -> Plan:
    given = {
        "left_deg": None,
        "right_deg": None,
        "overlap_across": 0.25,
        "overlap_down": 0.25,
    } | grid
    conditions = Conditions(head=head or Head())
    return make_plan(Shoot("", CAMERA, Lens(focal_mm), GridWish(**given), Sweep(), conditions))


def _turn(head: Head | None = None, **grid: Any) -> Plan:
    return _plan(head, **{"full_turn": True, "equal_columns": False} | grid)


def _rows(plan: Plan) -> list[float]:
    return [plan.cell(row, 1).elevation_deg for row in range(1, plan.rows + 1)]


def test_overlap_is_asked_of_each_axis_for_itself() -> None:
    edges = {"left_deg": -60.0, "right_deg": 60.0, "top_deg": 30.0, "bottom_deg": -30.0}
    usual = _plan(**edges)
    more_across = _plan(**edges | {"overlap_across": 0.6})
    more_down = _plan(**edges | {"overlap_down": 0.6})
    assert more_across.rows == usual.rows < more_down.rows
    assert more_down.columns_per_row[0] <= usual.columns_per_row[0] < more_across.columns_per_row[0]
    assert (more_across.overlap_across >= 0.6, more_down.overlap_down >= 0.6) == (True, True)


def test_a_cap_is_one_frame_that_replaces_the_rows_around_the_pole() -> None:
    closed = _turn(top_deg=90.0, bottom_deg=-20.0)
    capped = _turn(top_deg=90.0, bottom_deg=-20.0, cap_zenith=True)
    top = capped.cell(1, 1)
    assert (top.bearing_deg, top.elevation_deg, capped.columns_per_row[0]) == (0.0, 90.0, 1)
    # The rows of the other end beyond the zenith; here no row reaches it.
    assert closed.cell(1, 1).elevation_deg + 13.5 > 90.0 > capped.cell(2, 1).elevation_deg + 13.5
    assert capped.overlap_down >= 0.25
    # 26.99° high: its circle ends at 76.50°; a quarter of a frame more is 83.25°, between two
    # columns, where the edge is lower than in its middle.
    assert capped.cell(2, 1).elevation_deg + 26.99 / 2.0 > 83.25
    assert capped.row_step_deg == pytest.approx(_rows(capped)[1] - _rows(capped)[2])


def test_both_caps_are_the_first_and_the_last_row_of_the_fixed_count() -> None:
    plan = _turn(top_deg=90.0, bottom_deg=-90.0, cap_zenith=True, cap_nadir=True)
    assert _rows(plan) == pytest.approx([-elevation for elevation in _rows(plan)[::-1]])
    assert (_rows(plan)[0], _rows(plan)[-1]) == (90.0, -90.0)
    same = _turn(top_deg=90.0, bottom_deg=-90.0, cap_zenith=True, cap_nadir=True, rows=plan.rows)
    assert same.cells == plan.cells


def test_a_cap_that_is_all_there_is_needs_no_rows() -> None:
    assert len(_turn(top_deg=90.0, bottom_deg=80.0, cap_zenith=True).cells) == 1


@pytest.mark.parametrize(
    ("grid", "says"),
    [
        (
            {"full_turn": False, "left_deg": -30.0, "right_deg": 30.0, "cap_zenith": True},
            r"cap_zenith in \[grid\] needs a full turn: .* Use full_turn = true, or leave",
        ),
        (
            {"top_deg": 60.0, "cap_zenith": True},
            r"cap_zenith = true in \[grid\] is of no use here: to overlap the frame straight up, "
            r"rows must reach \+83\.3°, and top_deg is \+60\.0°\. Raise top_deg to \+90°, or leave",
        ),
        (
            {"bottom_deg": -20.0, "cap_nadir": True},
            r"rows must reach -83\.3°, and bottom_deg is -20\.0°\. Lower bottom_deg to -90°",
        ),
        (
            {"overlap_down": 0.55, "cap_zenith": True},
            r"of the 13\.5° that a frame straight up surely shows around it, an overlap of 55% of "
            r"27\.0° takes 14\.8°\. Use an overlap down of less than 50%, or leave cap_zenith out",
        ),
        (
            {"bottom_deg": -90.0, "cap_zenith": True, "cap_nadir": True, "rows": 2},
            r"rows = 2 in \[grid\] counts cap_zenith and cap_nadir too .* Use rows = 3 or more",
        ),
        (
            {"bottom_deg": 80.0, "cap_nadir": True},
            r"bottom_deg is \+80\.0°\. Lower bottom_deg to -90°, or leave cap_nadir out",
        ),
    ],
)
def test_a_cap_of_no_use_is_refused(grid: dict[str, Any], says: str) -> None:
    with pytest.raises(PlanError, match=says):
        _turn(**{"top_deg": 90.0, "bottom_deg": -20.0} | grid)


def test_caps_that_no_tilt_step_joins_are_refused() -> None:
    caps = {"cap_zenith": True, "cap_nadir": True}
    with pytest.raises(PlanError, match=r"180°, is not a whole number of steps of 7° \(tilt_step"):
        _turn(Head(tilt_step_deg=7.0), top_deg=90.0, bottom_deg=-90.0, **caps)
    plan = _turn(Head(tilt_step_deg=7.5), top_deg=90.0, bottom_deg=-90.0, **caps)
    assert all(elevation % 7.5 == pytest.approx(0.0) for elevation in _rows(plan))


def test_steps_are_rounded_down_and_frames_added() -> None:
    """By hand: 300 mm, 6.867° wide, 25 %: 5.15° apart at most, so 5° in steps of 2.5°.

    52 - 6.86 = 45.14° between the outermost: 10 moves of 5° reach 50°, spread half to each side.
    """
    edges = {"left_deg": -26.0, "right_deg": 26.0, "top_deg": 1.0, "bottom_deg": -1.0}
    plan = _plan(Head(pan_step_deg=2.5), 300.0, **edges)
    bearings = [cell.bearing_deg for cell in plan.cells if cell.row == 1]
    assert bearings == pytest.approx([-25.0 + 5.0 * place for place in range(11)])
    assert len(_plan(None, 300.0, **edges).cells) == 10


def test_the_last_move_of_a_turn_may_be_shorter() -> None:
    """By hand: 39.6°, 25 %: 29.7° at most, so 29.4° in steps of 0.7°: 13 columns.

    Spread over the turn: 360 / 13 = 27.7°, 28.0° in whole steps; 360 - 12 · 28 = 24° remain.
    """
    plan = _turn(Head(pan_step_deg=0.7), top_deg=5.0, bottom_deg=-5.0)
    bearings = [cell.bearing_deg for cell in plan.cells]
    assert plan.columns_per_row == (13,)
    assert plan.column_steps_deg[0] == pytest.approx(28.0)
    assert bearings[0] + 360.0 - bearings[-1] == pytest.approx(24.0)
    assert min(bearings) >= -180.0
    assert max(bearings) <= 180.0


def test_rows_of_unequal_length_share_their_stops() -> None:
    head = Head(pan_step_deg=1.3, tilt_step_deg=1.1)
    for plan in (
        _turn(head, top_deg=60.0, bottom_deg=-10.0),
        _plan(
            head, equal_columns=False, left_deg=-61.0, right_deg=70.0, top_deg=70.0, bottom_deg=0.0
        ),
    ):
        assert len(set(plan.columns_per_row)) > 1
        first = plan.cells[0]
        for cell in plan.cells:
            pan = (cell.bearing_deg - first.bearing_deg) / 1.3
            tilt = (cell.elevation_deg - first.elevation_deg) / 1.1
            assert (pan, tilt) == pytest.approx((round(pan), round(tilt)), abs=1e-9)


@pytest.mark.parametrize(
    ("head", "grid", "says"),
    [
        (
            Head(pan_step_deg=30.0),
            {},
            r"pan_step_deg = 30 in \[head\] is too coarse: columns may be at most 29\.\d\d° apart "
            r"for an overlap across of 25%\. Ask for an overlap across of 2\d% or less",
        ),
        (
            Head(tilt_step_deg=22.0),
            {"top_deg": 40.0, "bottom_deg": -20.0},
            r"tilt_step_deg = 22 in \[head\] is too coarse: rows may be at most 20\.24° apart",
        ),
        (
            Head(tilt_step_deg=20.2),
            {"top_deg": 40.0, "bottom_deg": -20.0},
            r"tilt_step_deg = 20\.2 in \[head\] is too coarse: as the frames' edges bend, rows may",
        ),
        (
            Head(pan_step_deg=45.0),
            {"columns": 12},
            r"columns = 12 in \[grid\] are more than the 8 stops of a full turn in steps of 45°",
        ),
        (
            Head(pan_step_deg=20.0),
            {"columns": 8},
            r"columns = 8 in \[grid\] leaves a gap of \d+\.\d\d° .* Use columns = 18 for",
        ),
    ],
)
def test_steps_too_coarse_are_refused(head: Head, grid: dict[str, Any], says: str) -> None:
    with pytest.raises(PlanError, match=says):
        _turn(head, **{"top_deg": 5.0, "bottom_deg": -5.0} | grid)


EDGES = {"left_deg": -30.0, "right_deg": 30.0, "top_deg": 60.0, "bottom_deg": -60.0}


def test_rows_out_of_the_heads_reach_are_refused_together() -> None:
    rows = _rows(_plan(**EDGES))
    head = Head(lowest_deg=rows[-1] + 2.0, highest_deg=rows[1] - 2.0)
    with pytest.raises(PlanError) as refused:
        _plan(head, **EDGES)
    text = str(refused.value)
    assert "The grid has 2 problems:" in text
    assert (
        f"Rows 1 to 2 need elevations of {rows[0]:+.1f}° to {rows[1]:+.1f}°; this head stops at "
        f"{head.highest_deg:+.1f}°. Lower the top edge to about "
    ) in text
    assert (
        f"Row {len(rows)} needs an elevation of {rows[-1]:+.1f}°; this head stops at "
        f"{head.lowest_deg:+.1f}°. Raise the bottom edge to about "
    ) in text
    assert f"or leave row {len(rows)} out" in text


def test_the_edge_that_is_offered_can_be_reached() -> None:
    head = Head(highest_deg=30.0)
    with pytest.raises(PlanError, match=r"this head stops at \+30\.0°") as refused:
        _plan(head, **EDGES)
    offered = float(str(refused.value).split("to about ")[1].split("°")[0])
    plan = _plan(head, **EDGES | {"top_deg": offered})
    assert _rows(plan)[0] == pytest.approx(30.0, abs=0.5)


def test_a_cap_out_of_the_heads_reach_is_refused() -> None:
    with pytest.raises(PlanError, match=r"Row 1 needs an elevation of \+90\.0°; this head stops"):
        _turn(Head(highest_deg=75.0), top_deg=90.0, bottom_deg=-20.0, cap_zenith=True)


def test_rows_that_see_the_tripod_look_below_its_feet() -> None:
    """By hand: 1.5 m high, 0.6 m wide: the feet are at -atan(2.5) = -68.20°."""
    head = Head(tripod_height_m=1.5, tripod_spread_m=0.6)
    assert math.degrees(math.atan(2.5)) == pytest.approx(68.20, abs=0.01)
    low = _turn(head, top_deg=0.0, bottom_deg=-90.0)
    expected = [r for r, e in enumerate(_rows(low), start=1) if e - 13.5 < -68.2]
    assert 0 < len(expected) < low.rows
    assert rows_that_see_the_tripod(low) == tuple(expected)
    high = _plan(head, left_deg=-60.0, right_deg=60.0, top_deg=20.0, bottom_deg=-60.0)
    assert rows_that_see_the_tripod(high) == ()
    assert rows_that_see_the_tripod(_turn(top_deg=0.0, bottom_deg=-90.0)) == ()
