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

from .noise import F32, F64, bands
from .sheets import Sheets
from .stencil import ONE, SHIFT, Command, Stencil

_OPAQUE = 0.996  # opacity from which nothing of what is below is seen
# A pixel seen as one number, and what is left of it without its last channel.
_ALL_FOUR, _NO_GRAIN = np.dtype("<u4"), np.uint32(0x00FFFFFF)
Pixels = NDArray[np.uint8]
_BIAS = 0.137  # keeps shape corners and window corners off rounding ties


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
        "pixels",
        "relief",
        "scale",
        "turn",
        "window",
    )

    def __init__(
        self,
        window: Window,
        picture: F32,
        relief: F32,
        grain: F32,
        sheets: Sheets,
        at_s: float = 0.0,
    ) -> None:
        self.window = window
        self.scale = window.px_per_deg
        self.relief = relief
        self.grain = grain
        self.at_s = at_s
        self.turn = 0
        self.pixels: NDArray[np.uint8] = sheets.empty((*picture.shape[:2], 4), np.uint8)
        for band in bands(0, len(picture)):
            cv2.cvtColor(quantised(picture[band]), cv2.COLOR_RGB2RGBA, self.pixels[band])
            self.pixels[band].view(_ALL_FOUR)[...] &= _NO_GRAIN
        self._dx = self._dy = 0
        self.face(0)

    def face(self, turn: int) -> None:
        """See shapes this many full turns further right (windows that cross ±180°)."""
        self.turn = turn
        w = self.window
        self._dx = round((w.left_deg - 360.0 * turn) * w.px_per_deg * ONE + _BIAS) + ONE // 2
        self._dy = round(-w.top_deg * w.px_per_deg * ONE + _BIAS) + ONE // 2

    def begin(self, distance_m: float) -> None:
        """What comes next is so far away; colours do not mind."""

    def view(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of the window, in the turn it faces."""
        w, around = self.window, 360.0 * self.turn
        return w.left_deg - around, w.bottom_deg, w.right_deg - around, w.top_deg

    def lay(self, stencil: Stencil) -> None:
        """Paint what a stencil shows of a thing in this window."""
        corner = self._dx, self._dy
        low = np.maximum((stencil.low - corner) >> SHIFT, 0)
        high = np.minimum(
            (stencil.high - corner) >> SHIFT, (self.window.width_px, self.window.height_px)
        )
        seen = np.flatnonzero((low[:, 0] < high[:, 0]) & (low[:, 1] < high[:, 1]))
        if seen.size == 0:
            return
        points = (stencil.points - corner).astype(np.int32)
        boxes = np.concatenate((low, high), axis=1)[seen].tolist()
        commands = stencil.commands
        for i, (x0, y0, x1, y1) in zip(seen.tolist(), boxes, strict=True):
            command = commands[i]
            if isinstance(command, Command):
                self._draw(command, points, (slice(y0, y1), slice(x0, x1)))
            else:
                command(self)

    def _draw(
        self,
        command: Command,
        points: NDArray[np.int32],
        box: tuple[slice, slice],
    ) -> None:
        """Draw shapes of a stencil, whose points are in fixed-point pixels, into their box."""
        shapes, alpha = command.shapes(points), command.alpha
        if alpha >= _OPAQUE:
            _ink_in(self.pixels, shapes, command)
            return
        over = self.pixels[box]
        under = over.copy()
        _ink_in(self.pixels, shapes, command)
        cv2.addWeighted(over, alpha, under, 1.0 - alpha, 0.0, over)

    def rows_cols(
        self, left: float, bottom: float, right: float, top: float
    ) -> tuple[slice, slice] | None:
        """Pixel slices that cover a box in degrees, clipped; None when it is outside."""
        k = self.scale * ONE
        x0 = max((round(left * k) - self._dx) // ONE - 2, 0)
        x1 = min((round(right * k) - self._dx) // ONE + 3, self.window.width_px)
        y0 = max((round(-top * k) - self._dy) // ONE - 2, 0)
        y1 = min((round(-bottom * k) - self._dy) // ONE + 3, self.window.height_px)
        if y0 >= y1 or x0 >= x1:
            return None
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
            if ink is None:
                change = np.float32(grain) * np.float32(255.0) - plane
            else:
                change = ink * np.float32(255.0)
                change -= plane
            change *= cover
            plane += change
            plane += np.float32(0.5)
            planes.append(plane.clip(0, 255, out=plane).astype(np.uint8))
        self.pixels[area] = cv2.merge(planes)

    def lay_over(self, area: tuple[slice, slice], inked: Pixels, cover: F32) -> None:
        """Lay pixels (h, w, 4) over an area with coverage (h, w)."""
        under = self.pixels[area]
        self.pixels[area] = cv2.blendLinear(inked, under, cover, np.float32(1.0) - cover)


def quantised(picture: F32) -> NDArray[np.uint8]:
    """sRGB-coded 0..1 to 8 bits, rounded."""
    return cv2.convertScaleAbs(picture, alpha=255.0).astype(np.uint8, copy=False)


def _ink_in(
    pixels: NDArray[np.uint8], shapes: Sequence[NDArray[np.int32]], command: Command
) -> None:
    if command.thick == 0:
        cv2.fillPoly(pixels, shapes, command.ink, cv2.LINE_AA, SHIFT)
    else:
        cv2.polylines(
            pixels, shapes, command.closed, command.ink, command.thick, cv2.LINE_AA, SHIFT
        )
