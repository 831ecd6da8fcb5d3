"""Bearings and elevations on paper: how large the grid is drawn and where things come to lie."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from belvedere.foundation import wrap_180
from belvedere.sheet.outlines import FloatArray, outline_deg
from belvedere.shoot import Cell, Plan

#: A grid flatter than this is drawn taller than it is, and says so.
_LEAST_HEIGHT_PT = 84.0


@dataclass(frozen=True, slots=True)
class Plot:
    """The drawn part of the sphere, its corner and size on paper, and points per degree."""

    left_deg: float
    right_deg: float
    top_deg: float
    bottom_deg: float
    x0: float
    y0: float
    across_pt: float
    down_pt: float

    @property
    def width(self) -> float:
        """Width on paper, in points."""
        return (self.right_deg - self.left_deg) * self.across_pt

    @property
    def height(self) -> float:
        """Height on paper, in points."""
        return (self.top_deg - self.bottom_deg) * self.down_pt

    @property
    def taller(self) -> float:
        """How many times taller than wide a square degree in the middle of the view is drawn."""
        middle = math.radians((self.top_deg + self.bottom_deg) / 2.0)
        level = 1.0 if self.right_deg - self.left_deg >= 360.0 else math.cos(middle)
        return self.down_pt / self.across_pt * max(level, 0.2)

    def x(self, bearing_deg: float) -> float:
        """Points from the left of the paper."""
        return self.x0 + (bearing_deg - self.left_deg) * self.across_pt

    def y(self, elevation_deg: float) -> float:
        """Points from the top of the paper."""
        return self.y0 + (self.top_deg - elevation_deg) * self.down_pt

    def near(self, bearing_deg: float) -> float:
        """The same direction as a bearing next to the middle of the view."""
        middle = (self.left_deg + self.right_deg) / 2.0
        return middle + float(wrap_180(bearing_deg - middle))


def row_elevations(plan: Plan) -> dict[int, float]:
    """Elevation of each row."""
    return dict(enumerate(plan.row_elevations_deg(), start=1))


def row_outlines(plan: Plan) -> dict[int, FloatArray]:
    """Outline of a frame of each row, as if at bearing 0 (see `outline_deg`)."""
    return {row: outline_deg(plan, at) for row, at in row_elevations(plan).items()}


def lay_plot(
    plan: Plan,
    outlines: dict[int, FloatArray],
    x0: float,
    y0: float,
    width_pt: float,
    tallest_pt: float,
) -> Plot:
    """All frames inside `width_pt` × `tallest_pt`, as large as they go, in true proportions.

    Very flat grids are drawn taller instead (`Plot.taller`).
    """
    left, right, top, bottom = _extent(plan, outlines)
    middle = math.radians((top + bottom) / 2.0)
    level = 1.0 if right - left >= 360.0 else max(math.cos(middle), 0.2)
    down = min(width_pt / ((right - left) * level), tallest_pt / (top - bottom))
    across = down * level
    down = max(down, min(_LEAST_HEIGHT_PT, tallest_pt) / (top - bottom))
    spare = width_pt - (right - left) * across
    return Plot(left, right, top, bottom, x0 + spare / 2.0, y0, across, down)


def _extent(plan: Plan, outlines: dict[int, FloatArray]) -> tuple[float, float, float, float]:
    top = max(float(points[:, 1].max()) for points in outlines.values())
    bottom = min(float(points[:, 1].min()) for points in outlines.values())
    if plan.shoot.grid.full_turn:
        return -180.0, 180.0, top, bottom
    left = right = None
    for cell in plan.cells:
        reach = outlines[cell.row][:, 0]
        low, high = cell.bearing_deg + float(reach.min()), cell.bearing_deg + float(reach.max())
        left = low if left is None else min(left, low)
        right = high if right is None else max(right, high)
    assert left is not None
    assert right is not None
    if right - left > 360.0:
        middle = (left + right) / 2.0
        left, right = middle - 180.0, middle + 180.0
    return left, right, top, bottom


def sweep_lines(plan: Plan) -> list[Sequence[Cell]]:
    """The cells of the sweep, line by line: a line is a row, or a column, in one go."""
    if plan.shoot.sweep.order == "rows":
        return [list(line) for _, line in groupby(plan.cells, key=lambda cell: cell.row)]
    down = 1 if plan.shoot.sweep.start.startswith("top") else -1
    lines: list[list[Cell]] = []
    for cell in plan.cells:
        if lines and (cell.row - lines[-1][-1].row) * down > 0:
            lines[-1].append(cell)
            continue
        if lines and plan.shoot.sweep.serpentine:
            down = -down
        lines.append([cell])
    return list(lines)
