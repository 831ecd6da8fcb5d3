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
from .palette import HAZE, Rgb, mix

_SHIFT = 8
_ONE = 1 << _SHIFT
_FAINT = 0.04  # opacity below which nothing is drawn
_BIAS = 0.137  # keeps shape corners and window corners off rounding ties

_AROUND = [0, 1, 2, 1, 2, 3, 0, 3]  # corners of a box (left, bottom, right, top)

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

    __slots__ = ("_dx", "_dy", "grain", "ground", "pixels", "relief", "scale", "turn", "window")

    def __init__(self, window: Window, picture: F32, relief: F32, grain: F32) -> None:
        self.window = window
        self.scale = window.px_per_deg
        self.relief = relief
        self.grain = grain
        self.turn = 0
        self.pixels = np.zeros((window.height_px, window.width_px, 4), np.uint8)
        self.ground = quantised(picture)
        self.pixels[..., :3] = self.ground
        self._dx = self._dy = 0
        self.face(0)

    def face(self, turn: int) -> None:
        """See shapes this many full turns further right (windows that cross ±180°)."""
        self.turn = turn
        w = self.window
        self._dx = round((w.left_deg - 360.0 * turn) * w.px_per_deg * _ONE + _BIAS) + _ONE // 2
        self._dy = round(-w.top_deg * w.px_per_deg * _ONE + _BIAS) + _ONE // 2

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
            cv2.fillPoly(self.pixels, polygons, _ink(ink, grain), cv2.LINE_AA, _SHIFT)
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
        if alpha < _FAINT:
            return
        thick = max(1, round(width_px))
        if alpha >= 0.996:
            cv2.polylines(self.pixels, paths, closed, _ink(ink, grain), thick, cv2.LINE_AA, _SHIFT)
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
            cv2.fillPoly(over, moved, _ink(ink, grain), cv2.LINE_AA, _SHIFT)
        else:
            cv2.polylines(over, moved, closed, _ink(ink, grain), thick, cv2.LINE_AA, _SHIFT)
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

    def blend(self, area: tuple[slice, slice], ink: F32, cover: F32, grain: float) -> None:
        """Blend a float picture (h, w, 3; 0..1 sRGB-coded) with coverage (h, w) over an area."""
        part = self.pixels[area]
        under = part.astype(np.float32)
        c = cover[..., None]
        under[..., :3] += (ink * np.float32(255.0) - under[..., :3]) * c
        under[..., 3] += (np.float32(grain * 255.0) - under[..., 3]) * cover
        self.pixels[area] = (under + np.float32(0.5)).clip(0, 255).astype(np.uint8)


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


