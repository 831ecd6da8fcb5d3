"""What a lens and a sensor see: field of view, pixels per degree, the angle of one pixel.

All for a rectilinear lens focused at infinity, the case of a landscape through a long lens:
the image of a direction `a` off the axis lies at ``f tan a``. (S. F. Ray, "Applied Photographic
Optics", 3rd ed., 2002, chapter on field of view; from memory.)
"""

from __future__ import annotations

import math

#: Diagonal of the 36 × 24 mm frame, to which crop factors and equivalents refer.
FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)


def field_of_view_deg(sensor_mm: float, focal_length_mm: float) -> float:
    """Full angle seen along a sensor's width, height or diagonal: ``2 atan(w / 2f)``."""
    return math.degrees(2.0 * math.atan(sensor_mm / (2.0 * focal_length_mm)))


def focal_length_px(focal_length_mm: float, sensor_width_mm: float, image_width_px: int) -> float:
    """Focal length in pixels of the full-size image; pixels are square."""
    return focal_length_mm * image_width_px / sensor_width_mm


def scale_px_per_deg(focal_length_px: float) -> float:
    """Pixels per degree in the centre of the picture, where they are fewest."""
    return focal_length_px * math.pi / 180.0


def pixel_angle_arcsec(focal_length_px: float, off_axis_deg: float = 0.0) -> float:
    """Angle one pixel sees, `off_axis_deg` from the picture's centre, towards the edge.

    ``d atan(x / f) / dx = cos²(a) / f``: pixels see less of the world towards the edges.
    """
    return math.degrees(math.cos(math.radians(off_axis_deg)) ** 2 / focal_length_px) * 3600.0
