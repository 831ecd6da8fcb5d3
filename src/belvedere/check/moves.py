"""How far the picture should move between cells, by the plan and as calibrated on the card.

Displacements are those of the content: what is at (x, y) in the first cell's frame is at
(x + dx, y + dy) in the second's. All are in full-size pixels, seen at the middle of the overlap.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from belvedere.shoot import Plan
from belvedere.sphere import camera_from_world, direction

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Spreads:
    """How far displacements scatter around the expected: within a line and from line to line."""

    along_px: float
    across_px: float


@dataclass(frozen=True, slots=True)
class Moves:
    """Displacements between the cells of a plan, in sweep order.

    `rotations` (K, 3, 3) and `directions` (K, 3) of the cells; `line` (K,) is the number of the
    sweep's line (row or column) that each belongs to. `linear` (2, 2) turns the plan's
    displacements into those found on the card: another focal length, a rolled camera, a head
    that steps differently or the other way round.
    """

    width_px: int
    height_px: int
    focal_px: float
    rotations: FloatArray
    directions: FloatArray
    line: NDArray[np.int64]
    linear: FloatArray

    @classmethod
    def of_plan(cls, plan: Plan, width_px: int = 0) -> Moves:
        """The moves as planned, for frames of another width than planned where it is given."""
        camera, cells = plan.shoot.camera, plan.cells
        scale = width_px / camera.image_width_px if width_px else 1.0
        by_rows = plan.shoot.sweep.order == "rows"
        names = [cell.row if by_rows else cell.column for cell in cells]
        changes = np.array([0] + [int(a != b) for a, b in pairwise(names)])
        return cls(
            round(camera.image_width_px * scale),
            round(camera.image_height_px * scale),
            plan.focal_length_px * scale,
            np.array([camera_from_world(c.bearing_deg, c.elevation_deg) for c in cells]),
            np.array([direction(c.bearing_deg, c.elevation_deg) for c in cells]),
            np.cumsum(changes),
            np.eye(2),
        )

    @property
    def count(self) -> int:
        """How many cells there are."""
        return len(self.directions)

    def planned(self, first: NDArray[np.int64], second: NDArray[np.int64]) -> FloatArray:
        """Planned displacements (..., 2) from cells `first` to cells `second`; nan if far off."""
        middle = self.directions[first] + self.directions[second]
        there = self._image(second, middle)
        here = self._image(first, middle)
        return there - here

    def expected(self, first: NDArray[np.int64], second: NDArray[np.int64]) -> FloatArray:
        """Displacements (..., 2) as calibrated."""
        moved: FloatArray = self.planned(first, second) @ self.linear.T
        return moved

    def share(self, displacements: FloatArray) -> FloatArray:
        """Share of a frame that is in both, for displacements (..., 2); 0 where none is."""
        left = 1.0 - np.abs(displacements) / np.array([self.width_px, self.height_px])
        shared: FloatArray = np.where(
            np.isfinite(left).all(axis=-1), np.clip(left, 0.0, 1.0).prod(axis=-1), 0.0
        )
        return shared

    def _image(self, cells: NDArray[np.int64], vectors: FloatArray) -> FloatArray:
        rays = np.einsum("...ij,...j->...i", self.rotations[cells], vectors)
        depth = np.where(rays[..., 2] > 0.2, rays[..., 2], np.nan)
        image: FloatArray = self.focal_px * rays[..., :2] / depth[..., None]
        return image


def line_length(moves: Moves) -> int:
    """Cells in the longest line of the sweep."""
    return int(np.bincount(moves.line).max())
