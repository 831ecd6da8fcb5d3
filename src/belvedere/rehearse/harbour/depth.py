"""How far away everything is that one sees: the scene painted once more, in metres.

The same items draw the same shapes, back to front, on a canvas that takes distances instead of
colours; so the depth fits the picture, down to gaps between leaves and masts.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from .ground import plane_distance_m, shore_elevation
from .hills import over_hills_m
from .items import UNDERFOOT_M, Layer, draw
from .noise import F32, F64
from .paint import Canvas, Window
from .sheets import Sheets
from .stencil import SHIFT, Command, Stencils
from .texture import fields

_SOLID = 0.5  # what covers less lets one see, and focus, what is behind it
_COARSEST, _FINEST = 16.0, 2.0**18  # px per degree
_MAX_PX = 4_000_000
_MARGIN_PX = 4


class DepthCanvas(Canvas):
    """A canvas that keeps the distance of whatever is painted on it."""

    __slots__ = ("_now_m", "metres")

    def __init__(self, window: Window, metres: F32, relief: F32, grain: F32, at_s: float) -> None:
        # The colours are never looked at: one row stands for all.
        super().__init__(window, np.zeros((1, 1, 3), np.float32), relief, grain, Sheets(), at_s)
        self.metres = metres
        self._now_m = np.inf

    def begin(self, distance_m: float) -> None:
        """What comes next is so far away."""
        self._now_m = distance_m

    def _draw(
        self,
        command: Command,
        points: NDArray[np.int32],
        box: tuple[slice, slice],
    ) -> None:
        """Draw shapes in the distance, unless they are veils or lines too thin to be met."""
        if command.alpha < _SOLID:
            return
        shapes, metres = command.shapes(points), (self._now_m,)
        if command.thick == 0:
            cv2.fillPoly(self.metres, shapes, metres, cv2.LINE_8, SHIFT)
        else:
            thick, closed = command.thick, command.closed
            cv2.polylines(self.metres, shapes, closed, metres, thick, cv2.LINE_8, SHIFT)

    def blend(
        self, area: tuple[slice, slice], inks: Sequence[F32], cover: F32, grain: float
    ) -> None:
        """Put the distance where the cover is more than half."""
        self.metres[area][cover >= _SOLID] = self._now_m

    def lay_over(self, area: tuple[slice, slice], inked: NDArray[np.uint8], cover: F32) -> None:
        """Put the distance where the cover is more than half."""
        self.metres[area][cover >= _SOLID] = self._now_m


def distances_m(
    bearing: F64,
    elevation: F64,
    back: Layer,
    front: Layer,
    stencils: Stencils,
    seed: int,
    at_s: float,
) -> F64:
    """Metres for directions of any one shape, in degrees; infinite for sky."""
    middle = float(bearing.flat[bearing.size // 2])
    turned = (bearing - middle + 180.0) % 360.0 - 180.0
    window = _window_around(turned + (middle + 180.0) % 360.0 - 180.0, elevation)
    metres = _depth_map(window, back, front, stencils, seed, at_s)
    left = window.left_deg + 360.0 * np.round(
        (middle + float(turned.min()) - window.left_deg) / 360.0
    )
    columns = np.floor((middle + turned - left) * window.px_per_deg).astype(np.int64)
    rows = np.floor((window.top_deg - elevation) * window.px_per_deg).astype(np.int64)
    seen = metres[rows.clip(0, window.height_px - 1), columns.clip(0, window.width_px - 1)].astype(
        np.float64
    )
    return np.where(seen == UNDERFOOT_M, plane_distance_m(elevation), seen)


def _window_around(bearing: F64, elevation: F64) -> Window:
    """A window over the directions, about twice as fine as they lie."""
    across = max(float(np.ptp(bearing)), 1e-4)
    down = max(float(np.ptp(elevation)), 1e-4)
    wanted = 2.0 * np.sqrt(bearing.size / (across * down))
    # Powers of two: frames of one lens and grid are seen at one scale.
    scale = float(np.clip(2.0 ** np.ceil(np.log2(wanted)), _COARSEST, _FINEST))
    scale = min(scale, float(np.sqrt(_MAX_PX / (across * down))))
    return Window(
        float(bearing.min()),
        float(elevation.max()),
        scale,
        int(np.ceil(across * scale)) + 1,
        int(np.ceil(down * scale)) + 1,
    ).grown(_MARGIN_PX)


def _depth_map(
    window: Window, back: Layer, front: Layer, stencils: Stencils, seed: int, at_s: float
) -> F32:
    """Metres for every pixel of a window, ``UNDERFOOT_M`` where a plane is seen."""
    bearing, elevation = window.bearings(), window.elevations()
    relief, grain = fields(window, seed, Sheets())
    metres = over_hills_m(bearing, elevation, 1.0 / window.px_per_deg, seed).astype(np.float32)
    metres[np.isinf(metres) & (elevation < 0.0)[:, None]] = UNDERFOOT_M
    canvas = DepthCanvas(window, metres, relief, grain, at_s)
    draw(canvas, back, stencils)
    metres[elevation[:, None] < shore_elevation(bearing)[None, :]] = UNDERFOOT_M
    draw(canvas, front, stencils)
    return metres
