"""Named views: from a direction to the rectangle of the picture that shows it."""

from __future__ import annotations

import math

from belvedere.compose import Layout
from belvedere.sphere import PROJECTIONS

Region = tuple[int, int, int, int]

#: Height of a view by its width.
_ASPECT = 10 / 16


def region_towards(
    layout: Layout, bearing_deg: float, elevation_deg: float, width_deg: float
) -> Region | None:
    """The part of a mosaic around a direction, `width_deg` wide at the horizon.

    Returns
    -------
    tuple or None
        Left, top, width, height in px, cut at the mosaic's edges; None where the direction is
        not in the mosaic.
    """
    px_per_radian = math.degrees(layout.scale_px_per_deg)
    projection = PROJECTIONS[layout.projection]
    if abs(elevation_deg) > projection.highest_deg:
        return None
    _, y = projection.forward(0.0, elevation_deg)
    _, top = projection.forward(0.0, layout.top_deg)
    column = (bearing_deg - layout.left_deg) % 360.0 * layout.scale_px_per_deg
    row = float(top - y) * px_per_radian
    if not (0 <= column <= layout.width_px and 0 <= row <= layout.height_px):
        return None
    width = width_deg * layout.scale_px_per_deg
    return clipped(
        (column - width / 2, row - width * _ASPECT / 2, width, width * _ASPECT),
        layout.width_px,
        layout.height_px,
    )


def clipped(
    region: tuple[float, float, float, float], width_px: int, height_px: int
) -> Region | None:
    """The part of a rectangle inside a picture, in whole px; None where there is none."""
    left, top, width, height = region
    right, bottom = min(width_px, round(left + width)), min(height_px, round(top + height))
    left, top = max(0, round(left)), max(0, round(top))
    if right <= left or bottom <= top:
        return None
    return left, top, right - left, bottom - top
