"""What a thing draws at one scale, kept ready to be laid on any window.

Shapes are rounded to 1/256 px in absolute coordinates. So what a thing draws depends on the scale
alone, and a frame that sees it again takes the corner of its window off and fills: nothing is
thrown, mixed or measured anew.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, chain
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .noise import F64
from .palette import Rgb

if TYPE_CHECKING:
    from .items import Item
    from .paint import Canvas

SHIFT = 8  # bits of a pixel in fixed-point coordinates
ONE = 1 << SHIFT
FAINT = 0.04  # opacity below which nothing is drawn
#: What the stencils of a scene may hold, about.
MOST_BYTES = 48 << 20

Points = Sequence[tuple[float, float]] | F64
Shapes = Sequence[Points] | F64
#: Scale along x and y, in degrees, and bearing and elevation of the origin.
Place = tuple[float, float, float, float]

_ANYWHERE = 1 << 60
_BYTES_A_COMMAND = 400  # of Python's own, about


class Command(NamedTuple):
    """Shapes of one colour: points ``first`` to ``last`` of a stencil.

    ``corners`` is how many points each shape has, or where the later ones begin; ``thick`` is
    the width of lines in px, 0 for filled polygons, which must not overlap one another.
    """

    first: int
    last: int
    corners: int | tuple[int, ...]
    ink: tuple[int, int, int, int]
    alpha: float
    thick: int
    closed: bool

    def shapes(self, points: NDArray[np.int32]) -> Sequence[NDArray[np.int32]]:
        """Its shapes, from all points of the stencil."""
        first, last, corners = self[:3]
        mine = points[first:last]
        if isinstance(corners, tuple):
            return np.split(mine, corners)
        return [mine] if corners == last - first else list(mine.reshape(-1, corners, 2))


#: Something that looks at the window that it paints on.
Brush = Callable[["Canvas"], None]


@dataclass(frozen=True, slots=True)
class Stencil:
    """All that a thing draws at one scale, in its order.

    ``points`` (n, 2) are in 1/256 px; ``low`` and ``high`` (commands, 2) are the boxes that surely
    hold what the commands touch. Valid at any moment, or only ``at_s``.
    """

    points: NDArray[np.int64]
    commands: tuple[Command | Brush, ...]
    low: NDArray[np.int64]
    high: NDArray[np.int64]
    at_s: float | None

    @property
    def bytes(self) -> int:
        """The memory it takes, about."""
        arrays = self.points.nbytes + self.low.nbytes + self.high.nbytes
        return arrays + _BYTES_A_COMMAND * (len(self.commands) + 1)


class Draft:
    """A stencil in the making: pens draw on it."""

    __slots__ = (
        "_at_s",
        "_chunks",
        "_commands",
        "_count",
        "_pending",
        "_places",
        "_timed",
        "scale",
    )

    def __init__(self, scale: float, at_s: float) -> None:
        self.scale = scale
        self._at_s = at_s
        self._timed = False
        self._chunks: list[F64] = []
        self._pending: list[tuple[float, float]] = []
        self._count = 0
        self._places: list[Place] = []
        self._commands: list[Command | Brush] = []

    @property
    def at_s(self) -> float:
        """The moment. Who asks draws what is true then only."""
        self._timed = True
        return self._at_s

    def fill(self, polygons: Shapes, place: Place, ink: Rgb, grain: float, alpha: float) -> None:
        """Polygons of one colour that do not overlap one another."""
        self._add(polygons, place, _ink(ink, grain), alpha, 0, False)

    def stroke(
        self,
        paths: Shapes,
        place: Place,
        width_deg: float,
        ink: Rgb,
        grain: float,
        alpha: float,
        closed: bool,
    ) -> None:
        """Lines of one colour; those thinner than a pixel are drawn paler instead."""
        width_px = width_deg * self.scale
        alpha *= min(width_px, 1.0)
        if alpha >= FAINT:
            thick = max(1, round(width_px))
            self._add(paths, place, _ink(ink, grain), alpha, thick, closed)

    def brush(self, paint: Brush) -> None:
        """Something that cannot be drawn without the window."""
        self._commands.append(paint)

    def _add(
        self,
        shapes: Shapes,
        place: Place,
        ink: tuple[int, int, int, int],
        alpha: float,
        thick: int,
        closed: bool,
    ) -> None:
        first, one = self._count, len(shapes[0])
        corners: int | tuple[int, ...] = one
        if isinstance(shapes, np.ndarray):
            self._flush()
            self._chunks.append(shapes.reshape(-1, 2))
            self._count += len(shapes) * one
        else:
            for shape in shapes:
                if isinstance(shape, np.ndarray):
                    if self._pending:
                        self._flush()
                    self._chunks.append(shape)
                else:
                    self._pending.extend(shape)
            if len(shapes) == 1:
                self._count += one
            else:
                sizes = [len(shape) for shape in shapes]
                self._count += sum(sizes)
                if sizes.count(one) < len(sizes):
                    corners = tuple(accumulate(sizes[:-1]))
        self._places.append(place)
        self._commands.append(Command(first, self._count, corners, ink, alpha, thick, closed))

    def _flush(self) -> None:
        if self._pending:
            flat = np.fromiter(chain.from_iterable(self._pending), np.float64)
            self._chunks.append(flat.reshape(-1, 2))
            self._pending.clear()

    def done(self) -> Stencil:
        """The stencil."""
        self._flush()
        n = len(self._commands)
        low = np.full((n, 2), -_ANYWHERE, np.int64)
        high = np.full((n, 2), _ANYWHERE, np.int64)
        points = np.zeros((0, 2), np.int64)
        drawn = [(i, c) for i, c in enumerate(self._commands) if isinstance(c, Command)]
        if drawn:
            counts = [c.last - c.first for _, c in drawn]
            points = self._fixed(np.concatenate(self._chunks), counts)
            index = [i for i, _ in drawn]
            first = [c.first for _, c in drawn]
            reach = np.array([max(c.thick, 1) for _, c in drawn], np.int64)[:, None]
            low[index] = np.minimum.reduceat(points, first) - (reach + 2) * ONE
            high[index] = np.maximum.reduceat(points, first) + (reach + 3) * ONE
        at_s = self._at_s if self._timed else None
        return Stencil(points, tuple(self._commands), low, high, at_s)

    def _fixed(self, points: F64, counts: list[int]) -> NDArray[np.int64]:
        """Local points, scaled to degrees and shifted, to fixed-point pixels."""
        k = self.scale * ONE
        places = np.array(self._places, np.float64) * (k, -k, k, -k)
        each = np.repeat(places, counts, axis=0)
        p = points * each[:, :2]
        p += each[:, 2:]
        return np.rint(p, out=p).astype(np.int64)


class Stencils:
    """The stencils of a scene: those used last, within bounds."""

    __slots__ = ("_bytes", "_kept", "_most_bytes")

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most_bytes = most_bytes
        self._bytes = 0
        # Items are told apart by identity, which holds as long as they are kept beside.
        self._kept: OrderedDict[tuple[int, float], tuple[Item, Stencil]] = OrderedDict()

    @property
    def held_bytes(self) -> int:
        """The memory that they take, about."""
        return self._bytes

    def of(self, item: Item, scale: float, at_s: float) -> Stencil:
        """What an item draws; kept where it stands still."""
        key = id(item), scale
        found = self._kept.get(key)
        if found is not None and found[1].at_s in (None, at_s):
            self._kept.move_to_end(key)
            return found[1]
        draft = Draft(scale, at_s)
        item.paint(draft)
        stencil = draft.done()
        if item.path is None:
            self._keep(key, item, stencil)
        return stencil

    def _keep(self, key: tuple[int, float], item: Item, stencil: Stencil) -> None:
        before = self._kept.pop(key, None)
        self._bytes += stencil.bytes - (before[1].bytes if before else 0)
        self._kept[key] = item, stencil
        while self._bytes > self._most_bytes:
            _, (_, oldest) = self._kept.popitem(last=False)
            self._bytes -= oldest.bytes


@lru_cache(maxsize=1 << 14)
def _ink(ink: Rgb, grain: float) -> tuple[int, int, int, int]:
    return _code(ink[0]), _code(ink[1]), _code(ink[2]), _code(grain)


def _code(share: float) -> int:
    if share <= 0.0:
        return 0
    return 255 if share >= 1.0 else round(255 * share)
