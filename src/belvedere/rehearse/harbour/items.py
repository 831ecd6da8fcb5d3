"""What stands in the scene: a box in degrees and a way to paint it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .noise import F64
from .paint import Canvas
from .pen import Pen
from .stencil import Draft, Stencils

#: The distance of what lies at our feet: geometry tells it, from the elevation.
UNDERFOOT_M = -1.0


@dataclass(frozen=True, slots=True)
class Item:
    """One thing, with the box in degrees that it surely stays within.

    ``distance_m`` is how far away all of it is taken to be. What moves has a ``path``: from the
    seconds since the start to the item as it is then; at 0 s it is this one.
    """

    left: float
    bottom: float
    right: float
    top: float
    paint: Callable[[Draft], None]
    distance_m: float
    path: Callable[[float], Item] | None = None


def moving(path: Callable[[float], Item]) -> Item:
    """An item that is on its way."""
    return replace(path(0.0), path=path)


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

    def at(self, at_s: float) -> Layer:
        """The layer so many seconds after the start."""
        if at_s == 0.0:
            return self
        items, boxes = list(self.items), self.boxes.copy()
        for i, item in enumerate(self.items):
            if item.path is not None:
                now = items[i] = replace(item.path(at_s), path=item.path)
                boxes[i] = (now.left, now.bottom, now.right, now.top)
        return Layer(tuple(items), boxes)

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

    @property
    def distance_m(self) -> float:
        """The distance at which a metre looks this big."""
        return float(np.degrees(1.0 / self.deg_per_m))

    def moved(self, right_m: float, up_m: float = 0.0) -> Spot:
        """A place so many metres away, at the same distance from us."""
        k = self.deg_per_m
        return replace(
            self,
            bearing_deg=self.bearing_deg + right_m * k,
            elevation_deg=self.elevation_deg + up_m * k,
        )

    def pen(self, draft: Draft, *, grain: float = 0.12, flip: bool = False) -> Pen:
        """Draw here in metres."""
        return Pen(
            draft, self.bearing_deg, self.elevation_deg, self.deg_per_m, self.haze, grain, flip
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
        distance_m: float | None = None,
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
            lambda draft: draw(self.pen(draft, grain=grain, flip=flip)),
            self.distance_m if distance_m is None else distance_m,
        )


def draw(canvas: Canvas, layer: Layer, stencils: Stencils) -> None:
    """Paint what a canvas sees of a layer, in whichever turn it lies."""
    for turn in (-1, 0, 1):
        canvas.face(turn)
        for item in layer.seen(*canvas.view()):
            canvas.begin(item.distance_m)
            canvas.lay(stencils.of(item, canvas.scale, canvas.at_s))
    canvas.face(0)
