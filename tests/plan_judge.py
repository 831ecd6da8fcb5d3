"""A judge of grids: directions are projected into the planned frames.

It rests on the lens model (held to cv2.projectPoints in tests/reference) and on scipy's rotations,
not on the formulae that the grid is laid with.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.optics import LensModel
from belvedere.shoot import Plan
from belvedere.sphere import bearing_elevation, direction

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Pixels by which a direction may lie outside the frame that just touches it.
EDGE_PX = 1e-5
#: Halvings of the search for a frame's edge: a 65,000th of where it is looked for.
_HALVINGS = 16
#: Frames of a row that are asked about one direction: those nearest to it in bearing.
_NEAREST = 5


@dataclass(frozen=True)
class Row:
    """Cells of one row, from the left: their places in `Grid.rotations` and their bearings."""

    elevation_deg: float
    bearings_deg: FloatArray
    first: int

    @property
    def between_deg(self) -> FloatArray:
        """Bearings halfway to the neighbours, and of the frames themselves."""
        middles = (self.bearings_deg[:-1] + self.bearings_deg[1:]) / 2.0
        return np.concatenate([self.bearings_deg, middles])


@dataclass(frozen=True)
class Grid:
    """A plan as the judge sees it: `rotations` (n, 3, 3) from world to camera, row by row."""

    plan: Plan
    lens: LensModel
    rotations: FloatArray
    rows: tuple[Row, ...]

    @classmethod
    def of(cls, plan: Plan) -> Grid:
        cells = sorted(plan.cells, key=lambda cell: (cell.row, cell.column))
        camera = plan.shoot.camera
        angles = [(cell.bearing_deg, cell.elevation_deg, 0.0) for cell in cells]
        turns = Rotation.from_euler("YXZ", angles, degrees=True).as_matrix()
        rows, first = [], 0
        for count in plan.columns_per_row:
            bearings = np.array([cell.bearing_deg for cell in cells[first : first + count]])
            rows.append(Row(cells[first].elevation_deg, bearings, first))
            first += count
        assert first == len(cells)
        return cls(
            plan,
            LensModel.ideal(camera.image_width_px, camera.image_height_px, plan.focal_length_px),
            turns.transpose(0, 2, 1),
            tuple(rows),
        )

    def shows(self, cells: NDArray[np.int64], rays: FloatArray) -> BoolArray:
        """Whether the frames of `cells` (...) show the world rays (..., 3)."""
        pixels = self.lens.project(np.einsum("...ij,...j->...i", self.rotations[cells], rays))
        x, y = pixels[..., 0], pixels[..., 1]
        inside: BoolArray = (
            (x >= -0.5 - EDGE_PX)
            & (x <= self.lens.width_px - 0.5 + EDGE_PX)
            & (y >= -0.5 - EDGE_PX)
            & (y <= self.lens.height_px - 0.5 + EDGE_PX)
        )
        return inside

    def covered(self, rays: FloatArray) -> BoolArray:
        """Which of the world rays (k, 3) are in some frame."""
        camera = self.plan.shoot.camera
        corner = self.lens.unproject(np.array([[-0.5, -0.5]]))[0]
        assert camera.image_width_px == self.lens.width_px
        ray, cell = np.nonzero(rays @ self.rotations[:, 2].T >= corner[2] - 1e-9)
        found = np.zeros(len(rays), dtype=bool)
        found[ray[self.shows(cell, rays[ray])]] = True
        return found


def uncovered(plan: Plan) -> list[tuple[float, float]]:
    """Bearings and elevations inside the wanted picture that no frame shows; a few of them."""
    grid = Grid.of(plan)
    rays = _wanted(grid)
    bearings, elevations = bearing_elevation(rays[~grid.covered(rays)])
    return [(float(b), float(e)) for b, e in zip(bearings[:5], elevations[:5], strict=True)]


def _wanted(grid: Grid) -> FloatArray:
    """Directions all over the wanted picture: a lattice, its edges, and where frames meet."""
    wish = grid.plan.shoot.grid
    left, right = (-180.0, 180.0) if wish.full_turn else (wish.left_deg, wish.right_deg)
    assert left is not None
    assert right is not None
    across, down = np.linspace(left, right, 41), np.linspace(wish.bottom_deg, wish.top_deg, 19)
    parts = [
        _pairs(across, down),
        _pairs(np.linspace(left, right, 181), np.array([wish.bottom_deg, wish.top_deg])),
        _pairs(np.array([left, right]), np.linspace(wish.bottom_deg, wish.top_deg, 61)),
    ]
    for above, below in pairwise(grid.rows):
        meeting = _some(np.concatenate([above.between_deg, below.between_deg]), 24)
        parts.append(_pairs(meeting, np.linspace(below.elevation_deg, above.elevation_deg, 9)))
    for row, edge in ((grid.rows[0], wish.top_deg), (grid.rows[-1], wish.bottom_deg)):
        parts.append(_pairs(row.between_deg, np.array([edge])))
    lattice = np.concatenate(parts)
    lattice[:, 0] = np.clip(lattice[:, 0], left, right)
    lattice[:, 1] = np.clip(lattice[:, 1], wish.bottom_deg, wish.top_deg)
    return direction(lattice[:, 0], lattice[:, 1])


def _some(values: FloatArray, most: int) -> FloatArray:
    """At most so many of the values, from the whole range."""
    if len(values) <= most:
        return values
    return np.sort(values)[np.linspace(0, len(values) - 1, most).round().astype(int)]


def _pairs(bearings: FloatArray, elevations: FloatArray) -> FloatArray:
    return np.stack(np.meshgrid(bearings, elevations), axis=-1).reshape(-1, 2)


def overlap_across(plan: Plan) -> float:
    """Least share of a frame's bearings that its neighbour in the row shows, at any height."""
    grid = Grid.of(plan)
    lens = grid.lens
    lines = np.linspace(-0.5, lens.height_px - 0.5, 41)
    sides = lens.unproject(
        np.stack(np.broadcast_arrays([[-0.5], [lens.width_px - 0.5]], lines), axis=-1)
    )
    least = 1.0
    for row in grid.rows:
        if len(row.bearings_deg) == 1:
            continue
        apart = np.diff(row.bearings_deg)
        if plan.shoot.grid.full_turn:
            apart = np.append(apart, row.bearings_deg[0] + 360.0 - row.bearings_deg[-1])
        level = Rotation.from_euler("X", row.elevation_deg, degrees=True).as_matrix()
        bearings, _ = bearing_elevation(sides @ level.T)
        spans = bearings[1] - bearings[0]  # at each height, the bearings the frame spans
        least = min(least, float((1.0 - apart.max() / spans).min()))
    return least


