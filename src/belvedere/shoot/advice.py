"""What a plan should tell its reader beside the numbers."""

from __future__ import annotations

from dataclasses import replace

from belvedere.foundation import PlanError
from belvedere.shoot.grid import FrameAngles, lay_grid
from belvedere.shoot.model import Plan

#: Below this, neighbours may share too little detail to be joined (common practice, no source).
SMALL_OVERLAP = 0.20

#: Always worth a line, whatever the plan.
CAUTIONS = (
    "Sun: a long lens can blind you and burn the sensor. Know where the sun will be, and keep "
    "it out of the grid and out of the finder.",
    "Wind and heights: weigh the tripod down, tether what can fall, and nobody stands below.",
    "People: a long lens reads faces and windows. Ask, or blur them before you publish.",
)


def sweep_duration_s(plan: Plan) -> float | None:
    """Seconds from the first shutter release to the last; None without an interval."""
    interval_s = plan.shoot.sweep.interval_s
    return None if interval_s is None else (len(plan.cells) - 1) * interval_s


def notes(plan: Plan) -> tuple[str, ...]:
    """What the numbers mean for this shoot, a sentence or two each; often nothing."""
    return (*_less_overlap_than_asked(plan), *_little_overlap(plan), *_spare_frames(plan))


def _less_overlap_than_asked(plan: Plan) -> list[str]:
    across, down = plan.shoot.grid.overlap_across, plan.shoot.grid.overlap_down
    found = []
    if _has_neighbours_across(plan) and plan.overlap_across < across - 0.005:
        found.append(
            f"The fixed columns leave {plan.overlap_across:.0%} of overlap across where "
            f"{across:.0%} are asked for. Add columns or narrow the picture."
        )
    if plan.rows > 1 and plan.overlap_down < down - 0.005:
        found.append(
            f"The fixed rows leave {plan.overlap_down:.0%} of overlap down where "
            f"{down:.0%} are asked for. Add rows or lower the picture."
        )
    return found


def _little_overlap(plan: Plan) -> list[str]:
    if min(plan.shoot.grid.overlap_across, plan.shoot.grid.overlap_down) >= SMALL_OVERLAP:
        return []
    return [
        f"An overlap under {SMALL_OVERLAP:.0%} leaves little to join frames by when the head is "
        "a bit off. 25 to 35 % is usual."
    ]


def _spare_frames(plan: Plan) -> list[str]:
    """Equal columns cost frames far from the horizon: say so where it is a tenth or more."""
    grid = plan.shoot.grid
    if not grid.equal_columns or grid.columns is not None or plan.rows == 1:
        return []
    angles = FrameAngles(plan.horizontal_fov_deg, plan.vertical_fov_deg)
    try:
        rows = lay_grid(replace(grid, equal_columns=False), angles)
    except PlanError:
        return []
    fewer = sum(len(row.bearings_deg) for row in rows)
    saved = len(plan.cells) - fewer
    if saved < len(plan.cells) / 10.0:
        return []
    return [
        f"equal_columns = false in [grid] would save {saved} of {len(plan.cells)} frames, if the "
        "head can take fewer columns in the rows far from the horizon."
    ]


def _has_neighbours_across(plan: Plan) -> bool:
    return max(plan.columns_per_row) > 1
