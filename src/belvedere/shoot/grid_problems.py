"""Why a grid cannot be shot as asked: each problem in a sentence or two, with what would do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from belvedere.shoot.conditions import Head
from belvedere.shoot.grid_rows import FrameAngles, GridRow, columns_needed, shared_deg
from belvedere.shoot.grid_steps import whole_steps
from belvedere.shoot.model import GridWish
from belvedere.sphere import covered_elevations_deg, frames_for_span

#: Angles closer than this are equal.
TOLERANCE_DEG = 1e-9
#: A head is not held to a stop more exactly than this.
_STOP_TOLERANCE_DEG = 1e-6


def column_gaps(wish: GridWish, head: Head, rows: Sequence[GridRow]) -> list[str]:
    """A fixed count of columns that leaves a gap between two neighbours, or at the edges."""
    if wish.columns is None:
        return []
    turning = [(number, row) for number, row in enumerate(rows, start=1) if not row.straight]
    if wish.full_turn and turning[0][1].step_deg * (wish.columns - 1) >= 360.0 - TOLERANCE_DEG:
        stops = math.ceil(360.0 / head.pan_step_deg - TOLERANCE_DEG)
        return [
            f"columns = {wish.columns} in [grid] are more than the {stops} stops of a full turn "
            f"in steps of {head.pan_step_deg:g}° (pan_step_deg in [head]). Leave columns out."
        ]
    number, worst = min(turning, key=lambda pair: _slack(wish, pair[1]))
    slack = _slack(wish, worst)
    if slack >= -TOLERANCE_DEG:
        return []
    return [
        f"columns = {wish.columns} in [grid] leaves a gap of {-slack:.2f}° between neighbours in "
        f"row {number}: {wish.width_deg:.1f}° are wanted and a frame spans "
        f"{2.0 * worst.half_bearing_deg:.2f}° of bearing there. Use columns = "
        f"{columns_needed(wish, head, worst.half_bearing_deg)} for an overlap across of "
        f"{wish.overlap_across:.0%}, or leave columns out."
    ]


def _slack(wish: GridWish, row: GridRow) -> float:
    """Degrees that neighbours share; below 0, the gap. A single frame is held to the edges."""
    if row.columns == 1 and not wish.full_turn:
        return row.half_bearing_deg - row.margin_deg
    return 2.0 * row.half_bearing_deg - row.widest_step_deg


def coarse_steps(
    wish: GridWish, angles: FrameAngles, head: Head, rows: Sequence[GridRow]
) -> list[str]:
    """Steps of the head longer than the overlap allows, where no fixed count excuses them."""
    problems = []
    needing = [row for row in rows if row.columns > 1]
    if wish.columns is None and head.pan_step_deg > 0.0 and needing:
        narrowest = min(row.half_bearing_deg for row in needing)
        problems += _too_coarse(
            "pan_step_deg", head.pan_step_deg, 2.0 * narrowest, wish.overlap_across, "columns"
        )
    if wish.rows is None and head.tilt_step_deg > 0.0 and len(rows) > 1:
        problems += _too_coarse(
            "tilt_step_deg",
            head.tilt_step_deg,
            angles.vertical_fov_deg,
            wish.overlap_down,
            "rows",
        )
    return problems


def _too_coarse(
    name: str, step_deg: float, frame_deg: float, overlap: float, lines: str
) -> list[str]:
    most = frame_deg * (1.0 - overlap)
    if whole_steps(most, step_deg) > 0:
        return []
    across = "across" if lines == "columns" else "down"
    reached = math.floor(100.0 * (1.0 - step_deg / frame_deg))
    less = f"Ask for an overlap {across} of {reached}% or less, use" if reached > 0 else "Use"
    return [
        f"{name} = {step_deg:g} in [head] is too coarse: {lines} may be at most {most:.2f}° apart "
        f"for an overlap {across} of {overlap:.0%}. {less} a shorter focal length, or a head with "
        "finer steps."
    ]


def row_gap_deg(wish: GridWish, angles: FrameAngles, rows: Sequence[GridRow]) -> float:
    """Degrees of elevation that no frame covers somewhere; negative where all is covered.

    `rows` without caps, and `wish` as it is for them.
    """
    if len(rows) == 1:
        lowest, highest = covered_elevations_deg(
            angles.vertical_fov_deg, rows[0].elevation_deg, rows[0].reach_deg
        )
        return max(wish.top_deg - highest, lowest - wish.bottom_deg)
    return max(
        -shared_deg(above, below, angles, max(above.reach_deg, below.reach_deg))
        for above, below in pairwise(rows)
    )


def row_gaps(
    wish: GridWish, angles: FrameAngles, rows: Sequence[GridRow], span_deg: float, caps: int
) -> list[str]:
    """A fixed count of rows that leaves a gap.

    `rows` without caps, and `wish` as it is for them; `span_deg` is what they reach over.
    """
    gap = row_gap_deg(wish, angles, rows)
    if gap <= TOLERANCE_DEG:
        return []
    fov = angles.vertical_fov_deg
    needed = max(frames_for_span(span_deg, fov, wish.overlap_down), len(rows) + 1) + caps
    where = "at the top and bottom" if len(rows) == 1 else "between two rows"
    return [
        f"rows = {len(rows) + caps} in [grid] leaves a gap of {gap:.2f}° {where}: "
        f"{wish.top_deg - wish.bottom_deg:.1f}° are wanted and a frame is {fov:.2f}° high. "
        f"Use rows = {needed} or more for an overlap down of {wish.overlap_down:.0%}, or leave "
        "rows out."
    ]


def beyond_zenith(rows: Sequence[GridRow]) -> list[str]:
    """A fixed count of rows that runs past straight up or straight down."""
    worst = max((row.elevation_deg for row in rows), key=abs)
    if abs(worst) <= 90.0 + TOLERANCE_DEG:
        return []
    return [
        f"rows = {len(rows)} in [grid] puts a row at {worst:+.1f}° of elevation, beyond "
        f"{'the zenith' if worst > 0 else 'the nadir'}. Use fewer rows or leave rows out."
    ]


def out_of_reach(
    wish: GridWish, angles: FrameAngles, head: Head, rows: Sequence[GridRow]
) -> list[str]:
    """Rows higher or lower than the head can look."""
    numbered = list(enumerate(rows, start=1))
    high = [
        pair for pair in numbered if pair[1].elevation_deg > head.highest_deg + _STOP_TOLERANCE_DEG
    ]
    low = [
        pair for pair in numbered if pair[1].elevation_deg < head.lowest_deg - _STOP_TOLERANCE_DEG
    ]
    return [
        *_unreached(wish, angles, high, head.highest_deg),
        *_unreached(wish, angles, low[::-1], head.lowest_deg),
    ]


def _unreached(
    wish: GridWish, angles: FrameAngles, refused: Sequence[tuple[int, GridRow]], stop_deg: float
) -> list[str]:
    """One sentence for the rows beyond one stop of the head, the farthest first."""
    if not refused:
        return []
    (first, farthest), (last, nearest) = refused[0], refused[-1]
    upper = farthest.elevation_deg > stop_deg
    if first == last:
        subject, needs, them = f"Row {first}", "needs an elevation of", f"row {first}"
        elevations = f"{farthest.elevation_deg:+.1f}°"
    else:
        them = f"rows {min(first, last)} to {max(first, last)}"
        subject, needs = f"R{them[1:]}", "need elevations of"
        top, bottom = sorted((farthest.elevation_deg, nearest.elevation_deg), reverse=True)
        elevations = f"{top:+.1f}° to {bottom:+.1f}°"
    if farthest.straight and (wish.cap_zenith or wish.cap_nadir) and first == last:
        remedy = f"Leave {'cap_zenith' if upper else 'cap_nadir'} out and "
        remedy += f"{_edge_within(angles, nearest, stop_deg, upper, capital=False)}."
    else:
        remedy = f"{_edge_within(angles, nearest, stop_deg, upper)}, or leave {them} out."
    return [f"{subject} {needs} {elevations}; this head stops at {stop_deg:+.1f}°. {remedy}"]


def _edge_within(
    angles: FrameAngles, nearest: GridRow, stop_deg: float, upper: bool, capital: bool = True
) -> str:
    """To which edge the picture may reach with its outermost row at the head's stop."""
    lowest, highest = covered_elevations_deg(
        angles.vertical_fov_deg, stop_deg, 0.0 if nearest.straight else nearest.reach_deg
    )
    if upper:
        words = f"lower the top edge to about {math.floor(10.0 * highest) / 10.0:+.1f}°"
    else:
        words = f"raise the bottom edge to about {math.ceil(10.0 * lowest) / 10.0:+.1f}°"
    return words.capitalize() if capital else words
