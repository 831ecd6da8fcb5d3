"""Rows and columns on the sphere, without a gap.

Rows are equally far apart and reach the wanted top and bottom with their outer edges. A frame's
upper and lower edge bend towards the horizon, so what counts is where they are between two
columns, not in the middle of a frame. Columns are sized by the frame edge nearer the horizon,
where a frame spans the fewest bearings.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from belvedere.foundation import PlanError
from belvedere.shoot.conditions import Head
from belvedere.shoot.grid_caps import (
    cap_problems,
    one_frame_at_pole,
    tilt_origin_deg,
    with_caps,
    without_caps,
)
from belvedere.shoot.grid_problems import (
    TOLERANCE_DEG,
    beyond_zenith,
    coarse_steps,
    column_gaps,
    out_of_reach,
    row_gap_deg,
    row_gaps,
)
from belvedere.shoot.grid_rows import FrameAngles, GridRow, lay_columns, overlap_down
from belvedere.shoot.grid_steps import count_between, places_between, whole_steps
from belvedere.shoot.model import GridWish
from belvedere.sphere import apex_deg, frames_for_span

__all__ = ["FrameAngles", "GridRow", "lay_grid", "overlap_down"]

#: Wider lenses are not rectilinear: their pictures have other edges than the grid counts with.
_WIDEST_FOV_DEG = 140.0
#: More frames than any head takes in a shoot: a slip in a length or an edge.
_MOST_FRAMES = 100_000
_ANY_HEAD = Head()


def lay_grid(wish: GridWish, angles: FrameAngles, head: Head = _ANY_HEAD) -> tuple[GridRow, ...]:
    """The rows from the top that cover what `wish` wants, on the stops of `head`.

    Raises
    ------
    PlanError
        Where the fixed count of rows or columns leaves a gap, a row would pass the zenith or is
        out of the head's reach, the head's steps are too coarse, or a cap is of no use; all such
        problems in one message.
    """
    _refuse_impossible(wish, angles)
    single = one_frame_at_pole(wish, angles)
    if single is not None and not (
        wish.cap_nadir if single.elevation_deg > 0.0 else wish.cap_zenith
    ):
        _raise_if_any(out_of_reach(wish, angles, head, (single,)))
        return (single,)
    _raise_if_any(cap_problems(wish, angles, head))
    turn = without_caps(wish, angles)
    laying = _Laying(turn, angles, head, tilt_origin_deg(wish))
    rows = _fewest_rows(laying) if turn.rows is None else _spread_rows(laying, _always(turn.rows))
    every = with_caps(wish, rows)
    problems = coarse_steps(turn, angles, head, rows) + column_gaps(wish, head, every)
    if turn.rows is not None:
        high, low = _wanted_edges(turn, angles)
        problems += row_gaps(turn, angles, rows, high - low, len(every) - len(rows))
        problems += beyond_zenith(every)
    _raise_if_any(problems + out_of_reach(wish, angles, head, every))
    frames = sum(row.columns for row in every)
    if frames > _MOST_FRAMES:
        _refuse_number(f"{frames:,} frames")
    return every


@dataclass(frozen=True, slots=True)
class _Laying:
    """What the rows are laid for; caps are already taken off the wish."""

    wish: GridWish
    angles: FrameAngles
    head: Head
    tilt_origin_deg: float | None

    @property
    def tilts_deg(self) -> tuple[float, float]:
        """How low and how high the head can look."""
        return max(-90.0, self.head.lowest_deg), min(90.0, self.head.highest_deg)


def _refuse_impossible(wish: GridWish, angles: FrameAngles) -> None:
    widest = max(angles.horizontal_fov_deg, angles.vertical_fov_deg)
    if widest > _WIDEST_FOV_DEG:
        raise PlanError(
            f"The field of view would be {widest:.1f}°; Belvedere plans for rectilinear lenses, "
            f"up to {_WIDEST_FOV_DEG:.0f}°.",
            "Check focal_length_mm in [lens] and sensor_width_mm in [camera].",
        )
    rows = wish.rows or frames_for_span(wish.height_deg, angles.vertical_fov_deg, wish.overlap_down)
    columns = wish.columns or frames_for_span(
        wish.width_deg, angles.horizontal_fov_deg, wish.overlap_across
    )
    # Far from the horizon a row may do with fewer; the frames are counted when they are laid.
    if rows * columns > 2 * _MOST_FRAMES:
        _refuse_number(f"about {rows * columns:,} frames ({rows:,} rows of {columns:,})")


def _refuse_number(frames: str) -> None:
    raise PlanError(
        f"The grid would need {frames}; Belvedere plans up to {_MOST_FRAMES:,}.",
        "Check focal_length_mm in [lens], sensor_width_mm in [camera] and the edges, the overlap "
        "and the counts in [grid].",
    )


def _raise_if_any(problems: Sequence[str]) -> None:
    if len(problems) == 1:
        raise PlanError(problems[0])
    if problems:
        listed = "".join(f"\n  - {problem}" for problem in problems)
        raise PlanError(f"The grid has {len(problems)} problems:{listed}")


def _fewest_rows(laying: _Laying) -> tuple[GridRow, ...]:
    """As many rows as overlap and cover everything, starting from what flat edges would need."""
    wish, angles = laying.wish, laying.angles
    rows = _fewest_on_steps(laying) if laying.head.tilt_step_deg else _fewest_anywhere(laying)
    if rows is not None:
        return rows
    _raise_if_steps_are_why(laying)
    raise PlanError(
        "No number of rows joins without gaps here: frames of "
        f"{angles.horizontal_fov_deg:.1f}° × {angles.vertical_fov_deg:.1f}° are too flat for so "
        f"far from the horizon, with an overlap down of {wish.overlap_down:.0%}.",
        "Use a larger overlap across, equal_columns = true, upright frames, or edges in [grid] "
        "that are nearer the horizon.",
    )


def _raise_if_steps_are_why(laying: _Laying) -> None:
    """Blame the head's steps where a head that can stop anywhere would do."""
    step = laying.head.tilt_step_deg
    if not step:
        return
    free = replace(laying, head=replace(laying.head, tilt_step_deg=0.0))
    rows = _fewest_anywhere(free)
    if rows is not None and len(rows) > 1:
        raise PlanError(
            f"tilt_step_deg = {step:g} in [head] is too coarse: as the frames' edges bend, rows "
            f"may be at most {_spacing_deg(rows):.2f}° apart here for an overlap down of "
            f"{laying.wish.overlap_down:.0%}.",
            "Ask for less overlap down, use a shorter focal length, or a head with finer steps.",
        )


