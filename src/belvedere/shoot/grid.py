"""Rows and columns on the sphere, without a gap.

Rows are equally far apart and reach the wanted top and bottom with their outer edges. A frame's
upper and lower edge bend towards the horizon, so what counts is where they are between two
columns, not in the middle of a frame. Columns are sized by the frame edge nearer the horizon,
where a frame spans the fewest bearings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from belvedere.foundation import PlanError
from belvedere.shoot.model import GridWish
from belvedere.sphere import (
    apex_deg,
    columns_for_turn,
    covered_elevations_deg,
    frames_for_span,
    narrowest_half_bearing_deg,
    sagged_deg,
)

_TOLERANCE = 1e-9
#: Places along half a frame's edge where two rows are compared.
_ALONG_AN_EDGE = tuple(place / 8.0 for place in range(9))
#: Wider lenses are not rectilinear: their pictures have other edges than the grid counts with.
_WIDEST_FOV_DEG = 140.0
#: More frames than any head takes in a shoot: a slip in a length or an edge.
_MOST_FRAMES = 100_000


@dataclass(frozen=True, slots=True)
class GridRow:
    """One row: where it looks and how its columns lie.

    `half_bearing_deg` is what a frame surely covers to either side, `margin_deg` how far the
    wanted edge of the picture is from the outermost frame's centre (0 in a full turn).
    """

    elevation_deg: float
    bearings_deg: tuple[float, ...]
    step_deg: float
    half_bearing_deg: float
    margin_deg: float

    @property
    def reach_deg(self) -> float:
        """Farthest in bearing that a wanted direction lies from the nearest frame's centre."""
        return min(max(self.step_deg / 2.0, self.margin_deg), self.half_bearing_deg)

    @property
    def overlap(self) -> float:
        """Share of a frame that its neighbour in the row repeats, at its narrowest height."""
        return 1.0 - self.step_deg / (2.0 * self.half_bearing_deg)


@dataclass(frozen=True, slots=True)
class FrameAngles:
    """Field of view of one frame."""

    horizontal_fov_deg: float
    vertical_fov_deg: float


def lay_grid(wish: GridWish, angles: FrameAngles) -> tuple[GridRow, ...]:
    """The rows from the top that cover what `wish` wants.

    Raises
    ------
    PlanError
        Where the fixed count of rows or columns leaves a gap, or a row would pass the zenith;
        all such problems in one message.
    """
    _refuse_impossible(wish, angles)
    if _one_frame_at_pole(wish, angles):
        return (GridRow(math.copysign(90.0, wish.top_deg), (0.0,), 0.0, 180.0, 0.0),)
    if wish.rows is not None:
        rows = _spread_rows(wish, angles, wish.rows)
    else:
        rows = _fewest_rows(wish, angles)
    problems = _column_gaps(wish, rows)
    if wish.rows is not None:
        problems += _row_gaps(wish, angles, rows) + _beyond_zenith(rows)
    if len(problems) == 1:
        raise PlanError(problems[0])
    if problems:
        listed = "".join(f"\n  - {problem}" for problem in problems)
        raise PlanError(f"The grid has {len(problems)} problems:{listed}")
    return rows


def overlap_down(rows: Sequence[GridRow], angles: FrameAngles) -> float:
    """Least share of a frame's height that the next row repeats; 0 where there is one row.

    Where it is least: halfway between two columns.
    """
    shared = (
        _shared_deg(
            above,
            below,
            angles,
            min(max(above.step_deg, below.step_deg) / 2.0, below.half_bearing_deg),
        )
        for above, below in pairwise(rows)
    )
    return min(shared, default=0.0) / angles.vertical_fov_deg


def _one_frame_at_pole(wish: GridWish, angles: FrameAngles) -> bool:
    """Whether one frame straight up, or straight down, covers all that is wanted."""
    if not wish.full_turn or (wish.rows or 1) > 1 or (wish.columns or 1) > 1:
        return False
    nearer_horizon = min(abs(wish.top_deg), abs(wish.bottom_deg))
    radius = min(angles.horizontal_fov_deg, angles.vertical_fov_deg) / 2.0
    return wish.top_deg * wish.bottom_deg > 0.0 and nearer_horizon >= 90.0 - radius


def _refuse_impossible(wish: GridWish, angles: FrameAngles) -> None:
    widest = max(angles.horizontal_fov_deg, angles.vertical_fov_deg)
    if widest > _WIDEST_FOV_DEG:
        raise PlanError(
            f"The field of view would be {widest:.1f}°; Belvedere plans for rectilinear lenses, "
            f"up to {_WIDEST_FOV_DEG:.0f}°.",
            "Check focal_length_mm in [lens] and sensor_width_mm in [camera].",
        )
    width = 360.0
    if wish.left_deg is not None and wish.right_deg is not None:
        width = wish.right_deg - wish.left_deg
    height = wish.top_deg - wish.bottom_deg
    rows = wish.rows or frames_for_span(height, angles.vertical_fov_deg, wish.overlap_down)
    columns = wish.columns or frames_for_span(width, angles.horizontal_fov_deg, wish.overlap_across)
    if rows * columns > _MOST_FRAMES:
        raise PlanError(
            f"The grid would need about {rows * columns:,} frames ({rows:,} rows of {columns:,}); "
            f"Belvedere plans up to {_MOST_FRAMES:,}.",
            "Check focal_length_mm in [lens], sensor_width_mm in [camera] and the edges, the "
            "overlap and the counts in [grid].",
        )


