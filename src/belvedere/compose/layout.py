"""Where the mosaic lies on the sphere: extent, scale, and each frame's footprint in it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from belvedere.compose.model import Layout, ProjectionName, Window
from belvedere.foundation import OrientError
from belvedere.optics import LensModel
from belvedere.orient import Orientation
from belvedere.sphere import PROJECTIONS, bearing_elevation

FloatArray = NDArray[np.float64]

#: A full turn's width is a multiple of this, so that its two edges meet at every level that is
#: blended.
_TURN_MULTIPLE_PX = 256
#: libjpeg's limit does not bind tiles; this one keeps a wrong focal length from filling a disk.
MAX_MOSAIC_MP = 200_000.0


@dataclass(frozen=True, slots=True)
class Extent:
    """A footprint in bearing and elevation, degrees; `left_deg` ≤ `right_deg`, not wrapped."""

    left_deg: float
    right_deg: float
    top_deg: float
    bottom_deg: float


def frame_extent(lens: LensModel, rays_from_world: FloatArray, samples: int = 33) -> Extent:
    """The footprint of a frame: bearings about its centre, elevations; poles included.

    `rays_from_world` is that of `OrientedFrame`: a rotation, or nearly one.
    """
    world_from_rays = np.linalg.inv(rays_from_world)
    rim = np.linspace(0.0, 1.0, samples)
    x = np.concatenate([rim, rim, np.zeros(samples), np.ones(samples)]) * lens.width_px - 0.5
    y = np.concatenate([np.zeros(samples), np.ones(samples), rim, rim]) * lens.height_px - 0.5
    edge = lens.unproject(np.stack([x, y], axis=-1)) @ world_from_rays.T
    centre = lens.unproject(np.array([(lens.width_px - 1) / 2.0, (lens.height_px - 1) / 2.0]))
    middle = float(bearing_elevation(world_from_rays @ centre)[0])
    bearing, elevation = bearing_elevation(edge)
    relative = (bearing - middle + 180.0) % 360.0 - 180.0
    left, right = middle + float(relative.min()), middle + float(relative.max())
    top, bottom = float(elevation.max()), float(elevation.min())
    if _sees(lens, rays_from_world, -1.0):
        left, right, top = middle - 180.0, middle + 180.0, 90.0
    if _sees(lens, rays_from_world, 1.0):
        left, right, bottom = middle - 180.0, middle + 180.0, -90.0
    return Extent(left, right, top, bottom)


def _sees(lens: LensModel, rays_from_world: FloatArray, down: float) -> bool:
    """Whether the frame shows the zenith (`down` = -1) or the nadir (+1)."""
    ray = rays_from_world @ np.array([0.0, down, 0.0])
    if ray[2] <= 0.05:
        return False
    x, y = lens.project(ray)
    return bool(-0.5 <= x <= lens.width_px - 0.5 and -0.5 <= y <= lens.height_px - 0.5)


def centre_scale_px_per_deg(lens: LensModel) -> float:
    """The frames' own scale on the optical axis: one radian there is the focal length."""
    return lens.focal_length_px * np.pi / 180.0


def make_layout(
    orientation: Orientation,
    projection: ProjectionName = "equirectangular",
    scale_px_per_deg: float | None = None,
) -> Layout:
    """The layout that holds all frames.

    Parameters
    ----------
    orientation
        Rotations and lens.
    projection
        Of the mosaic.
    scale_px_per_deg
        Default: the frames' scale on their axis, so that no detail is lost and none invented.

    Raises
    ------
    OrientError
        No frames, or a mosaic that the projection or a disk cannot hold.
    """
    if not orientation.frames:
        raise OrientError("There is no frame to assemble.", "Look at what the check says.")
    scale = scale_px_per_deg or centre_scale_px_per_deg(orientation.lens)
    extents = [frame_extent(orientation.lens, f.rays_from_world) for f in orientation.frames]
    left, span, full_turn = _bearing_span(extents)
    highest = PROJECTIONS[projection].highest_deg
    top = max(e.top_deg for e in extents)
    bottom = min(e.bottom_deg for e in extents)
    if max(top, -bottom) > highest:
        if projection == "cylindrical":
            raise OrientError(
                f"The frames reach an elevation of {max(top, -bottom):.1f}°; the cylindrical "
                f"projection ends at {highest:.0f}°.",
                "Choose the equirectangular projection.",
            )
        top, bottom = min(top, highest), max(bottom, -highest)
    if full_turn:
        turn = int(np.ceil(360.0 * scale / _TURN_MULTIPLE_PX)) * _TURN_MULTIPLE_PX
        scale, width = turn / 360.0, turn
    else:
        width = int(np.ceil(span * scale))
    height = _height_px(projection, scale, top, bottom)
    if width * height > MAX_MOSAIC_MP * 1e6:
        raise OrientError(
            f"The mosaic would have {width} × {height} px; the limit is {MAX_MOSAIC_MP:.0f} MP.",
            "Look at the focal length, or ask for a smaller scale.",
        )
    return Layout(projection, scale, left, top, width, height, full_turn)


