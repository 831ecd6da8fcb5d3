"""Which cells touch, and how old they are to each other, by brute force and by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings

from belvedere.shoot import Camera, Cell, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.sweep_ages import reordered, sweep_facts, touching_pairs
from plan_judge import Grid
from plan_strategies import plans

Pair = frozenset[tuple[int, int]]


def _plan(rows: int, columns: int, sweep: Sweep | None = None) -> Plan:
    """A part of the view with `rows` × `columns` frames of 9.7° × 7.3°."""
    wish = GridWish(
        top_deg=5.0 * rows - 7.9,
        bottom_deg=-10.0,
        left_deg=0.0,
        right_deg=9.4 + 6.6 * (columns - 1),
        overlap_across=0.3,
        overlap_down=0.3,
        rows=rows,
        columns=columns,
    )
    return make_plan(Shoot("", Camera(7.44, 5.58, 1440, 1080), Lens(44.0), wish, sweep or Sweep()))


def _turn(**grid: object) -> Plan:
    wish = GridWish(90.0, -20.0, None, None, 0.25, 0.25, full_turn=True, equal_columns=False)
    camera = Camera(36.0, 24.0, 6000, 4000)
    return make_plan(Shoot("", camera, Lens(50.0), replace(wish, **grid), Sweep()))  # type: ignore[arg-type]


def _names(plan: Plan) -> list[Pair]:
    one, other = touching_pairs(plan)
    cells = plan.cells
    return [
        frozenset({(cells[a].row, cells[a].column), (cells[b].row, cells[b].column)})
        for a, b in zip(one, other, strict=True)
    ]


def _by_definition(plan: Plan) -> set[Pair]:
    """Neighbours in a row; in adjoining rows, bricks of the grid whose sides or corners meet."""
    found: set[Pair] = set()
    half = plan.vertical_fov_deg / 2.0
    for one, other in combinations(plan.cells, 2):
        if abs(one.row - other.row) > 1:
            continue
        if one.row != other.row:
            widths = [_width(plan, one), _width(plan, other)]
            touch = _apart(plan, one, other) <= sum(widths) / 2.0 + 1e-5 * max(widths)
        else:
            away = abs(one.column - other.column)
            closing = plan.shoot.grid.full_turn and away == plan.columns_per_row[one.row - 1] - 1
            touch = away == 1 or closing or abs(one.elevation_deg) + half >= 90.0
        if touch:
            found.add(frozenset({(one.row, one.column), (other.row, other.column)}))
    return found


def _width(plan: Plan, cell: Cell) -> float:
    alone = plan.columns_per_row[cell.row - 1] == 1
    return 360.0 if alone else plan.column_steps_deg[cell.row - 1]


def _apart(plan: Plan, one: Cell, other: Cell) -> float:
    apart = abs(one.bearing_deg - other.bearing_deg)
    return min(apart, abs(360.0 - apart)) if plan.shoot.grid.full_turn else apart


@given(plans())
@settings(max_examples=80, deadline=None)
def test_touching_cells_are_the_neighbours_each_pair_once(plan: Plan) -> None:
    names = _names(plan)
    assert len(set(names)) == len(names)
    assert all(len(pair) == 2 for pair in names)
    assert set(names) == _by_definition(plan)


@given(plans())
@settings(max_examples=60, deadline=None)
def test_touching_cells_share_some_of_the_picture(plan: Plan) -> None:
    """By projection: some direction is in both frames."""
    one, other = touching_pairs(plan)
    assume(len(one) > 0)
    assume(plan.overlap_across > 0.02 or max(plan.columns_per_row) == 1)
    assume(plan.overlap_down > 0.02 or plan.rows == 1)
    grid = Grid.of(plan)
    order = sorted(range(len(plan.cells)), key=lambda k: (plan.cells[k].row, plan.cells[k].column))
    place = np.argsort(order)
    camera = plan.shoot.camera
    pixels = np.stack(
        np.meshgrid(
            np.linspace(-0.5, camera.image_width_px - 0.5, 41),
            np.linspace(-0.5, camera.image_height_px - 0.5, 41),
        ),
        axis=-1,
    ).reshape(-1, 2)
    rays = grid.lens.unproject(pixels)
    for a, b in zip(place[one], place[other], strict=True):
        in_world = rays @ grid.rotations[a]
        assert grid.shows(np.full(len(rays), b), in_world).any(), (a, b)


def test_three_rows_of_four_written_out() -> None:
    """By hand: 3 · 3 across, 2 · 4 down, 2 · 2 · 3 diagonal."""
    names = set(_names(_plan(3, 4)))
    assert len(names) == 9 + 8 + 12
    around = {other for pair in names if (2, 2) in pair for other in pair} - {(2, 2)}
    assert around == {(1, 1), (1, 2), (1, 3), (2, 1), (2, 3), (3, 1), (3, 2), (3, 3)}


def test_a_cap_touches_the_whole_row_below_it() -> None:
    plan = _turn(cap_zenith=True)
    ring = plan.columns_per_row[1]
    names = _names(plan)
    assert sum((1, 1) in pair for pair in names) == ring
    assert frozenset({(2, 1), (2, ring)}) in names
    assert frozenset({(2, 1), (2, 3)}) not in names


def test_frames_around_the_zenith_all_touch() -> None:
    plan = _turn()
    first = plan.columns_per_row[0]
    top = [pair for pair in _names(plan) if all(row == 1 for row, _ in pair)]
    assert len(top) == first * (first - 1) // 2


@pytest.mark.parametrize(
    ("order", "serpentine", "greatest", "mean"),
    [
        # By hand, frames 1 s apart, 3 rows of 4. Across 1; down 4, diagonal 3 and 5.
        ("rows", False, 5.0, (9 * 1 + 8 * 4 + 6 * 3 + 6 * 5) / 29),
        # Down 7, 5, 3, 1 twice; diagonal from (1, c) to (2, c - 1): 8 - 2c + 1, and so on:
        # places 1 2 3 4 / 8 7 6 5: 6, 4, 2 and 6, 4, 2, twice.
        ("rows", True, 7.0, (9 * 1 + 2 * 16 + 2 * 24) / 29),
        # By columns: down 1; across 3; diagonal 4 and 2.
        ("columns", False, 4.0, (8 * 1 + 9 * 3 + 6 * 4 + 6 * 2) / 29),
        # Places 1 2 3 / 6 5 4: across 5, 3, 1 three times; diagonal 4, 2 and 4, 2, three times.
        ("columns", True, 5.0, (8 * 1 + 3 * 9 + 3 * 12) / 29),
    ],
)
def test_ages_of_three_rows_of_four_by_hand(
    order: str, serpentine: bool, greatest: float, mean: float
) -> None:
    plan = _plan(3, 4, Sweep("rows", "top-left", serpentine=False))
    facts = sweep_facts(plan, lambda other: np.arange(len(other.cells)) * 1.0)
    choice = next(c for c in facts.choices if (c.order, c.serpentine) == (order, serpentine))
    assert (choice.greatest_age_s, choice.mean_age_s) == pytest.approx((greatest, mean))
    assert len(facts.choices) == 4
    assert facts.chosen == facts.choices[0]
    # The second cell's oldest neighbour is below and to the right: 5 s.
    assert facts.cell_age_s[1] == 5.0
    assert facts.cell_age_s[3] == 4.0


def test_the_heads_travel_by_hand() -> None:
    """Rows: 3 ways across, 2 ways back where it does not turn, 2 steps down."""
    plan = _plan(3, 4)
    across, down = plan.column_steps_deg[0], plan.row_step_deg
    facts = sweep_facts(plan, lambda other: np.arange(len(other.cells)) * 1.0)
    travel = {(c.order, c.serpentine): c.moves_deg for c in facts.choices}
    assert travel["rows", False] == pytest.approx(15 * across + 2 * down)
    assert travel["rows", True] == pytest.approx(9 * across + 2 * down)
    assert travel["columns", False] == pytest.approx(3 * across + 14 * down)
    assert travel["columns", True] == pytest.approx(3 * across + 8 * down)


@given(plans())
@settings(max_examples=40, deadline=None)
def test_a_reordered_plan_is_the_plan_made_so(plan: Plan) -> None:
    sweep = Sweep("columns", "bottom-right", serpentine=True)
    made = make_plan(replace(plan.shoot, sweep=sweep))
    assert reordered(plan, sweep) == made


def test_the_age_of_a_cell_follows_it_when_rows_are_swept_from_below() -> None:
    plan = _plan(2, 3, Sweep("rows", "bottom-left", serpentine=False))
    facts = sweep_facts(plan, lambda other: np.arange(len(other.cells)) * 2.0)
    # Row 2 is first: places 0 1 2 below 3 4 5, 2 s each; the corner waits for the far diagonal.
    assert facts.cell_age_s == (8.0, 8.0, 6.0, 6.0, 8.0, 8.0)
