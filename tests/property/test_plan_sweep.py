"""The sweep visits every cell once, from the asked corner, line by line."""

from __future__ import annotations

from itertools import groupby, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.shoot import Camera, Cell, Corner, GridWish, Lens, Order, Plan, Shoot, Sweep
from belvedere.shoot import make_plan as plan_of

CORNERS: tuple[Corner, ...] = ("top-left", "top-right", "bottom-left", "bottom-right")

sweeps = st.builds(
    Sweep,
    order=st.sampled_from(["rows", "columns"]),
    start=st.sampled_from(CORNERS),
    serpentine=st.booleans(),
)


def _plan(sweep: Sweep, rows: int, columns: int) -> Plan:
    """A part of the view with `rows` × `columns` frames of 9.7° × 7.3°."""
    wish = GridWish(
        top_deg=7.1 + 5.0 * (rows - 1) - 10.0,
        bottom_deg=-10.0,
        left_deg=0.0,
        right_deg=9.4 + 6.6 * (columns - 1),
        overlap_across=0.3,
        overlap_down=0.3,
        rows=rows,
        columns=columns,
    )
    return plan_of(Shoot("", Camera(7.44, 5.58, 1440, 1080), Lens(44.0), wish, sweep))


def _turn(sweep: Sweep) -> Plan:
    """A full turn whose rows differ in length: 13 columns at the horizon, 6 at the zenith."""
    wish = GridWish(90.0, -20.0, None, None, 0.25, 0.25, full_turn=True, equal_columns=False)
    return plan_of(Shoot("", Camera(36.0, 24.0, 6000, 4000), Lens(50.0), wish, sweep))


@settings(deadline=None)
@given(sweeps, st.integers(1, 9), st.integers(1, 15))
def test_every_cell_once(sweep: Sweep, rows: int, columns: int) -> None:
    plan = _plan(sweep, rows, columns)
    visited = [(cell.row, cell.column) for cell in plan.cells]
    assert sorted(visited) == [(r, c) for r in range(1, rows + 1) for c in range(1, columns + 1)]


@settings(deadline=None)
@given(sweeps)
def test_every_cell_once_where_rows_differ_in_length(sweep: Sweep) -> None:
    plan = _turn(sweep)
    assert len(set(plan.columns_per_row)) > 2
    visited = [(cell.row, cell.column) for cell in plan.cells]
    assert sorted(visited) == [
        (row, column)
        for row, count in enumerate(plan.columns_per_row, start=1)
        for column in range(1, count + 1)
    ]


@settings(deadline=None)
@given(sweeps, st.integers(1, 9), st.integers(1, 15))
def test_starts_in_its_corner(sweep: Sweep, rows: int, columns: int) -> None:
    first = _plan(sweep, rows, columns).cells[0]
    assert first.row == (1 if sweep.start.startswith("top") else rows)
    assert first.column == (1 if sweep.start.endswith("left") else columns)


@settings(deadline=None)
@given(sweeps, st.integers(2, 9), st.integers(2, 15))
def test_a_serpentine_moves_to_a_neighbour_every_time_and_no_other_sweep_does(
    sweep: Sweep, rows: int, columns: int
) -> None:
    cells = _plan(sweep, rows, columns).cells
    moves = [abs(a.row - b.row) + abs(a.column - b.column) for a, b in pairwise(cells)]
    assert (set(moves) == {1}) == sweep.serpentine


@settings(deadline=None)
@given(st.sampled_from(CORNERS))
def test_a_serpentine_over_unequal_rows_moves_one_step_of_the_wider_row_at_most(
    start: Corner,
) -> None:
    plan = _turn(Sweep(order="rows", start=start, serpentine=True))
    for a, b in pairwise(plan.cells):
        step = max(plan.column_steps_deg[a.row - 1], plan.column_steps_deg[b.row - 1])
        assert abs(a.bearing_deg - b.bearing_deg) <= step + 1e-9
        assert abs(a.row - b.row) <= 1


@settings(deadline=None)
@given(sweeps)
def test_unequal_rows_swept_by_columns_advance_in_bearing(sweep: Sweep) -> None:
    plan = _turn(Sweep("columns", sweep.start, sweep.serpentine))
    longest = max(plan.columns_per_row)
    stops = [
        int((cell.bearing_deg + 180.0) / 360.0 * longest)  # the longest row's column nearby
        for cell in plan.cells
    ]
    assert stops == sorted(stops, reverse=sweep.start.endswith("right"))


def _lines(cells: tuple[Cell, ...], order: Order) -> list[list[tuple[int, int]]]:
    def line(cell: Cell) -> int:
        return cell.row if order == "rows" else cell.column

    return [[(c.row, c.column) for c in group] for _, group in groupby(cells, line)]


@pytest.mark.parametrize(
    ("sweep", "lines"),
    [
        (
            Sweep("rows", "top-left", serpentine=False),
            [[(1, 1), (1, 2), (1, 3)], [(2, 1), (2, 2), (2, 3)]],
        ),
        (
            Sweep("rows", "bottom-right", serpentine=True),
            [[(2, 3), (2, 2), (2, 1)], [(1, 1), (1, 2), (1, 3)]],
        ),
        (
            Sweep("columns", "top-left", serpentine=True),
            [[(1, 1), (2, 1)], [(2, 2), (1, 2)], [(1, 3), (2, 3)]],
        ),
        (
            Sweep("columns", "bottom-right", serpentine=False),
            [[(2, 3), (1, 3)], [(2, 2), (1, 2)], [(2, 1), (1, 1)]],
        ),
    ],
)
def test_two_rows_of_three_written_out(sweep: Sweep, lines: list[list[tuple[int, int]]]) -> None:
    assert _lines(_plan(sweep, 2, 3).cells, sweep.order) == lines


def test_the_example_is_swept_row_by_row_from_the_left() -> None:
    plan = _plan(Sweep(), 2, 3)
    bearings = [cell.bearing_deg for cell in plan.cells[:3]]
    assert bearings == sorted(bearings)
    assert plan.cells[0].elevation_deg > plan.cells[3].elevation_deg