def _fewest_rows(wish: GridWish, angles: FrameAngles) -> tuple[GridRow, ...]:
    """As many rows as overlap and cover everything, starting from what flat edges would need."""
    high, low = _wanted_edges(wish, angles)
    fov = angles.vertical_fov_deg
    count = naive = frames_for_span(high - low, fov, wish.overlap_down)
    while count <= 2 * naive + 10:
        rows = _spread_rows(wish, angles, count)
        shared = fov if count == 1 else fov * overlap_down(rows, angles)
        short = max(wish.overlap_down * fov - shared, _row_gap_deg(wish, angles, rows))
        if short <= _TOLERANCE or _column_gaps(wish, rows):
            return rows
        # Rows closer together by what is short; rounded down, so that the fewest is not missed.
        step = (high - low - fov) / max(1, count - 1)
        count += max(1, int((count - 1) * short / (step - short))) if step > short else 1
    raise PlanError(
        "No number of rows joins without gaps here: frames of "
        f"{angles.horizontal_fov_deg:.1f}° × {fov:.1f}° are too flat for so far from the horizon.",
        "Use a larger overlap, equal_columns = true, upright frames, or edges in [grid] that are "
        "nearer the horizon.",
    )


def _wanted_edges(wish: GridWish, angles: FrameAngles) -> tuple[float, float]:
    """Top and bottom of the rows, without the bend of the frames' edges.

    In a full turn that holds a pole, the frames that face each other across it overlap there like
    any neighbours: the rows reach beyond it by half an overlap.
    """
    beyond = wish.overlap_down * angles.vertical_fov_deg / 2.0 if wish.full_turn else 0.0
    high = wish.top_deg + (beyond if wish.top_deg >= 90.0 else 0.0)
    low = wish.bottom_deg - (beyond if wish.bottom_deg <= -90.0 else 0.0)
    return high, low


def _spread_rows(wish: GridWish, angles: FrameAngles, count: int) -> tuple[GridRow, ...]:
    """`count` rows whose outer edges reach top and bottom, also between two columns.

    How far an edge bends depends on the columns, and they on the elevation: the bend only grows
    from round to round, and it can take few values, so the rounds end.
    """
    high, low = _wanted_edges(wish, angles)
    top_reach = bottom_reach = 0.0
    while True:
        elevations = _spread(
            max(high, apex_deg(wish.top_deg, top_reach)),
            min(low, apex_deg(wish.bottom_deg, bottom_reach)),
            angles.vertical_fov_deg,
            count,
            wish.overlap_down,
        )
        rows = _lay_columns(wish, angles, elevations)
        top = max(top_reach, rows[0].reach_deg)
        bottom = max(bottom_reach, rows[-1].reach_deg)
        if top <= top_reach + _TOLERANCE and bottom <= bottom_reach + _TOLERANCE:
            return rows
        top_reach, bottom_reach = top, bottom


def _spread(high: float, low: float, frame: float, count: int, overlap: float) -> list[float]:
    """Centres, from high to low, of `count` frames flush with both ends.

    More frames than one needs are spaced by the wanted overlap around the middle instead.
    """
    middle = (high + low) / 2.0
    if count == 1:
        return [middle]
    step = (high - low - frame) / (count - 1)
    if step <= 0.0:
        step = frame * (1.0 - overlap)
    return [middle + step * ((count - 1) / 2.0 - place) for place in range(count)]


def _lay_columns(
    wish: GridWish, angles: FrameAngles, elevations_deg: Sequence[float]
) -> tuple[GridRow, ...]:
    halves = [
        narrowest_half_bearing_deg(
            angles.horizontal_fov_deg,
            angles.vertical_fov_deg,
            max(-90.0, min(90.0, elevation)),
        )
        for elevation in elevations_deg
    ]
    narrowest = min(halves)
    return tuple(
        _row(wish, elevation, half, narrowest if wish.equal_columns else half)
        for elevation, half in zip(elevations_deg, halves, strict=True)
    )