def _fewest_anywhere(laying: _Laying) -> tuple[GridRow, ...] | None:
    """The fewest rows for a head that can stop anywhere; None where none join."""
    wish, fov = laying.wish, laying.angles.vertical_fov_deg
    high, low = _wanted_edges(wish, laying.angles)
    count = naive = frames_for_span(high - low, fov, wish.overlap_down)
    while count <= 2 * naive + 10:
        rows = _spread_rows(laying, _always(count))
        short = _short_deg(laying, rows)
        if short <= TOLERANCE_DEG or column_gaps(wish, laying.head, rows):
            return rows
        # Rows closer together by what is short; rounded down, so that the fewest is not missed.
        step = (high - low - fov) / max(1, count - 1)
        count += max(1, int((count - 1) * short / (step - short))) if step > short else 1
    return None


def _fewest_on_steps(laying: _Laying) -> tuple[GridRow, ...] | None:
    """The fewest rows for a head that tilts in steps; None where none join."""
    wish, step = laying.wish, laying.head.tilt_step_deg
    stops = most = whole_steps(laying.angles.vertical_fov_deg * (1.0 - wish.overlap_down), step)
    while stops > 0 or most == 0:
        rows = _spread_rows(laying, _apart(step * max(1, stops), laying))
        short = _short_deg(laying, rows)
        joined = short <= TOLERANCE_DEG and not beyond_zenith(rows)
        # Too coarse a step, or too few columns, is another problem than the number of rows.
        if joined or most == 0 or column_gaps(wish, laying.head, rows):
            return rows
        taken = stops if len(rows) == 1 else round(_spacing_deg(rows) / step)
        stops = min(stops, taken) - max(1, int(short / step))
    return None


def _short_deg(laying: _Laying, rows: Sequence[GridRow]) -> float:
    """Degrees missing from the overlap asked for, or from covering everything."""
    fov = laying.angles.vertical_fov_deg
    shared = fov if len(rows) == 1 else fov * overlap_down(rows, laying.angles)
    asked = laying.wish.overlap_down * fov
    return max(asked - shared, row_gap_deg(laying.wish, laying.angles, rows))


def _spacing_deg(rows: Sequence[GridRow]) -> float:
    return rows[0].elevation_deg - rows[1].elevation_deg


def _wanted_edges(wish: GridWish, angles: FrameAngles) -> tuple[float, float]:
    """Top and bottom of the rows, without the bend of the frames' edges.

    In a full turn that holds a pole, the frames that face each other across it overlap there like
    any neighbours: the rows reach beyond it by half an overlap.
    """
    beyond = wish.overlap_down * angles.vertical_fov_deg / 2.0 if wish.full_turn else 0.0
    high = wish.top_deg + (beyond if wish.top_deg >= 90.0 else 0.0)
    low = wish.bottom_deg - (beyond if wish.bottom_deg <= -90.0 else 0.0)
    return high, low


#: How many rows, given the highest centre of the lowest row and the lowest of the highest.
_Counting = Callable[[float, float], int]


def _always(count: int) -> _Counting:
    return lambda _low, _high: count


def _apart(spacing_deg: float, laying: _Laying) -> _Counting:
    step, origin = laying.head.tilt_step_deg, laying.tilt_origin_deg
    return lambda low, high: count_between(low, high, spacing_deg, step, origin)


def _spread_rows(laying: _Laying, count_of: _Counting) -> tuple[GridRow, ...]:
    """Rows whose outer edges reach top and bottom, also between two columns.

    How far an edge bends depends on the columns, and they on the elevation: the bend only grows
    from round to round, and it can take few values, so the rounds end.
    """
    wish, half = laying.wish, laying.angles.vertical_fov_deg / 2.0
    high, low = _wanted_edges(wish, laying.angles)
    top_reach = bottom_reach = 0.0
    while True:
        lowest = min(low, apex_deg(wish.bottom_deg, bottom_reach)) + half
        highest = max(high, apex_deg(wish.top_deg, top_reach)) - half
        places = places_between(
            lowest,
            highest,
            count_of(lowest, highest),
            2.0 * half * (1.0 - wish.overlap_down),
            laying.head.tilt_step_deg,
            laying.tilt_origin_deg,
            laying.tilts_deg,
        )
        upward = [places.first_deg + places.spacing_deg * n for n in range(places.count)]
        rows = lay_columns(wish, laying.angles, laying.head, upward[::-1])
        top = max(top_reach, rows[0].reach_deg)
        bottom = max(bottom_reach, rows[-1].reach_deg)
        if top <= top_reach + TOLERANCE_DEG and bottom <= bottom_reach + TOLERANCE_DEG:
            return rows
        top_reach, bottom_reach = top, bottom
