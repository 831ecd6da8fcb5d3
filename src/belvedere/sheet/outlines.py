"""What a frame looks like in bearing and elevation: its true outline, bent edges and all.

An upright rectangle seen through a rectilinear lens (see `belvedere.sphere.footprints` for the
derivation): the ray at (x, y) in focal lengths is ``(x, sin p + y cos p, cos p - y sin p)``
(right, up, forward) for a camera raised by p.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from belvedere.shoot import Plan

FloatArray = NDArray[np.float64]

#: Points along each edge before the needless ones are taken out.
_PER_EDGE = 24


def outline_deg(plan: Plan, elevation_deg: float, per_edge: int = _PER_EDGE) -> FloatArray:
    """Outline of a frame at bearing 0, (n, 2) of bearing and elevation in degrees.

    Clockwise as seen from the camera, the first point not repeated at the end; bearings run on
    without a jump. Where the frame holds a pole the outline goes once around it, from straight
    behind, and is closed along the pole, at ±90.
    """
    points = outline_rays(plan, elevation_deg, per_edge)
    bearing = np.degrees(np.unwrap(np.arctan2(points[:, 0], points[:, 2])))
    elevation = np.degrees(np.arctan2(points[:, 1], np.hypot(points[:, 0], points[:, 2])))
    turn = _turn_deg(points)
    if turn == 0.0:
        return np.column_stack([bearing, elevation])
    pole = math.copysign(90.0, elevation_deg)
    # From the seam behind the camera once around, then back along the pole.
    bearing = np.append(bearing, bearing[0] + turn)
    elevation = np.append(elevation, elevation[0])
    middle = (bearing.min() + bearing.max()) / 2.0
    return np.column_stack(
        [
            np.concatenate([bearing, [bearing[-1], bearing[0]]]) - middle,
            np.concatenate([elevation, [pole, pole]]),
        ]
    )


def outline_rays(plan: Plan, elevation_deg: float, per_edge: int = _PER_EDGE) -> FloatArray:
    """Rays (right, up, forward) along the outline of a frame at bearing 0, clockwise; (n, 3).

    It begins at the upper left corner, or, for a frame that looks near a pole, in the middle of
    the edge behind the pole: there the outline is cut open, and the cut is straight behind.
    """
    x = math.tan(math.radians(plan.horizontal_fov_deg) / 2.0)
    y = math.tan(math.radians(plan.vertical_fov_deg) / 2.0)
    share = np.linspace(-1.0, 1.0, per_edge, endpoint=False)
    one = np.ones_like(share)
    across = np.concatenate([share * x, one * x, -share * x, -one * x])
    up = np.concatenate([one * y, -share * y, -one * y, share * y])
    if _holds_pole(plan, elevation_deg):
        begin = per_edge // 2 + (0 if elevation_deg > 0.0 else 2 * per_edge)
        across, up = np.roll(across, -begin), np.roll(up, -begin)
    p = math.radians(elevation_deg)
    return np.column_stack([across, math.sin(p) + up * math.cos(p), math.cos(p) - up * math.sin(p)])


def _holds_pole(plan: Plan, elevation_deg: float) -> bool:
    return abs(elevation_deg) + plan.vertical_fov_deg / 2.0 > 90.0


def _turn_deg(points: FloatArray) -> float:
    """+360 or −360 where the outline goes around the plumb line, else 0."""
    closed = np.vstack([points, points[:1]])
    bearing = np.degrees(np.unwrap(np.arctan2(closed[:, 0], closed[:, 2])))
    return float(360.0 * round((bearing[-1] - bearing[0]) / 360.0))


def thinned(points: FloatArray, tolerance: float) -> FloatArray:
    """The same line with fewer points, nowhere farther than `tolerance` from the old one.

    D. H. Douglas and T. K. Peucker, "Algorithms for the reduction of the number of points
    required to represent a digitized line", Cartographica 10(2), 1973.
    """
    keep = np.zeros(len(points), dtype=bool)
    keep[[0, -1]] = True
    spans = [(0, len(points) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        chord = points[last] - points[first]
        away = points[first + 1 : last] - points[first]
        length = math.hypot(chord[0], chord[1])
        if length > 0.0:
            distance = np.abs(away[:, 0] * chord[1] - away[:, 1] * chord[0]) / length
        else:
            distance = np.hypot(away[:, 0], away[:, 1])
        worst = int(np.argmax(distance))
        if distance[worst] > tolerance:
            middle = first + 1 + worst
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return points[keep]
