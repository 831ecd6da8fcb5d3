"""What a level frame covers on the sphere.

A frame is an upright rectangle seen through a rectilinear lens: its sides are great circles. In
bearing it grows with the distance from the horizon, as meridians draw together; it is narrowest
along the edge *nearer* the horizon, and so that edge sets how many columns a row needs. The
picture's centre, or the field of view divided by the cosine of the elevation, leave gaps there.

Derivation, with image coordinates x (right) and y (up) in focal lengths and the camera raised by
p: the ray is ``(x, sin p + y cos p, cos p - y sin p)`` (right, up, forward), so its bearing from
the frame's is ``atan2(x, cos p - y sin p)``. A great circle whose highest point is at elevation
e runs at ``atan(tan e cos b)``, b away in bearing. (Any text on spherical trigonometry; e.g.
J. P. Snyder, "Map Projections: A Working Manual", USGS 1395, 1987, section on the gnomonic.)
"""

from __future__ import annotations

import math

#: Counts closer than this to a whole number are that number.
_ROUNDING = 1e-9


def half_bearing_deg(
    horizontal_fov_deg: float, vertical_fov_deg: float, elevation_deg: float, height: float
) -> float:
    """Half the bearings a frame spans at one height in the picture.

    `height` is -1 at the frame's lower edge, 0 in its middle, +1 at its upper edge. The result
    is above 90° where that height lies beyond the pole.
    """
    x = math.tan(math.radians(horizontal_fov_deg) / 2.0)
    y = height * math.tan(math.radians(vertical_fov_deg) / 2.0)
    elevation = math.radians(elevation_deg)
    return math.degrees(math.atan2(x, math.cos(elevation) - y * math.sin(elevation)))


def narrowest_half_bearing_deg(
    horizontal_fov_deg: float, vertical_fov_deg: float, elevation_deg: float
) -> float:
    """Half the bearings a frame spans along its edge nearer the horizon: what it surely covers."""
    nearer = -1.0 if elevation_deg >= 0.0 else 1.0
    return half_bearing_deg(horizontal_fov_deg, vertical_fov_deg, elevation_deg, nearer)


def covers_pole(vertical_fov_deg: float, elevation_deg: float) -> bool:
    """Whether the zenith or the nadir lies in a frame at this elevation."""
    return abs(elevation_deg) + vertical_fov_deg / 2.0 >= 90.0


def columns_for_turn(half_bearing_deg: float, overlap: float) -> int:
    """Least number of equal steps that closes a full turn with `overlap` or more."""
    return math.ceil(360.0 / (2.0 * half_bearing_deg * (1.0 - overlap)) - _ROUNDING)


def frames_for_span(span_deg: float, frame_deg: float, overlap: float) -> int:
    """Least number of frames of `frame_deg` side by side that span `span_deg` with `overlap`."""
    return 1 + max(0, math.ceil((span_deg - frame_deg) / (frame_deg * (1.0 - overlap)) - _ROUNDING))


def sagged_deg(apex_deg: float, offset_deg: float) -> float:
    """Elevation, `offset_deg` away in bearing, of a level edge at `apex_deg` in the middle.

    A frame's upper and lower edge bend towards the horizon. `offset_deg` is below 90. An edge
    beyond the pole limits nothing on this side; it stays where it is, beyond ±90.
    """
    if abs(apex_deg) >= 90.0:
        return apex_deg
    return math.degrees(
        math.atan(math.tan(math.radians(apex_deg)) * math.cos(math.radians(offset_deg)))
    )


def apex_deg(elevation_deg: float, offset_deg: float) -> float:
    """Inverse of `sagged_deg`: where the middle of an edge must be to reach `elevation_deg`."""
    if abs(elevation_deg) >= 90.0:
        return elevation_deg
    return math.degrees(
        math.atan(math.tan(math.radians(elevation_deg)) / math.cos(math.radians(offset_deg)))
    )


def covered_elevations_deg(
    vertical_fov_deg: float, elevation_deg: float, offset_deg: float
) -> tuple[float, float]:
    """Lowest and highest elevation a frame surely covers up to `offset_deg` in bearing.

    Beyond ±90 where the frame reaches past the pole, by as much as it does in its middle.

    At bearings no farther from the frame's than its narrowest half, that is: see
    `narrowest_half_bearing_deg`.
    """
    lower = elevation_deg - vertical_fov_deg / 2.0
    upper = elevation_deg + vertical_fov_deg / 2.0
    return (
        lower if lower >= 0.0 else sagged_deg(lower, offset_deg),
        upper if upper <= 0.0 else sagged_deg(upper, offset_deg),
    )
