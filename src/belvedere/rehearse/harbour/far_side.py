"""Behind our back: what is hard to match. Equal windows, a crowd, fog over still water, print."""

from __future__ import annotations

from functools import partial

import numpy as np

from .dice import Dice
from .ground import deg_per_m, elevation_of, haze_at
from .items import Item, Spot
from .lettering import write
from .paint import Canvas
from .palette import GLASS, GRANITE, HAZE, STONE, WHITE, darker, lit, mix, rgb, shaded
from .pen import Pen
from .people import draw_someone
from .printed_wall import printed_wall

_ROPEWALK_M = 240.0
_LEFT_DEG, _BAYS, _BAY_M = 96.0, 48, 3.1
_FLOORS, _FLOOR_M = 4, 3.6
_QUAY_M = 1.9
_BAYS_AT_A_TIME = 4
_FOG_M = 900.0
_FOG_DEG = (-176.0, -106.5)
_FOG_SIDE_DEG = 18.0


def far_side(seed: int) -> tuple[Item, ...]:
    """The ropewalk with its crowd, the fog bank over still water, the printed wall."""
    return (_fog(), *_ropewalk(), *_crowd(seed), *printed_wall(seed))


def _ropewalk_spot(along_m: float, height_m: float, near_m: float = 0.0) -> Spot:
    d = _ROPEWALK_M - near_m
    k = deg_per_m(_ROPEWALK_M)
    return Spot(_LEFT_DEG + along_m * k, elevation_of(height_m, d), deg_per_m(d), haze_at(d))


def _ropewalk() -> list[Item]:
    """A hundred and fifty metres of the same window; drawn a few bays at a time."""
    length = _BAYS * _BAY_M
    front = _ropewalk_spot(0.0, _QUAY_M)
    items = [front.item(_draw_front, -6.5, -_QUAY_M - 7.0, length + 6.5, 20.0, grain=0.05)]
    for first in range(0, _BAYS, _BAYS_AT_A_TIME):
        spot = _ropewalk_spot(first * _BAY_M, _QUAY_M)
        items.append(spot.item(_draw_bays, 0.0, 0.0, _BAYS_AT_A_TIME * _BAY_M, 16.0, grain=0.05))
    middle = _ropewalk_spot(length / 2.0, _QUAY_M)
    items.append(middle.item(_draw_sign, -12.0, 13.0, 12.0, 17.0))
    return items


def _draw_front(pen: Pen) -> None:
    """The long wall and its roof, the quay before it, and their image in the water."""
    width, high = _BAYS * _BAY_M, _FLOORS * _FLOOR_M
    left, right = -6.0, width + 6.0
    wall = lit(rgb(0xC9A98A), 0.98)
    for i in range(9):
        y = -_QUAY_M - 0.65 * i
        pen.rect(left, y - 0.42, right, y, darker(wall, 0.55), 0.30 * (1.0 - i / 9.0), grain=0.02)
    pen.rect(left, -_QUAY_M, right, 0.0, lit(mix(STONE, GRANITE, 0.5), 0.8), grain=0.3)
    pen.rect(left, -0.3, right, 0.05, lit(GRANITE, 1.1), grain=0.2)
    pen.rect(0.0, 0.0, width, high, wall)
    slate = rgb(0x6F6E70)
    pen.fill([(0, high), (width, high), (width, high + 2.6), (0, high + 2.6)], lit(slate, 0.95))
    if pen.shows(0.25, 1.2):
        rows = np.arange(high + 0.25, high + 2.6, 0.25)
        pen.lines([[(0, y), (width, y)] for y in rows], 0.03, darker(slate, 0.6), 0.8)
    pen.rect(0.0, high - 0.35, width, high + 0.05, lit(STONE, 1.05))
    for floor in range(_FLOORS):
        pen.rect(0.0, floor * _FLOOR_M, width, floor * _FLOOR_M + 0.16, lit(STONE, 0.97))


def _draw_bays(pen: Pen) -> None:
    """Some bays of the front, floor by floor."""
    for floor in range(_FLOORS):
        _draw_equal_windows(pen, floor * _FLOOR_M + 0.95)


