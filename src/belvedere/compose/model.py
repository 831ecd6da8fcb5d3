"""The mosaic's shape: projection, scale, extent, levels; and what can be asked of its making."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ProjectionName = Literal["equirectangular", "cylindrical"]


@dataclass(frozen=True, slots=True)
class Layout:
    """How mosaic pixels lie on the sphere.

    Pixel (0, 0) has its centre half a pixel inside the left and top edge. Bearing grows to the
    right, linearly at `scale_px_per_deg`; elevation falls downwards, linearly in the
    equirectangular projection, by its tangent in the cylindrical one (same scale at the horizon).
    `left_deg` is the bearing of the left edge, `top_deg` the elevation of the top edge. In a
    `full_turn` the right edge meets the left one.

    Level k of the mosaic is its size divided by 2**k, rounded up; its pixel (i, j) covers the
    2**k × 2**k pixels of level 0 from (i·2**k, j·2**k) on.
    """

    projection: ProjectionName
    scale_px_per_deg: float
    left_deg: float
    top_deg: float
    width_px: int
    height_px: int
    full_turn: bool = False

    def size_at(self, level: int) -> tuple[int, int]:
        """Width and height in px of level `level`."""
        return -(-self.width_px >> level), -(-self.height_px >> level)


@dataclass(frozen=True, slots=True)
class Window:
    """A rectangle of pixels of one level: left and top inside, right and bottom outside."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """Its width in px."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Its height in px."""
        return self.bottom - self.top

    def grown(self, margin: int) -> Window:
        """The window with `margin` px more on every side."""
        return Window(
            self.left - margin, self.top - margin, self.right + margin, self.bottom + margin
        )

    def within(self, other: Window) -> Window:
        """The part of it that lies in `other`; may be empty."""
        return Window(
            max(self.left, other.left),
            max(self.top, other.top),
            max(min(self.right, other.right), max(self.left, other.left)),
            max(min(self.bottom, other.bottom), max(self.top, other.top)),
        )

    @property
    def empty(self) -> bool:
        """Whether it has no pixel."""
        return self.right <= self.left or self.bottom <= self.top
