"""What stands in the scene: a box in degrees and a way to paint it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .noise import F64
from .paint import Canvas
from .pen import Pen


@dataclass(frozen=True, slots=True)
class Item:
    """One thing, with the box in degrees that it surely stays within."""

    left: float
    bottom: float
    right: float
    top: float
    paint: Callable[[Canvas], None]


@dataclass(frozen=True, slots=True)
class Layer:
    """Items back to front, with their boxes as an array (left, bottom, right, top)."""

    items: tuple[Item, ...]
    boxes: F64

    @classmethod
    def of(cls, items: tuple[Item, ...]) -> Layer:
        """Gather the boxes."""
        boxes = np.array([(i.left, i.bottom, i.right, i.top) for i in items], np.float64)
        return cls(items, boxes.reshape(-1, 4))

    def seen(self, left: float, bottom: float, right: float, top: float) -> list[Item]:
        """What touches a view, still back to front."""
        b = self.boxes
        touches = (b[:, 0] < right) & (b[:, 2] > left) & (b[:, 1] < top) & (b[:, 3] > bottom)
        return [self.items[i] for i in np.flatnonzero(touches)]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place: bearing and elevation of its foot, degrees per metre, haze."""

    bearing_deg: float
    elevation_deg: float
    deg_per_m: float
    haze: float = 0.0

    def pen(self, canvas: Canvas, *, grain: float = 0.12, flip: bool = False) -> Pen:
        """Draw here in metres."""
        return Pen(
            canvas, self.bearing_deg, self.elevation_deg, self.deg_per_m, self.haze, grain, flip
        )

    def item(
        self,
        draw: Callable[[Pen], None],
        left_m: float,
        bottom_m: float,
        right_m: float,
        top_m: float,
        *,
        grain: float = 0.12,
        flip: bool = False,
    ) -> Item:
        """An item here, with its box in metres around the foot."""
        k = self.deg_per_m
        if flip:
            left_m, right_m = -right_m, -left_m
        return Item(
            self.bearing_deg + left_m * k,
            self.elevation_deg + bottom_m * k,
            self.bearing_deg + right_m * k,
            self.elevation_deg + top_m * k,
            lambda canvas: draw(self.pen(canvas, grain=grain, flip=flip)),
        )