class Pen:
    """Draws in metres around a point of the scene that is at some distance.

    Local x runs to the right, y up; ``deg_per_m`` sets the size. Colours sink into the haze
    with ``haze`` (0 near … 1 gone).
    """

    __slots__ = ("_canvas", "_flip", "_x", "_y", "deg_per_m", "grain", "haze", "px_per_m")

    def __init__(
        self,
        canvas: Canvas,
        x_deg: float,
        y_deg: float,
        deg_per_m: float,
        haze: float = 0.0,
        grain: float = 0.12,
        flip: bool = False,
    ) -> None:
        self._canvas = canvas
        self._x = x_deg
        self._y = y_deg
        self._flip = -1.0 if flip else 1.0
        self.deg_per_m = deg_per_m
        self.px_per_m = deg_per_m * canvas.scale
        self.haze = haze
        self.grain = grain

    @property
    def canvas(self) -> Canvas:
        """What it draws on."""
        return self._canvas

    def shows(self, metres: float, at_least_px: float = 1.0) -> bool:
        """Whether a detail of this size is worth drawing at this scale."""
        return metres * self.px_per_m >= at_least_px

    def moved(self, x_m: float, y_m: float, scale: float = 1.0, flip: bool = False) -> Pen:
        """A pen with its origin elsewhere."""
        return Pen(
            self._canvas,
            self._x + self._flip * x_m * self.deg_per_m,
            self._y + y_m * self.deg_per_m,
            self.deg_per_m * scale,
            self.haze,
            self.grain,
            flip != (self._flip < 0),
        )

    def degrees(self, points: Points) -> F64:
        """Local metres to degrees."""
        p = np.asarray(points, np.float64)
        out = np.empty_like(p)
        out[..., 0] = p[..., 0] * (self.deg_per_m * self._flip) + self._x
        out[..., 1] = p[..., 1] * self.deg_per_m + self._y
        return out

    @property
    def sunward(self) -> float:
        """+1 where local x runs away from the sun, -1 in a flipped pen."""
        return self._flip

    def metres(self, area: tuple[slice, slice]) -> tuple[F32, F32]:
        """Local x of the columns and y of the rows of an area of the canvas."""
        x, y = self._canvas.degrees_at(area)
        return (
            ((x - self._x) / (self.deg_per_m * self._flip)).astype(np.float32),
            ((y - self._y) / self.deg_per_m).astype(np.float32),
        )

    def _fixed(self, shapes: Shapes) -> list[NDArray[np.int32]]:
        k = self.deg_per_m
        n = len(shapes[0])
        if len(shapes) > 1 and all(len(s) == n for s in shapes):
            return list(self._canvas.fixed(shapes, k * self._flip, k, self._x, self._y))
        return [self._canvas.fixed(s, k * self._flip, k, self._x, self._y) for s in shapes]

    def tone(self, ink: Rgb) -> Rgb:
        """The colour as seen through the air."""
        return mix(ink, HAZE, self.haze) if self.haze else ink

    def fill(
        self, points: Points, ink: Rgb, alpha: float = 1.0, grain: float | None = None
    ) -> None:
        """One polygon."""
        self.fills([points], ink, alpha, grain)

    def fills(
        self,
        shapes: Shapes,
        ink: Rgb,
        alpha: float = 1.0,
        grain: float | None = None,
    ) -> None:
        """Polygons of one colour that do not overlap one another."""
        if len(shapes) == 0:
            return
        g = self.grain if grain is None else grain
        self._canvas.fill(self._fixed(shapes), self.tone(ink), g * (1 - self.haze), alpha)

    def rect(
        self,
        x0: float,
        y0: float,
        x1: float,
        y1: float,
        ink: Rgb,
        alpha: float = 1.0,
        grain: float | None = None,
    ) -> None:
        """An upright rectangle."""
        self.fills([[(x0, y0), (x1, y0), (x1, y1), (x0, y1)]], ink, alpha, grain)

    def rects(self, boxes: Sequence[tuple[float, float, float, float]], ink: Rgb) -> None:
        """Upright rectangles of one colour."""
        if len(boxes) == 0:
            return
        sides = np.asarray(boxes, np.float64)
        self.fills(sides[:, _AROUND].reshape(-1, 4, 2), ink)

    def disc(
        self,
        x: float,
        y: float,
        rx: float,
        ink: Rgb,
        ry: float | None = None,
        alpha: float = 1.0,
        grain: float | None = None,
    ) -> None:
        """An ellipse."""
        self.fill(ellipse(x, y, rx, rx if ry is None else ry), ink, alpha, grain)

    def line(
        self,
        points: Points,
        width_m: float,
        ink: Rgb,
        alpha: float = 1.0,
        closed: bool = False,
    ) -> None:
        """One open or closed line."""
        self.lines([points], width_m, ink, alpha, closed)

    def lines(
        self,
        paths: Shapes,
        width_m: float,
        ink: Rgb,
        alpha: float = 1.0,
        closed: bool = False,
    ) -> None:
        """Lines of one colour and width."""
        if len(paths) == 0 or alpha * width_m * self.px_per_m < _FAINT:
            return
        self._canvas.stroke(
            self._fixed(paths),
            width_m * self.deg_per_m,
            self.tone(ink),
            self.grain * (1 - self.haze),
            alpha,
            closed,
        )

    def shade(self, points: Points, alpha: float = 0.45) -> None:
        """A cast shadow: cool, and one still sees what it falls on."""
        self.fill(points, (0.13, 0.15, 0.25), alpha * (1 - 0.6 * self.haze))


_CIRCLE = np.stack(
    [np.cos(np.linspace(0, 2 * np.pi, 25)[:-1]), np.sin(np.linspace(0, 2 * np.pi, 25)[:-1])], 1
)


def ellipse(x: float, y: float, rx: float, ry: float) -> F64:
    """24 corners of an ellipse."""
    return _CIRCLE * (rx, ry) + (x, y)
