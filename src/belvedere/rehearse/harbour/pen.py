"""The pen: shapes in metres around a point of the scene, seen through its air."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from .noise import F32, F64
from .paint import Canvas
from .palette import HAZE, Rgb, mix
from .stencil import FAINT, Draft, Points, Shapes

_AROUND = [0, 1, 2, 1, 2, 3, 0, 3]  # corners of a box (left, bottom, right, top)


class Pen:
    """Draws in metres around a point of the scene that is at some distance.

    Local x runs to the right, y up; ``deg_per_m`` sets the size. Colours sink into the haze
    with ``haze`` (0 near … 1 gone).
    """

    __slots__ = ("_draft", "_flip", "_place", "_x", "_y", "deg_per_m", "grain", "haze", "px_per_m")

    def __init__(
        self,
        draft: Draft,
        x_deg: float,
        y_deg: float,
        deg_per_m: float,
        haze: float = 0.0,
        grain: float = 0.12,
        flip: bool = False,
    ) -> None:
        self._draft = draft
        self._x = x_deg
        self._y = y_deg
        self._flip = -1.0 if flip else 1.0
        self._place = deg_per_m * self._flip, deg_per_m, x_deg, y_deg
        self.deg_per_m = deg_per_m
        self.px_per_m = deg_per_m * draft.scale
        self.haze = haze
        self.grain = grain

    @property
    def at_s(self) -> float:
        """The moment that is drawn."""
        return self._draft.at_s

    def shows(self, metres: float, at_least_px: float = 1.0) -> bool:
        """Whether a detail of this size is worth drawing at this scale."""
        return metres * self.px_per_m >= at_least_px

    def moved(self, x_m: float, y_m: float, scale: float = 1.0, flip: bool = False) -> Pen:
        """A pen with its origin elsewhere."""
        return Pen(
            self._draft,
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

    def metres(self, canvas: Canvas, area: tuple[slice, slice]) -> tuple[F32, F32]:
        """Local x of the columns and y of the rows of an area of a canvas."""
        x, y = canvas.degrees_at(area)
        return (
            ((x - self._x) / (self.deg_per_m * self._flip)).astype(np.float32),
            ((y - self._y) / self.deg_per_m).astype(np.float32),
        )

    def brush(self, paint: Callable[[Pen, Canvas], None]) -> None:
        """Something that must see the canvas: it is called for each, with this pen."""
        self._draft.brush(partial(paint, self))

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
        self._draft.fill(shapes, self._place, self.tone(ink), g * (1 - self.haze), alpha)

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
        if len(paths) == 0 or alpha * width_m * self.px_per_m < FAINT:
            return
        self._draft.stroke(
            paths,
            self._place,
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
