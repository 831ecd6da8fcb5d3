"""No gap in the grid, by brute force: directions are projected into the planned frames.

The judge is the lens model (held to cv2.projectPoints in tests/reference) and the rotations (held
to scipy there), not the formulae the grid is laid with.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from belvedere.foundation import PlanError
from belvedere.optics import LensModel
from belvedere.shoot import Camera, Cell, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.sphere import bearing_elevation, camera_from_world, direction

#: Pixels by which a direction may lie outside the frame that just touches it.
EDGE_PX = 1e-5
MOST_FRAMES = 250

sensors = st.sampled_from([(36.0, 3000, 2000), (24.0, 2000, 3000), (7.6, 2000, 1500)])


@st.composite
def partial_shoots(draw: st.DrawFn) -> Shoot:
    bottom = draw(st.floats(-90.0, 80.0))
    top = draw(st.floats(bottom + 1.0, 90.0))
    left = draw(st.floats(-180.0, 90.0))
    width = draw(st.floats(1.0, 200.0))
    wish = GridWish(
        top_deg=top,
        bottom_deg=bottom,
        left_deg=left,
        right_deg=left + width,
        overlap_across=draw(st.floats(0.05, 0.6)),
        overlap_down=draw(st.floats(0.05, 0.6)),
        equal_columns=draw(st.booleans()),
    )
    return _shoot(draw, wish)


@st.composite
def full_turns(draw: st.DrawFn) -> Shoot:
    bottom = draw(st.one_of(st.just(-90.0), st.floats(-90.0, 85.0)))
    top = draw(st.one_of(st.just(90.0), st.floats(bottom + 1.0, 90.0)))
    wish = GridWish(
        top_deg=top,
        bottom_deg=bottom,
        left_deg=None,
        right_deg=None,
        overlap_across=draw(st.floats(0.05, 0.6)),
        overlap_down=draw(st.floats(0.05, 0.6)),
        full_turn=True,
        equal_columns=draw(st.booleans()),
    )
    return _shoot(draw, wish)


def _shoot(draw: st.DrawFn, wish: GridWish) -> Shoot:
    sensor_width_mm, width_px, height_px = draw(sensors)
    focal_mm = sensor_width_mm * draw(st.floats(0.6, 4.0))
    camera = Camera(sensor_width_mm, sensor_width_mm * height_px / width_px, width_px, height_px)
    return Shoot("", camera, Lens(focal_mm), wish, Sweep())


def _plan(shoot: Shoot) -> Plan:
    plan = make_plan(shoot)
    assume(len(plan.cells) <= MOST_FRAMES)
    return plan


def _lens(plan: Plan) -> LensModel:
    camera = plan.shoot.camera
    return LensModel.ideal(camera.image_width_px, camera.image_height_px, plan.focal_length_px)


def _inside(plan: Plan, cell: Cell, rays: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which world rays (..., 3) the frame of `cell` shows."""
    lens = _lens(plan)
    rotation = camera_from_world(cell.bearing_deg, cell.elevation_deg)
    pixels = lens.project(rays @ rotation.T)
    x, y = pixels[..., 0], pixels[..., 1]
    inside: NDArray[np.bool_] = (
        (x >= -0.5 - EDGE_PX)
        & (x <= lens.width_px - 0.5 + EDGE_PX)
        & (y >= -0.5 - EDGE_PX)
        & (y <= lens.height_px - 0.5 + EDGE_PX)
    )
    return inside


def _wanted(plan: Plan, across: int, down: int) -> NDArray[np.float64]:
    """Directions on a lattice over the wanted picture, its very edges included."""
    grid = plan.shoot.grid
    left, right = (-180.0, 180.0) if grid.full_turn else (grid.left_deg, grid.right_deg)
    assert left is not None
    assert right is not None
    bearings = np.linspace(left, right, across)
    elevations = np.linspace(grid.bottom_deg, grid.top_deg, down)
    return direction(bearings[None, :], elevations[:, None]).reshape(-1, 3)


def _assert_covered(plan: Plan) -> None:
    rays = _wanted(plan, 157, 61)
    covered = np.zeros(len(rays), dtype=bool)
    for cell in plan.cells:
        covered |= _inside(plan, cell, rays)
    bearings, elevations = bearing_elevation(rays[~covered])
    assert covered.all(), list(zip(bearings, elevations, strict=True))[:5]


@given(partial_shoots())
@settings(max_examples=60, deadline=None)
def test_every_wanted_direction_is_in_some_frame_of_a_part_of_the_sky(shoot: Shoot) -> None:
    _assert_covered(_plan(shoot))


@given(full_turns())
@settings(max_examples=60, deadline=None)
def test_every_wanted_direction_is_in_some_frame_of_a_full_turn(shoot: Shoot) -> None:
    _assert_covered(_plan(shoot))