def _draw_equal_windows(pen: Pen, sill: float) -> None:
    """One floor's windows: nothing about any of them is its own."""
    w, h = 1.15, 1.95
    xs = [(_BAY_M - w) / 2.0 + i * _BAY_M for i in range(_BAYS_AT_A_TIME)]
    boxes = [(x, sill, x + w, sill + h) for x in xs]
    pen.rects([(a - 0.14, b - 0.1, c + 0.14, d + 0.18) for a, b, c, d in boxes], lit(STONE, 1.06))
    pen.rects(boxes, darker(GLASS, 0.62))
    pen.fills(
        [[(a, d), (a + 0.6 * w, d), (a, b + 0.45 * h)] for a, b, c, d in boxes], rgb(0xAFC3CF), 0.4
    )
    if pen.shows(0.06, 0.6):
        bars = [[(a + w * f, b), (a + w * f, d)] for a, b, c, d in boxes for f in (1 / 3, 2 / 3)]
        bars += [
            [(a, b + h * f), (c, b + h * f)] for a, b, c, d in boxes for f in (0.25, 0.5, 0.75)
        ]
        pen.lines(bars, 0.05, lit(WHITE, 0.95))
    pen.rects([(a - 0.2, b - 0.16, c + 0.2, b) for a, b, c, d in boxes], lit(STONE, 1.1))
    for a, b, c, _ in boxes:
        pen.shade([(a - 0.2, b - 0.16), (c + 0.2, b - 0.16), (c + 0.26, b - 0.3), (a, b - 0.3)])


def _draw_sign(pen: Pen) -> None:
    pen.rect(-11.0, 13.4, 11.0, 14.1, rgb(0x2F4F66))
    write(pen, 0.0, 13.52, "SALTMERE ROPEWALK", 0.46, lit(rgb(0xEFDDAE)), centred=True)


def _crowd(seed: int) -> list[Item]:
    """Regatta day: some hundreds of people along the ropewalk's quay, far ones first."""
    dice = Dice(seed, 71)
    items = []
    for row in range(3):
        count = 150
        for i in range(count):
            along = 2.0 + (_BAYS * _BAY_M - 4.0) * (i + dice.between(0.1, 0.9, 1, row, i)) / count
            spot = _ropewalk_spot(along, _QUAY_M - 0.22 * row, 1.5 * row)
            draw = partial(draw_someone, dice=dice.child(row, i))
            items.append(spot.item(draw, -1.5, -0.4, 1.8, 2.4))
    return items


def _fog() -> Item:
    """A fog bank on the water, and the water before it still and pale: nothing to hold on to."""
    left, right = _FOG_DEG
    spot = Spot(0.0, 0.0, 1.0)
    return spot.item(_draw_fog, left, -7.4, right, 5.0, distance_m=_FOG_M)


def _draw_fog(pen: Pen) -> None:
    """Local units are degrees."""
    pen.brush(_blend_fog)


def _blend_fog(pen: Pen, canvas: Canvas) -> None:
    """Towards plain tones."""
    left, right = _FOG_DEG
    area = canvas.rows_cols(left, -7.4, right, 5.0)
    if area is None:
        return
    x, y = pen.metres(canvas, area)
    sides = _ramp(x - left, _FOG_SIDE_DEG) * _ramp(right - x, _FOG_SIDE_DEG)
    thick = _ramp(5.0 - y, 4.0) * _ramp(y + 7.4, 1.6)
    air = np.array(HAZE, np.float32)
    water = np.array(mix(HAZE, shaded(rgb(0x8FA6B4)), 0.55), np.float32)
    share = _ramp(-y, 6.0)[:, None]
    tone = air + (water - air) * share
    inks = [np.broadcast_to(tone[:, c, None], (len(y), len(x))) for c in range(3)]
    canvas.blend(area, inks, (thick[:, None] * sides[None, :]).astype(np.float32), 0.0)


def _ramp(t: np.ndarray, width: float) -> np.ndarray:
    """From 0 to 1 over a width, without corners."""
    s = np.clip(t / np.float32(width), 0.0, 1.0)
    return s * s * (3.0 - 2.0 * s)
