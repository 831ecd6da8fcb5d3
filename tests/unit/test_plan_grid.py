"""What the grid decides where the sky is awkward."""

from __future__ import annotations

from typing import Any

import pytest

from belvedere.foundation import PlanError
from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan

CAMERA = Camera(36.0, 24.0, 6000, 4000)


def _plan(focal_mm: float = 50.0, sweep: Sweep | None = None, **grid: Any) -> Plan:
    """A 39.6° × 27.0° frame unless told otherwise."""
    given = {
        "left_deg": None,
        "right_deg": None,
        "overlap_across": 0.25,
        "overlap_down": 0.25,
    } | grid
    return make_plan(Shoot("", CAMERA, Lens(focal_mm), GridWish(**given), sweep or Sweep()))


def _turn(**grid: Any) -> Plan:
    return _plan(full_turn=True, equal_columns=False, **grid)


def test_the_outer_frames_are_flush_with_the_edges() -> None:
    plan = _plan(300.0, left_deg=-20.0, right_deg=20.0, top_deg=2.0, bottom_deg=-2.0)
    bearings = [cell.bearing_deg for cell in plan.cells if cell.row == 1]
    # Half of the field of view's 6.87°, a little less as the frame is above the horizon.
    assert bearings[0] == pytest.approx(-20.0 + 6.867 / 2.0, abs=0.01)
    assert bearings[-1] == pytest.approx(-bearings[0])


def test_a_part_of_the_view_is_a_rectangle_unless_told() -> None:
    edges = {"left_deg": -60.0, "right_deg": 60.0, "top_deg": 75.0, "bottom_deg": 0.0}
    rectangle = _plan(**edges)
    assert len(set(rectangle.columns_per_row)) == 1
    per_row = {
        tuple(c.bearing_deg for c in rectangle.cells if c.row == row)
        for row in range(1, rectangle.rows + 1)
    }
    assert len(per_row) == 1
    fewer = _plan(equal_columns=False, **edges)
    assert list(fewer.columns_per_row) == sorted(fewer.columns_per_row)
    assert fewer.columns_per_row[0] < fewer.columns_per_row[-1] == rectangle.columns_per_row[-1]
    for row in range(1, fewer.rows + 1):  # centred on the same span
        bearings = [c.bearing_deg for c in fewer.cells if c.row == row]
        assert bearings[0] == pytest.approx(-bearings[-1], abs=1e-9)


def test_a_full_turn_closes_evenly() -> None:
    plan = _turn(top_deg=40.0, bottom_deg=-10.0)
    for row, (count, step) in enumerate(
        zip(plan.columns_per_row, plan.column_steps_deg, strict=True), start=1
    ):
        bearings = [c.bearing_deg for c in plan.cells if c.row == row]
        assert count * step == pytest.approx(360.0)
        assert bearings[0] + 360.0 - bearings[-1] == pytest.approx(step)
        assert min(bearings) >= -180.0
        assert max(bearings) <= 180.0


def test_a_full_sphere_is_the_same_above_and_below() -> None:
    plan = _turn(top_deg=90.0, bottom_deg=-90.0)
    assert plan.columns_per_row == plan.columns_per_row[::-1]
    assert plan.columns_per_row[0] < plan.columns_per_row[plan.rows // 2]


def test_frames_facing_each_other_across_the_zenith_overlap() -> None:
    plan = _turn(top_deg=90.0, bottom_deg=0.0)
    beyond = plan.cells[0].elevation_deg + plan.vertical_fov_deg / 2.0 - 90.0
    assert 2.0 * beyond >= 0.25 * plan.vertical_fov_deg - 1e-9


@pytest.mark.parametrize(("top", "bottom", "straight"), [(90.0, 80.0, 90.0), (-82.0, -90.0, -90.0)])
def test_one_frame_straight_up_or_down_where_it_is_enough(
    top: float, bottom: float, straight: float
) -> None:
    plan = _turn(top_deg=top, bottom_deg=bottom)
    assert [(c.row, c.column, c.elevation_deg) for c in plan.cells] == [(1, 1, straight)]
    # 27.0° high: its circle ends 13.5° from the pole.
    assert len(_turn(top_deg=90.0, bottom_deg=76.0).cells) > 1


def test_fixed_counts_are_kept_and_the_overlap_follows() -> None:
    edges = {"left_deg": -30.0, "right_deg": 30.0, "top_deg": 20.0, "bottom_deg": -20.0}
    plan = _plan(rows=3, columns=4, **edges)
    assert (plan.rows, plan.columns_per_row) == (3, (4, 4, 4))
    assert plan.overlap_across > 0.25
    assert len(_plan(**edges).cells) < 12


@pytest.mark.parametrize("wrong", [{"columns": 1}, {"rows": 1}, {"rows": 1, "columns": 1}])
def test_too_few_is_refused_with_the_gap(wrong: dict[str, int]) -> None:
    edges = {"left_deg": -45.0, "right_deg": 45.0, "top_deg": 30.0, "bottom_deg": -30.0}
    with pytest.raises(PlanError) as refused:
        _plan(**wrong, **edges)
    for name, count in wrong.items():
        assert f"{name} = {count} in [grid] leaves a gap of" in str(refused.value)
        assert f"or leave {name} out" in str(refused.value)
    free = _plan(**edges)
    enough = {"rows": free.rows, "columns": free.columns_per_row[0]}
    assert _plan(**{name: enough[name] for name in wrong}, **edges).rows == free.rows


def test_the_gap_is_as_large_as_it_is() -> None:
    """Two frames of 6.87° for 20° at the horizon: 20 - 2 · 6.87 = 6.27° between them."""
    with pytest.raises(PlanError, match=r"columns = 2 .* a gap of 6\.2\d° between neighbours"):
        _plan(300.0, left_deg=0.0, right_deg=20.0, top_deg=0.5, bottom_deg=-0.5, columns=2)


def test_more_than_needed_is_spaced_by_the_overlap() -> None:
    plan = _plan(left_deg=-5.0, right_deg=5.0, top_deg=5.0, bottom_deg=-5.0, columns=3)
    assert plan.columns_per_row == (3,)
    assert plan.overlap_across == pytest.approx(0.25)
    assert plan.cells[1].bearing_deg == pytest.approx(0.0)


def test_a_row_beyond_the_zenith_is_refused() -> None:
    edges = {"left_deg": -5.0, "right_deg": 5.0, "top_deg": 88.0, "bottom_deg": 80.0}
    with pytest.raises(PlanError, match=r"rows = 5 in \[grid\] puts a row at .* beyond the zenith"):
        _plan(rows=5, **edges)


def test_slips_that_would_take_years_are_refused() -> None:
    with pytest.raises(PlanError, match=r"about [\d,]+ frames .* focal_length_mm"):
        _plan(50_000.0, full_turn=True, top_deg=30.0, bottom_deg=-30.0)
    with pytest.raises(PlanError, match=r"field of view would be 1[67]\d\.\d°"):
        _plan(2.0, left_deg=-30.0, right_deg=30.0, top_deg=30.0, bottom_deg=-30.0)


def test_cells_are_found_by_number() -> None:
    plan = _plan(left_deg=-60.0, right_deg=60.0, top_deg=20.0, bottom_deg=-20.0)
    assert plan.cell(2, 3).row == 2
    with pytest.raises(KeyError):
        plan.cell(9, 1)
