"""The mosaic's shape: projection, scale, extent."""

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
    `left_deg` is the bearing of the left edge, `top_deg` the elevation of the top edge.
    """

    projection: ProjectionName
    scale_px_per_deg: float
    left_deg: float
    top_deg: float
    width_px: int
    height_px: int
