"""What the grid itself should tell its reader."""

from __future__ import annotations

from dataclasses import replace

from belvedere.foundation import PlanError
from belvedere.shoot.briefing import Advice
from belvedere.shoot.model import Plan
from belvedere.shoot.plan import make_plan

#: Below this, neighbours may share too little detail to be joined (common practice, no source).
SMALL_OVERLAP = 0.20


def grid_advice(plan: Plan, tripod_rows: tuple[int, ...]) -> list[Advice]:
    """What the grid's numbers mean for this shoot; often nothing."""
    return [
        *_less_overlap_than_asked(plan),
        *_little_overlap(plan),
        *_spare_frames(plan),
        *_tripod(tripod_rows),
    ]


def _less_overlap_than_asked(plan: Plan) -> list[Advice]:
    across, down = plan.shoot.grid.overlap_across, plan.shoot.grid.overlap_down
    found = []
    if _has_neighbours_across(plan) and plan.overlap_across < across - 0.005:
        found.append(
            Advice(
                "warn",
                f"The fixed columns leave {plan.overlap_across:.0%} of overlap across where "
                f"{across:.0%} are asked for.",
                "neighbours are joined by what both show",
                "Add columns or narrow the picture.",
            )
        )
    if plan.rows > 1 and plan.overlap_down < down - 0.005:
        found.append(
            Advice(
                "warn",
                f"The fixed rows leave {plan.overlap_down:.0%} of overlap down where "
                f"{down:.0%} are asked for.",
                "neighbours are joined by what both show",
                "Add rows or lower the picture.",
            )
        )
    return found


def _little_overlap(plan: Plan) -> list[Advice]:
    least = min(plan.shoot.grid.overlap_across, plan.shoot.grid.overlap_down)
    if least >= SMALL_OVERLAP:
        return []
    return [
        Advice(
            "warn",
            f"An overlap of {least:.0%} leaves little to join frames by.",
            "a head that is a bit off takes some of it away",
            "25 to 35 % is usual.",
        )
    ]


def _spare_frames(plan: Plan) -> list[Advice]:
    """Equal columns cost frames far from the horizon: say so where it is a tenth or more."""
    grid = plan.shoot.grid
    if not grid.equal_columns or grid.columns is not None or plan.rows == 1:
        return []
    try:
        other = make_plan(replace(plan.shoot, grid=replace(grid, equal_columns=False)))
    except PlanError:
        return []
    saved = len(plan.cells) - len(other.cells)
    if saved < len(plan.cells) / 10.0:
        return []
    return [
        Advice(
            "note",
            f"{saved} of {len(plan.cells)} frames could be saved.",
            "meridians draw together far from the horizon, and rows there need fewer columns",
            "equal_columns = false in [grid], if the head can take fewer columns in a row.",
        )
    ]


def _tripod(rows: tuple[int, ...]) -> list[Advice]:
    if not rows:
        return []
    which = f"row {rows[0]}" if len(rows) == 1 else f"rows {rows[0]} to {rows[-1]}"
    return [
        Advice(
            "warn",
            f"The tripod gets into the picture in {which}.",
            "its feet stand inside the lower edge of these frames",
            "Raise the bottom edge, bring the feet closer, or take these cells again by hand with "
            "the tripod moved aside.",
        )
    ]


def _has_neighbours_across(plan: Plan) -> bool:
    return max(plan.columns_per_row) > 1
