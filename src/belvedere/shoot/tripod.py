"""Where the tripod gets into the picture."""

from __future__ import annotations

import math

from belvedere.shoot.model import Plan


def rows_that_see_the_tripod(plan: Plan) -> tuple[int, ...]:
    """Numbers of the rows whose frames look below the line from the lens to the tripod's feet.

    A foot stands `tripod_spread_m` from the plumb line and `tripod_height_m` below the lens, at
    an elevation of -atan(height / spread); the legs, and the ground between them, lie below. A
    frame looks lowest in the middle of its lower edge. Empty where the tripod's sizes are not
    known.
    """
    head = plan.shoot.conditions.head
    if head.tripod_height_m is None or head.tripod_spread_m is None:
        return ()
    feet_deg = -math.degrees(math.atan2(head.tripod_height_m, head.tripod_spread_m))
    half = plan.vertical_fov_deg / 2.0
    return tuple(sorted({cell.row for cell in plan.cells if cell.elevation_deg - half < feet_deg}))