def _height_px(projection: str, scale: float, top_deg: float, bottom_deg: float) -> int:
    forward = PROJECTIONS[projection].forward
    rise = float(forward(0.0, top_deg)[1]) - float(forward(0.0, bottom_deg)[1])
    return max(1, int(np.ceil(np.degrees(rise) * scale)))


def _bearing_span(extents: list[Extent]) -> tuple[float, float, bool]:
    """Left edge, span and whether it is a full turn: all but the widest gap of the circle."""
    starts = sorted((e.left_deg % 360.0, e.right_deg - e.left_deg) for e in extents)
    if any(width >= 360.0 for _, width in starts):
        return starts[0][0] - 180.0, 360.0, True
    reach = max(start + width - 360.0 for start, width in starts)
    widest, left = -1.0, 0.0
    for start, width in starts:
        if start - reach > widest:
            widest, left = start - reach, start
        reach = max(reach, start + width)
    if widest <= 0.0:
        return starts[0][0] if starts[0][0] < 180.0 else starts[0][0] - 360.0, 360.0, True
    return (left + 180.0) % 360.0 - 180.0, 360.0 - widest, False


def footprints(layout: Layout, extent: Extent) -> tuple[Window, ...]:
    """The rectangles of level 0 around a frame's footprint, not cut at the mosaic's edges.

    In a full turn a frame near the edge has two, one turn apart; a frame with a pole has one that
    reaches past both edges.
    """
    forward = PROJECTIONS[layout.projection].forward
    per_radian = layout.scale_px_per_deg * 180.0 / np.pi
    high, low = (
        float(forward(0.0, layout.top_deg)[1] - forward(0.0, edge)[1]) * per_radian
        for edge in (extent.top_deg, extent.bottom_deg)
    )
    first = (extent.left_deg - layout.left_deg) * layout.scale_px_per_deg
    width = (extent.right_deg - extent.left_deg) * layout.scale_px_per_deg
    turn = 360.0 * layout.scale_px_per_deg
    beyond = layout.width_px / 8.0 if layout.full_turn else 0.0
    top, bottom = int(np.floor(high)) - 1, int(np.ceil(low)) + 1
    if width >= turn - 1.0:
        return (Window(int(-beyond), top, int(layout.width_px + beyond), bottom),)
    lefts = [first + k * turn for k in range(-2, 3)]
    return tuple(
        Window(int(np.floor(left)) - 1, top, int(np.ceil(left + width)) + 1, bottom)
        for left in lefts
        if left < layout.width_px + beyond and left + width > -beyond
    )


def cropped(layout: Layout, window: Window) -> Layout:
    """The layout of a part of the mosaic; same scale, same pixels."""
    projection = PROJECTIONS[layout.projection]
    per_radian = layout.scale_px_per_deg * 180.0 / np.pi
    left, top = projection.forward(layout.left_deg, layout.top_deg)
    bearing, elevation = projection.inverse(
        left + window.left / per_radian, top - window.top / per_radian
    )
    return replace(
        layout,
        left_deg=float(bearing),
        top_deg=float(elevation),
        width_px=window.width,
        height_px=window.height,
        full_turn=layout.full_turn and window.width == layout.width_px,
    )
