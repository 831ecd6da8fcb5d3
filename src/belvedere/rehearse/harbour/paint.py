"""The canvas: anti-aliased vector shapes in degrees, painted in absolute sub-pixel phase.

A canvas has four 8-bit channels: sRGB-coded red, green, blue, and *grain*, which says how
strongly the shared relief texture will modulate that pixel when the picture is finished.
Shapes are rounded to 1/256 px in absolute coordinates before the window's corner is taken
off, so that the same shape gives the same pixels in every window.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .noise import F32, F64
from .palette import Rgb

SHIFT = 8  # bits of a pixel in fixed-point coordinates
_ONE = 1 << SHIFT
FAINT = 0.04  # opacity below which nothing is drawn
_BIAS = 0.137  # keeps shape corners and window corners off rounding ties

Points = Sequence[tuple[float, float]] | F64
Shapes = Sequence[Points] | F64


@dataclass(frozen=True, slots=True)
class Window:
    """A rectangle of the equirectangular lattice; the left edge is below 180° on arrival."""

    left_deg: float
    top_deg: float
    px_per_deg: float
    width_px: int
    height_px: int

    def bearings(self) -> F64:
        """Bearings of the pixel centres, (width,)."""
        return self.left_deg + _centres(self.width_px) / self.px_per_deg

    def elevations(self) -> F64:
        """Elevations of the pixel centres, (height,)."""
        return self.top_deg - _centres(self.height_px) / self.px_per_deg

    @property
    def right_deg(self) -> float:
        """Right edge."""
        return self.left_deg + self.width_px / self.px_per_deg

    @property
    def bottom_deg(self) -> float:
        """Lower edge."""
        return self.top_deg - self.height_px / self.px_per_deg

    def grown(self, margin_px: int) -> Window:
        """The same lattice with a margin all around."""
        m = margin_px / self.px_per_deg
        return Window(
            self.left_deg - m,
            self.top_deg + m,
            self.px_per_deg,
            self.width_px + 2 * margin_px,
            self.height_px + 2 * margin_px,
        )


def _centres(count: int) -> F64:
    return np.arange(count, dtype=np.float64) + 0.5


class Canvas:
    """Pixels of a window, and the phase that ties them to the sphere."""

    __slots__ = (
        "_dx",
        "_dy",
        "at_s",
        "grain",
        "ground",
        "pixels",
        "relief",
        "scale",
        "turn",
        "window",
    )

    def __init__(
        self, window: Window, picture: F32, relief: F32, grain: F32, at_s: float = 0.0
    ) -> None:
        self.window = window
        self.scale = window.px_per_deg
        self.relief = relief
        self.grain = grain
        self.at_s = at_s
        self.turn = 0
        self.ground = quantised(picture)
        self.pixels = cv2.cvtColor(self.ground, cv2.COLOR_RGB2RGBA).astype(np.uint8, copy=False)
        self.pixels[..., 3] = 0
        self._dx = self._dy = 0
        self.face(0)

    def face(self, turn: int) -> None:
        """See shapes this many full turns further right (windows that cross ±180°)."""
        self.turn = turn
        w = self.window
        self._dx = round((w.left_deg - 360.0 * turn) * w.px_per_deg * _ONE + _BIAS) + _ONE // 2
        self._dy = round(-w.top_deg * w.px_per_deg * _ONE + _BIAS) + _ONE // 2

    def begin(self, distance_m: float) -> None:
        """What comes next is so far away; colours do not mind."""

    def view(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of the window, in the turn it faces."""
        w, around = self.window, 360.0 * self.turn
        return w.left_deg - around, w.bottom_deg, w.right_deg - around, w.top_deg

    def fixed(
        self,
        points: Points | Shapes,
        scale_x: float = 1.0,
        scale_y: float = 1.0,
        x_deg: float = 0.0,
        y_deg: float = 0.0,
    ) -> NDArray[np.int32]:
        """Local points (..., 2), scaled to degrees and shifted, to fixed-point pixels."""
        k = self.scale * _ONE
        p = np.array(points, np.float64)
        p *= (scale_x * k, -scale_y * k)
        p += (x_deg * k, -y_deg * k)
        np.rint(p, out=p)
        p -= (self._dx, self._dy)
        return p.astype(np.int32)

    def fill(
        self, polygons: list[NDArray[np.int32]], ink: Rgb, grain: float, alpha: float = 1.0
    ) -> None:
        """Fill polygons in fixed-point pixels (they must not overlap one another)."""
        if alpha >= 0.996:
            cv2.fillPoly(self.pixels, polygons, _ink(ink, grain), cv2.LINE_AA, SHIFT)
            return
        self._veil(polygons, 1, ink, grain, alpha, None)

    def stroke(
        self,
        paths: list[NDArray[np.int32]],
        width_deg: float,
        ink: Rgb,
        grain: float,
        alpha: float = 1.0,
        closed: bool = False,
    ) -> None:
        """Draw lines in fixed-point pixels; those thinner than a pixel are drawn paler instead."""
        width_px = width_deg * self.scale
        alpha *= min(width_px, 1.0)
        if alpha < FAINT:
            return
        thick = max(1, round(width_px))
        if alpha >= 0.996:
            cv2.polylines(self.pixels, paths, closed, _ink(ink, grain), thick, cv2.LINE_AA, SHIFT)
            return
        self._veil(paths, thick, ink, grain, alpha, closed)

    def _veil(
        self,
        paths: list[NDArray[np.int32]],
        thick: int,
        ink: Rgb,
        grain: float,
        alpha: float,
        closed: bool | None,
    ) -> None:
        """Blend shapes over what is there; ``closed`` None means filled."""
        box = self._box(paths, thick)
        if box is None:
            return
        y0, y1, x0, x1 = box
        under = self.pixels[y0:y1, x0:x1]
        over = under.copy()
        off = (-x0 * _ONE, -y0 * _ONE)
        moved = [p + np.array(off, np.int32) for p in paths]
        if closed is None:
            cv2.fillPoly(over, moved, _ink(ink, grain), cv2.LINE_AA, SHIFT)
        else:
            cv2.polylines(over, moved, closed, _ink(ink, grain), thick, cv2.LINE_AA, SHIFT)
        cv2.addWeighted(over, alpha, under, 1.0 - alpha, 0.0, dst=over)
        self.pixels[y0:y1, x0:x1] = over

    def _box(self, paths: list[NDArray[np.int32]], thick: int) -> tuple[int, int, int, int] | None:
        corners = paths[0] if len(paths) == 1 else np.concatenate(paths)
        low = corners.min(axis=0) // _ONE - thick - 2
        high = corners.max(axis=0) // _ONE + thick + 3
        y0, y1 = max(int(low[1]), 0), min(int(high[1]), self.window.height_px)
        x0, x1 = max(int(low[0]), 0), min(int(high[0]), self.window.width_px)
        if y0 >= y1 or x0 >= x1:
            return None
        return y0, y1, x0, x1

    def rows_cols(
        self, left: float, bottom: float, right: float, top: float
    ) -> tuple[slice, slice] | None:
        """Pixel slices that cover a box in degrees, clipped; None when it is outside."""
        corner = self.fixed([(left, top), (right, bottom)])
        box = self._box([corner], 0)
        if box is None:
            return None
        y0, y1, x0, x1 = box
        return slice(y0, y1), slice(x0, x1)

    def degrees_at(self, area: tuple[slice, slice]) -> tuple[F64, F64]:
        """Bearings of the columns and elevations of the rows of an area."""
        w = self.window
        rows = np.arange(area[0].start, area[0].stop)
        cols = np.arange(area[1].start, area[1].stop)
        left = w.left_deg - 360.0 * self.turn
        return left + (cols + 0.5) / self.scale, w.top_deg - (rows + 0.5) / self.scale

    def blend(
        self, area: tuple[slice, slice], inks: Sequence[F32], cover: F32, grain: float
    ) -> None:
        """Blend three planes (h, w; 0..1 sRGB-coded) with coverage (h, w) over an area."""
        planes = []
        for under, ink in zip(cv2.split(self.pixels[area]), (*inks, None), strict=True):
            plane = under.astype(np.float32)
            change = (np.float32(grain) if ink is None else ink) * np.float32(255.0) - plane
            change *= cover
            plane += change
            plane += np.float32(0.5)
            planes.append(plane.clip(0, 255, out=plane).astype(np.uint8))
        self.pixels[area] = cv2.merge(planes)


def quantised(picture: F32) -> NDArray[np.uint8]:
    """sRGB-coded 0..1 to 8 bits, rounded."""
    return cv2.convertScaleAbs(picture, alpha=255.0).astype(np.uint8, copy=False)


def _ink(ink: Rgb, grain: float) -> tuple[float, float, float, float]:
    return (
        round(255 * min(max(ink[0], 0.0), 1.0)),
        round(255 * min(max(ink[1], 0.0), 1.0)),
        round(255 * min(max(ink[2], 0.0), 1.0)),
        round(255 * min(max(grain, 0.0), 1.0)),
    )
