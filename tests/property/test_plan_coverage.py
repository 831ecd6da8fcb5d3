"""No gap in the grid, by brute force: directions are projected into the planned frames.

The judge is in tests/plan_judge.py; it does not know the formulae that the grid is laid with.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from belvedere.foundation import PlanError
from belvedere.shoot import Plan, Shoot, make_plan
from plan_judge import overlap_across, overlap_down_deg, uncovered
from plan_strategies import full_turns, partial_shoots, planned, plans, shoots


@given(plans())
@settings(max_examples=250, deadline=None)
def test_plans_have_no_gap_and_overlap_as_asked(plan: Plan) -> None:
    _assert_holds(plan)


@pytest.mark.slow
@given(plans())
@settings(max_examples=10_000, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
def test_ten_thousand_plans_have_no_gap_and_overlap_as_asked(plan: Plan) -> None:
    _assert_holds(plan)


def _assert_holds(plan: Plan) -> None:
    assert uncovered(plan) == []
    grid = plan.shoot.grid
    asked_across = 0.0 if grid.columns else grid.overlap_across
    assert overlap_across(plan) >= asked_across - 1e-9
    slack = 1e-4 * plan.vertical_fov_deg
    for shared, asked in overlap_down_deg(plan):
        assert shared >= (0.0 if grid.rows else asked) - slack
    _assert_on_steps(plan)


def _assert_on_steps(plan: Plan) -> None:
    head = plan.shoot.conditions.head
    for step, angles in (
        (head.pan_step_deg, [cell.bearing_deg for cell in plan.cells]),
        (head.tilt_step_deg, [cell.elevation_deg for cell in plan.cells]),
    ):
        if step > 0.0:
            moves = (np.array(angles) - angles[0]) / step
            assert np.abs(moves - moves.round()).max() < 1e-6
    assert max(abs(cell.elevation_deg) for cell in plan.cells) <= 90.0 + 1e-9


@given(partial_shoots())
@settings(max_examples=60, deadline=None)
def test_every_wanted_direction_is_in_some_frame_of_a_part_of_the_sky(shoot: Shoot) -> None:
    assert uncovered(planned(shoot)) == []


@given(full_turns())
@settings(max_examples=60, deadline=None)
def test_every_wanted_direction_is_in_some_frame_of_a_full_turn(shoot: Shoot) -> None:
    assert uncovered(planned(shoot)) == []


@given(full_turns())
@settings(max_examples=60, deadline=None)
def test_frames_facing_each_other_across_a_pole_overlap_as_asked(shoot: Shoot) -> None:
    plan = planned(shoot)
    grid, fov = shoot.grid, plan.vertical_fov_deg
    ends = [(grid.top_deg, plan.cells[0]), (grid.bottom_deg, plan.cells[-1])]
    at_pole = [cell for edge, cell in ends if abs(edge) == 90.0 and abs(cell.elevation_deg) < 90.0]
    assume(at_pole)
    for cell in at_pole:
        assert 2.0 * (abs(cell.elevation_deg) + fov / 2.0 - 90.0) >= grid.overlap_down * fov - 1e-9


@given(shoots, st.data())
@settings(max_examples=60, deadline=None)
def test_a_fixed_count_covers_everything_or_is_refused(shoot: Shoot, data: Any) -> None:
    free = planned(shoot)
    rows = data.draw(st.integers(1, free.rows + 2))
    columns = data.draw(st.integers(1, max(free.columns_per_row) + 2))
    fixed = replace(shoot.grid, rows=rows, columns=columns, equal_columns=True)
    try:
        plan = make_plan(replace(shoot, grid=fixed))
    except PlanError as refused:
        # A cap that one frame made idle is in the way of more rows, and says so.
        named = ("rows = ", "columns = ", "cap_zenith = true", "cap_nadir = true")
        assert any(key in str(refused) for key in named)  # noqa: PT017
        return
    caps = {1} if fixed.cap_zenith or fixed.cap_nadir else set()
    assert (plan.rows, set(plan.columns_per_row) - caps) == (rows, {columns} - caps)
    assert uncovered(plan) == []
