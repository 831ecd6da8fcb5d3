"""Any shoot a person could ask for, for property tests of the grid."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import assume
from hypothesis import strategies as st

from belvedere.foundation import PlanError
from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.conditions import Conditions, Head

MOST_FRAMES = 250

#: Across, upright, and a small sensor: width in mm, width and height in pixels.
sensors = st.sampled_from([(36.0, 3000, 2000), (24.0, 2000, 3000), (7.6, 2000, 1500)])
overlaps = st.floats(0.05, 0.6)
#: Steps that divide a turn, and steps that do not.
steps = st.one_of(
    st.just(0.0), st.sampled_from([0.1, 0.9, 1.0, 7.5]), st.floats(0.01, 4.0, exclude_min=True)
)
heads = st.builds(Head, pan_step_deg=steps, tilt_step_deg=steps)


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
        overlap_across=draw(overlaps),
        overlap_down=draw(overlaps),
        equal_columns=draw(st.booleans()),
    )
    return draw(_taken(wish))


@st.composite
def full_turns(draw: st.DrawFn) -> Shoot:
    """Full turns; one that reaches a pole has a cap there as often as not."""
    bottom = draw(st.one_of(st.just(-90.0), st.floats(-90.0, 85.0)))
    top = draw(st.one_of(st.just(90.0), st.floats(bottom + 1.0, 90.0)))
    wish = GridWish(
        top_deg=top,
        bottom_deg=bottom,
        left_deg=None,
        right_deg=None,
        overlap_across=draw(overlaps),
        overlap_down=draw(overlaps),
        full_turn=True,
        equal_columns=draw(st.booleans()),
        cap_zenith=top > 80.0 and draw(st.booleans()),
        cap_nadir=bottom < -80.0 and draw(st.booleans()),
    )
    return draw(_taken(wish))


@st.composite
def _taken(draw: st.DrawFn, wish: GridWish) -> Shoot:
    """`wish` with any camera, lens and head."""
    sensor_width_mm, width_px, height_px = draw(sensors)
    focal_mm = sensor_width_mm * draw(st.floats(0.6, 4.0))
    camera = Camera(sensor_width_mm, sensor_width_mm * height_px / width_px, width_px, height_px)
    return Shoot("", camera, Lens(focal_mm), wish, Sweep(), Conditions(head=draw(heads)))


shoots = st.one_of(partial_shoots(), full_turns())


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """Plans of at most 250 frames; some with a fixed count of rows, of columns, or of both.

    A shoot that is refused, for a cap of no use or a step too coarse, is no plan.
    """
    shoot = draw(shoots)
    free = planned(shoot)
    fixed = draw(st.sampled_from([(), (), (), ("rows",), ("columns",), ("rows", "columns")]))
    if not fixed:
        return free
    grid = shoot.grid
    if "rows" in fixed:
        grid = replace(grid, rows=max(1, free.rows + draw(st.integers(-2, 2))))
    if "columns" in fixed:
        count = max(free.columns_per_row) + draw(st.integers(-2, 2))
        grid = replace(grid, columns=max(1, count), equal_columns=True)
    return planned(replace(shoot, grid=grid))


def planned(shoot: Shoot) -> Plan:
    """The plan, or no example where the shoot is refused or would be long to judge."""
    try:
        plan = make_plan(shoot)
    except PlanError:
        plan = None
    assume(plan is not None and len(plan.cells) <= MOST_FRAMES)
    assert plan is not None
    return plan