def _row(wish: GridWish, elevation: float, half: float, sizing_half: float) -> GridRow:
    """One row whose columns are as many as frames of `sizing_half` need."""
    if wish.full_turn or wish.left_deg is None or wish.right_deg is None:
        count = wish.columns or columns_for_turn(sizing_half, wish.overlap_across)
        step = 360.0 / count
        bearings = tuple(-180.0 + step * (place + 0.5) for place in range(count))
        return GridRow(elevation, bearings, step, half, 0.0)
    span = wish.right_deg - wish.left_deg
    count = wish.columns or frames_for_span(span, 2.0 * sizing_half, wish.overlap_across)
    centres = _spread(wish.right_deg, wish.left_deg, 2.0 * sizing_half, count, wish.overlap_across)
    bearings = tuple(reversed(centres))
    step = bearings[1] - bearings[0] if count > 1 else 0.0
    margin = max(0.0, bearings[0] - wish.left_deg)
    return GridRow(elevation, bearings, step, half, margin)


def _shared_deg(above: GridRow, below: GridRow, angles: FrameAngles, offset_deg: float) -> float:
    """How high the strip is that two rows share, up to `offset_deg` from a frame's centre."""
    fov = angles.vertical_fov_deg
    if above.bearings_deg != below.bearings_deg:
        # The columns may lie in any way over each other: the worst of both.
        bottom_of_above = covered_elevations_deg(fov, above.elevation_deg, offset_deg)[0]
        return covered_elevations_deg(fov, below.elevation_deg, offset_deg)[1] - bottom_of_above
    # Columns under columns: both edges bend together.
    return min(
        sagged_deg(below.elevation_deg + fov / 2.0, offset_deg * share)
        - sagged_deg(above.elevation_deg - fov / 2.0, offset_deg * share)
        for share in _ALONG_AN_EDGE
    )


def _column_gaps(wish: GridWish, rows: Sequence[GridRow]) -> list[str]:
    if wish.columns is None:
        return []
    number, worst = min(enumerate(rows, start=1), key=lambda row: _slack(wish, row[1]))
    slack = _slack(wish, worst)
    if slack >= -_TOLERANCE:
        return []
    span = 360.0 if wish.full_turn else (wish.right_deg or 0.0) - (wish.left_deg or 0.0)
    if wish.full_turn:
        needed = columns_for_turn(worst.half_bearing_deg, wish.overlap_across)
    else:
        needed = frames_for_span(span, 2.0 * worst.half_bearing_deg, wish.overlap_across)
    return [
        f"columns = {wish.columns} in [grid] leaves a gap of {-slack:.2f}° between neighbours in "
        f"row {number}: {span:.1f}° are wanted and a frame spans "
        f"{2.0 * worst.half_bearing_deg:.2f}° of bearing there. Use columns = {needed} for an "
        f"overlap of {wish.overlap_across:.0%}, or leave columns out."
    ]


def _slack(wish: GridWish, row: GridRow) -> float:
    """Degrees that neighbours share; below 0, the gap. A single frame is held to the edges."""
    if len(row.bearings_deg) == 1 and not wish.full_turn:
        return row.half_bearing_deg - row.margin_deg
    return 2.0 * row.half_bearing_deg - row.step_deg


def _row_gap_deg(wish: GridWish, angles: FrameAngles, rows: Sequence[GridRow]) -> float:
    """Degrees of elevation that no frame covers somewhere; negative where all is covered."""
    if len(rows) == 1:
        lowest, highest = covered_elevations_deg(
            angles.vertical_fov_deg, rows[0].elevation_deg, rows[0].reach_deg
        )
        return max(wish.top_deg - highest, lowest - wish.bottom_deg)
    return max(
        -_shared_deg(above, below, angles, max(above.reach_deg, below.reach_deg))
        for above, below in pairwise(rows)
    )


def _row_gaps(wish: GridWish, angles: FrameAngles, rows: Sequence[GridRow]) -> list[str]:
    gap = _row_gap_deg(wish, angles, rows)
    if gap <= _TOLERANCE:
        return []
    high, low = _wanted_edges(wish, angles)
    fov = angles.vertical_fov_deg
    needed = max(frames_for_span(high - low, fov, wish.overlap_down), len(rows) + 1)
    where = "at the top and bottom" if len(rows) == 1 else "between two rows"
    return [
        f"rows = {len(rows)} in [grid] leaves a gap of {gap:.2f}° {where}: "
        f"{wish.top_deg - wish.bottom_deg:.1f}° are wanted and a frame is {fov:.2f}° high. "
        f"Use rows = {needed} or more for an overlap of {wish.overlap_down:.0%}, or leave rows out."
    ]


def _beyond_zenith(rows: Sequence[GridRow]) -> list[str]:
    worst = max((row.elevation_deg for row in rows), key=abs)
    if abs(worst) <= 90.0 + _TOLERANCE:
        return []
    return [
        f"rows = {len(rows)} in [grid] puts a row at {worst:+.1f}° of elevation, beyond "
        f"{'the zenith' if worst > 0 else 'the nadir'}. Use fewer rows or leave rows out."
    ]