def overlap_down_deg(plan: Plan) -> list[tuple[float, float]]:
    """For rows that join, the least height of what both show, and what can be asked of it.

    The sides of a partial picture are left out: no neighbour beyond them helps.
    """
    grid = Grid.of(plan)
    half, asked = plan.vertical_fov_deg / 2.0, plan.shoot.grid.overlap_down
    found = []
    for above, below in pairwise(grid.rows):
        bearings = _where_rows_meet(plan, above, below)
        if len(bearings) == 0:
            continue
        strip = _edge(grid, below, bearings, +1.0) - _edge(grid, above, bearings, -1.0)
        # Where the lower row reaches past the pole, all that the upper one shows is shared.
        most = min(90.0 - (above.elevation_deg - half), below.elevation_deg + half + 90.0)
        found.append((float(strip.min()), min(asked * 2.0 * half, most)))
    return found


def _where_rows_meet(plan: Plan, above: Row, below: Row) -> FloatArray:
    bearings = _some(np.concatenate([above.between_deg, below.between_deg]), 16)
    if plan.shoot.grid.full_turn:
        return np.concatenate([bearings, [-180.0]])
    low = max(row.bearings_deg[0] for row in (above, below))
    high = min(row.bearings_deg[-1] for row in (above, below))
    if low > high:
        return np.zeros(0)
    return np.append(bearings[(bearings >= low) & (bearings <= high)], [low, high])


def _edge(grid: Grid, row: Row, bearings: FloatArray, upward: float) -> FloatArray:
    """Elevation at each bearing up (or down) to which the frames of `row` show everything."""
    near = np.full(len(bearings), row.elevation_deg)
    far = np.clip(near + upward * grid.plan.vertical_fov_deg, -90.0, 90.0)
    away = np.abs((bearings[:, None] - row.bearings_deg + 180.0) % 360.0 - 180.0)
    cells = row.first + np.argsort(away, axis=1)[:, :_NEAREST]
    shown = _shown(grid, cells, bearings, far)
    near = np.where(shown, far, near)
    for _ in range(_HALVINGS):
        middle = (near + far) / 2.0
        shown = _shown(grid, cells, bearings, middle)
        near, far = np.where(shown, middle, near), np.where(shown, far, middle)
    return near


def _shown(
    grid: Grid, cells: NDArray[np.int64], bearings: FloatArray, elevations: FloatArray
) -> BoolArray:
    rays = direction(bearings, elevations)
    found: BoolArray = grid.shows(cells, rays[:, None, :]).any(axis=1)
    return found