@given(st.one_of(partial_shoots(), full_turns()))
@settings(max_examples=80, deadline=None)
def test_neighbours_in_a_row_overlap_as_asked_at_every_height(shoot: Shoot) -> None:
    plan = _plan(shoot)
    lens = _lens(plan)
    lines = np.linspace(-0.5, lens.height_px - 0.5, 101)
    left_side = np.stack([np.full_like(lines, -0.5), lines], axis=-1)
    right_side = np.stack([np.full_like(lines, lens.width_px - 0.5), lines], axis=-1)
    elevations = {cell.row: cell.elevation_deg for cell in plan.cells}
    for row, (count, step) in enumerate(
        zip(plan.columns_per_row, plan.column_steps_deg, strict=True), start=1
    ):
        if count == 1:
            continue
        rotation = camera_from_world(0.0, elevations[row])
        left, _ = bearing_elevation(lens.unproject(left_side) @ rotation)
        right, _ = bearing_elevation(lens.unproject(right_side) @ rotation)
        spans = right - left  # at each height, the bearings the frame spans
        assert (1.0 - step / spans).min() >= shoot.grid.overlap_across - 1e-9


@given(st.one_of(partial_shoots(), full_turns()))
@settings(max_examples=30, deadline=None)
def test_rows_overlap_as_asked_at_every_bearing(shoot: Shoot) -> None:
    plan = _plan(shoot)
    assume(plan.rows > 1 and len(plan.cells) <= 120)
    grid = shoot.grid
    if grid.full_turn:
        bearings = np.linspace(-180.0, 180.0, 37)
    else:
        assert grid.left_deg is not None
        assert grid.right_deg is not None
        # The sides of the picture are held to coverage only: no neighbour beyond them helps.
        firsts = [c.bearing_deg for c in plan.cells if c.column == 1]
        lasts = [c.bearing_deg for c in plan.cells if c.column == plan.columns_per_row[c.row - 1]]
        assume(max(firsts) < min(lasts))
        bearings = np.linspace(max(firsts), min(lasts), 37)
    for row in range(1, plan.rows):
        strip = _shared_strip_deg(plan, row, bearings)
        fine = plan.vertical_fov_deg / 100.0
        # Where the lower row reaches past the pole, all that the upper one shows is shared.
        above = next(cell.elevation_deg for cell in plan.cells if cell.row == row)
        below = next(cell.elevation_deg for cell in plan.cells if cell.row == row + 1)
        half = plan.vertical_fov_deg / 2.0
        least = min(grid.overlap_down * 2.0 * half, 90.0 - (above - half), below + half + 90.0)
        assert strip.min() >= least - 2.0 * fine


def _shared_strip_deg(plan: Plan, row: int, bearings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Height, at each bearing, of what both `row` and the one below show."""
    above = [cell for cell in plan.cells if cell.row == row]
    below = [cell for cell in plan.cells if cell.row == row + 1]
    fine = plan.vertical_fov_deg / 100.0
    elevations = np.arange(
        max(-90.0, below[0].elevation_deg - plan.vertical_fov_deg),
        min(90.0, above[0].elevation_deg + plan.vertical_fov_deg),
        fine,
    )
    rays = direction(bearings[None, :], elevations[:, None])
    both = _any_inside(plan, above, rays) & _any_inside(plan, below, rays)
    height: NDArray[np.float64] = both.sum(axis=0) * fine
    return height


def _any_inside(plan: Plan, cells: list[Cell], rays: NDArray[np.float64]) -> NDArray[np.bool_]:
    found = np.zeros(rays.shape[:-1], dtype=bool)
    for cell in cells:
        found |= _inside(plan, cell, rays)
    return found


@given(st.one_of(partial_shoots(), full_turns()), st.data())
@settings(max_examples=60, deadline=None)
def test_a_fixed_count_covers_everything_or_is_refused(shoot: Shoot, data: Any) -> None:
    free = _plan(shoot)
    rows = data.draw(st.integers(1, free.rows + 2))
    columns = data.draw(st.integers(1, max(free.columns_per_row) + 2))
    old = shoot.grid
    fixed = GridWish(
        old.top_deg,
        old.bottom_deg,
        old.left_deg,
        old.right_deg,
        old.overlap_across,
        old.overlap_down,
        old.full_turn,
        rows,
        columns,
        equal_columns=True,
    )
    try:
        plan = make_plan(Shoot("", shoot.camera, shoot.lens, fixed, Sweep()))
    except PlanError as refused:
        assert "rows = " in str(refused) or "columns = " in str(refused)  # noqa: PT017
        return
    assert (plan.rows, set(plan.columns_per_row)) == (rows, {columns})
    _assert_covered(plan)
