"""One row of the grid, what it covers, and what it shares with the next one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from belvedere.shoot.conditions import Head
from belvedere.shoot.grid_steps import (
    Places,
    count_around,
    count_between,
    places_around,
    places_between,
)
from belvedere.shoot.model import GridWish
from belvedere.sphere import covered_elevations_deg, narrowest_half_bearing_deg, sagged_deg

#: Places along half a frame's edge where two rows are compared.
_ALONG_AN_EDGE = tuple(place / 8.0 for place in range(9))


@dataclass(frozen=True, slots=True)
class FrameAngles:
    """Field of view of one frame."""

    horizontal_fov_deg: float
    vertical_fov_deg: float

    @property
    def circle_deg(self) -> float:
        """Radius of the largest circle inside the frame."""
        return min(self.horizontal_fov_deg, self.vertical_fov_deg) / 2.0


@dataclass(frozen=True, slots=True)
class GridRow:
    """One row: where it looks and how its columns lie.

    `step_deg` is the head's move; `widest_step_deg` the farthest two neighbours are apart: the
    move that closes a full turn may differ from the others, where the head moves in steps.
    `half_bearing_deg` is what a frame surely covers to either side, `margin_deg` how far a wanted
    edge of the picture is from the outermost frame's centre (0 in a full turn).
    """

    elevation_deg: float
    first_bearing_deg: float
    step_deg: float
    columns: int
    widest_step_deg: float
    half_bearing_deg: float
    margin_deg: float

    @property
    def bearings_deg(self) -> tuple[float, ...]:
        """Of the columns, from the left."""
        first, step = self.first_bearing_deg, self.step_deg
        return tuple([first + step * place for place in range(self.columns)])

    @property
    def straight(self) -> bool:
        """Whether this is one frame straight up or straight down."""
        return abs(self.elevation_deg) == 90.0 and self.half_bearing_deg == 180.0

    @property
    def reach_deg(self) -> float:
        """Farthest in bearing that a wanted direction lies from the nearest frame's centre."""
        return min(max(self.widest_step_deg / 2.0, self.margin_deg), self.half_bearing_deg)

    @property
    def overlap(self) -> float:
        """Share of a frame that its neighbour in the row repeats, at its narrowest height."""
        return 1.0 - self.widest_step_deg / (2.0 * self.half_bearing_deg)


def straight_row(elevation_deg: float) -> GridRow:
    """One frame at +90 or -90: all bearings are in it."""
    return GridRow(elevation_deg, 0.0, 0.0, 1, 0.0, 180.0, 0.0)


def lay_columns(
    wish: GridWish, angles: FrameAngles, head: Head, elevations_deg: Sequence[float]
) -> tuple[GridRow, ...]:
    """A row at each elevation, each with the columns it needs (or that all of them need)."""
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
        _row(wish, head, elevation, half, narrowest if wish.equal_columns else half)
        for elevation, half in zip(elevations_deg, halves, strict=True)
    )


def columns_needed(wish: GridWish, head: Head, half_bearing_deg: float) -> int:
    """Least number of columns, where a frame covers `half_bearing_deg` to either side."""
    spacing = 2.0 * half_bearing_deg * (1.0 - wish.overlap_across)
    if wish.left_deg is None or wish.right_deg is None:
        return count_around(spacing, head.pan_step_deg)
    return count_between(
        wish.left_deg + half_bearing_deg,
        wish.right_deg - half_bearing_deg,
        spacing,
        head.pan_step_deg,
        _origin_deg(wish),
    )


def _row(wish: GridWish, head: Head, elevation: float, half: float, sizing_half: float) -> GridRow:
    """One row whose columns are as many as frames of `sizing_half` need."""
    count = wish.columns or columns_needed(wish, head, sizing_half)
    if wish.left_deg is None or wish.right_deg is None:
        places = places_around(count, head.pan_step_deg)
        widest = max(places.spacing_deg, places.closing_deg) if count > 1 else 360.0
        margin = 0.0
    else:
        places = places_between(
            wish.left_deg + sizing_half,
            wish.right_deg - sizing_half,
            count,
            2.0 * sizing_half * (1.0 - wish.overlap_across),
            head.pan_step_deg,
            _origin_deg(wish),
        )
        widest = places.spacing_deg
        margin = _margin_deg(wish.left_deg, wish.right_deg, places)
    return GridRow(
        elevation, places.first_deg, places.spacing_deg, count, widest, half, max(0.0, margin)
    )


def _origin_deg(wish: GridWish) -> float | None:
    """A bearing that every row can stop at; None where one row's columns are those of all."""
    if wish.equal_columns or wish.left_deg is None or wish.right_deg is None:
        return None
    return (wish.left_deg + wish.right_deg) / 2.0


def _margin_deg(left_deg: float, right_deg: float, places: Places) -> float:
    return max(places.first_deg - left_deg, right_deg - places.last_deg)


def overlap_down(rows: Sequence[GridRow], angles: FrameAngles) -> float:
    """Least share of a frame's height that the next row repeats; 0 where there is one row.

    Where it is least: halfway between two columns.
    """
    shared = (
        _shared_with_straight_deg(above, below, angles)
        if above.straight or below.straight
        else shared_deg(
            above,
            below,
            angles,
            min(max(above.widest_step_deg, below.widest_step_deg) / 2.0, below.half_bearing_deg),
        )
        for above, below in pairwise(rows)
    )
    return min(shared, default=0.0) / angles.vertical_fov_deg


def shared_deg(above: GridRow, below: GridRow, angles: FrameAngles, offset_deg: float) -> float:
    """How high the strip is that two rows share, up to `offset_deg` from a frame's centre."""
    fov = angles.vertical_fov_deg
    if not _same_bearings(above, below):
        # The columns may lie in any way over each other: the worst of both.
        bottom_of_above = covered_elevations_deg(fov, above.elevation_deg, offset_deg)[0]
        return covered_elevations_deg(fov, below.elevation_deg, offset_deg)[1] - bottom_of_above
    # Columns under columns: both edges bend together.
    return min(
        sagged_deg(below.elevation_deg + fov / 2.0, offset_deg * share)
        - sagged_deg(above.elevation_deg - fov / 2.0, offset_deg * share)
        for share in _ALONG_AN_EDGE
    )


def _shared_with_straight_deg(above: GridRow, below: GridRow, angles: FrameAngles) -> float:
    """How wide the ring is that a row shares with the circle inside a frame straight up."""
    row, side = (below, 1.0) if above.straight else (above, -1.0)
    upward = side * row.elevation_deg
    highest = covered_elevations_deg(angles.vertical_fov_deg, upward, row.reach_deg)[1]
    return highest - (90.0 - angles.circle_deg)


def _same_bearings(above: GridRow, below: GridRow) -> bool:
    return (above.first_bearing_deg, above.step_deg, above.columns) == (
        below.first_bearing_deg,
        below.step_deg,
        below.columns,
    )
