"""A house: its volume in oblique projection, roof, front and side, light and cast shadows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from .dice import Dice
from .facades import (
    Box,
    Style,
    choose_style,
    draw_balcony,
    draw_door,
    draw_laundry,
    draw_plaster,
    draw_windows,
)
from .palette import GLASS, ROOFS, STONE, WALLS, Rgb, darker, lit, mix, rgb, shaded
from .pen import Pen
from .roofs import (
    draw_antenna,
    draw_chimney,
    draw_dormer,
    draw_ridge,
    draw_skylight,
    draw_slope,
)
from .shops import draw_shop
from .trees import draw_ivy


class Form(Enum):
    """Which side of the roof looks at the harbour."""

    EAVES = "eaves"
    GABLE = "gable"
    HIP = "hip"


@dataclass(frozen=True, slots=True)
class House:
    """Sizes in metres; ``side`` is how much of a side wall is seen, ``turned`` if the left one."""

    key: int
    width: float
    storeys: int
    side: float
    turned: bool
    form: Form
    shop: bool
    cellar: float

    @property
    def height(self) -> float:
        """Up to the eaves."""
        return self.storeys * 2.95 + 0.45

    @property
    def rise(self) -> float:
        """From eaves to ridge, as drawn."""
        if self.form is Form.GABLE:
            return 0.36 * self.width
        return 1.9 + 0.1 * self.width


def choose_house(dice: Dice, key: int, *, turned: bool, front_row: bool) -> House:
    """A house, by chance."""
    form = dice.choice((Form.EAVES, Form.EAVES, Form.GABLE, Form.HIP), 1)
    return House(
        key=key,
        width=dice.between(4.6, 8.4, 2),
        storeys=dice.choice((2, 3, 3, 4) if front_row else (2, 2, 3, 3), 3),
        side=dice.between(0.8, 2.4, 4),
        turned=turned,
        form=form,
        shop=front_row and dice.chance(0.55, 5),
        cellar=1.2 if front_row else 6.0,
    )


def draw_house(pen: Pen, dice: Dice, house: House) -> None:
    """The whole house; local origin at the lower left corner of the front."""
    base = dice.choice(WALLS, 10)
    clay = dice.choice(ROOFS, 11)
    style = choose_style(dice.child(1), lit(base, 0.97))
    if not pen.shows(house.width, 9.0):
        _small(pen, house, base, clay)
        return
    volume = pen.moved(house.width, 0, flip=True) if house.turned else pen
    _side(volume, dice.child(2), house, base)
    _front_wall(pen, dice.child(3), house, style)
    _roof(volume, dice.child(4), house, clay, base)
    _front(pen, dice.child(5), house, style)
    _cast(pen, dice.child(6), house)
    _on_roof(pen, dice.child(7), house, base, clay)


def _small(pen: Pen, house: House, base: Rgb, clay: Rgb) -> None:
    """The house from very far: a wall, some dark for the windows, a roof."""
    w, h = house.width, house.height
    pen.rect(0, -house.cellar, w, h, darker(lit(base, 0.97), 0.88))
    pen.rect(0.15 * w, 0.2 * h, 0.85 * w, 0.8 * h, darker(base, 0.6), 0.5)
    pen.fill(
        [(0, h), (w, h), (0.8 * w, h + house.rise), (0.2 * w, h + house.rise)], darker(clay, 0.85)
    )


def _side(pen: Pen, dice: Dice, house: House, base: Rgb) -> None:
    w, h, s = house.width, house.height, house.side
    ink = lit(base, 1.10) if house.turned else shaded(base, 1.0)
    corners = [(w, -house.cellar), (w + s, -house.cellar), (w + s, h), (w, h)]
    if house.form is Form.EAVES:
        corners = [*corners[:3], (w + s / 2, h + house.rise), (w, h)]
    pen.fill(corners, ink)
    if pen.shows(0.4, 1.0) and s > 1.2 and dice.chance(0.7, 1):
        x = w + 0.5 * s - 0.2
        for j in range(house.storeys):
            if dice.chance(0.6, 2, j):
                y = 0.95 + 2.95 * j
                pen.rect(x - 0.05, y - 0.05, x + 0.45, y + 1.15, darker(ink, 1.1))
                pen.rect(x, y, x + 0.4, y + 1.1, darker(GLASS, 0.7))
                pen.lines(
                    [[(x + 0.2, y), (x + 0.2, y + 1.1)], [(x, y + 0.55), (x + 0.4, y + 0.55)]],
                    0.04,
                    darker(ink, 1.05),
                )


def _front_wall(pen: Pen, dice: Dice, house: House, style: Style) -> None:
    w, h = house.width, house.height
    corners = [(0, -house.cellar), (w, -house.cellar), (w, h), (0, h)]
    if house.form is Form.GABLE:
        corners = [*corners[:3], (w / 2, h + house.rise), (0, h)]
    pen.fill(corners, style.wall, grain=0.13)
    if house.cellar > 2:
        _rubble(pen, dice.child(1), w, house.cellar)
    draw_plaster(pen, dice, w, h, style.wall)
    if pen.shows(0.2, 1.0) and dice.chance(0.4, 31):
        ys = np.arange(0.3, h - 0.3, 0.7)
        quoins = [
            (0.0 if s == 0 else w - q, y, q if s == 0 else w, y + 0.34)
            for i, y in enumerate(ys)
            for s in (0, 1)
            for q in (0.5 if i % 2 == 0 else 0.32,)
        ]
        pen.rects(quoins, lit(mix(STONE, style.wall, 0.35), 1.02))
    for j in range(1, house.storeys):
        if dice.chance(0.35, 32):
            y = 2.95 * j + 0.25
            pen.rect(0, y, w, y + 0.14, lit(style.trim, 0.98))
            pen.shade([(0, y), (w, y), (w, y - 0.1), (0, y - 0.1)], 0.35)


def _rubble(pen: Pen, dice: Dice, w: float, depth: float) -> None:
    """The stone base on which houses of the hillside stand."""
    stone = lit(mix(STONE, rgb(0x9A8A70), dice.unit(1)), 0.9)
    pen.rect(0, -depth, w, 0, stone, grain=0.3)
    if pen.shows(0.4, 1.5):
        rows = np.arange(-depth, -0.1, 0.42)
        pen.lines(
            [[(0, y), (w, y + dice.between(-0.05, 0.05, 2, i))] for i, y in enumerate(rows)],
            0.04,
            darker(stone, 0.62),
            0.7,
        )
        ticks = [
            [
                (x + dice.between(-0.2, 0.2, 3, i, j), y),
                (x + dice.between(-0.2, 0.2, 3, i, j), y + 0.42),
            ]
            for i, y in enumerate(rows)
            for j, x in enumerate(np.arange(0.4, w, 0.8))
        ]
        pen.lines(ticks, 0.04, darker(stone, 0.62), 0.7)


def _roof(pen: Pen, dice: Dice, house: House, clay: Rgb, base: Rgb) -> None:
    w, h, s, r = house.width, house.height, house.side, house.rise
    e = 0.32
    y = h - 0.12
    if house.form is Form.EAVES:
        sunny = lit(clay, 0.93)
        draw_slope(
            pen,
            dice,
            ((-e, y), (w + e, y), (w + s / 2 + e, h + r), (s / 2 - e, h + r)),
            sunny,
            w,
            3.2,
        )
        draw_ridge(pen, (s / 2 - e, h + r), (w + s / 2 + e, h + r), sunny)
        verge = darker(clay, 1.05 if house.turned else 0.55)
        pen.line([(w + e, y), (w + s / 2 + e, h + r), (w + s + e * 0.6, y)], 0.16, verge)
    elif house.form is Form.HIP:
        sunny = lit(clay, 0.93)
        inset = 0.24 * w
        edge = lit(clay, 1.1) if house.turned else shaded(clay, 0.9)
        pen.fill([(w + e, y), (w + s + e, y), (w - inset + s * 0.5, h + r)], edge, grain=0.2)
        draw_slope(
            pen,
            dice,
            ((-e, y), (w + e, y), (w - inset + s * 0.4, h + r), (inset, h + r)),
            sunny,
            w,
            3.2,
        )
        draw_ridge(pen, (inset, h + r), (w - inset + s * 0.4, h + r), sunny)
        draw_ridge(pen, (w + e, y), (w - inset + s * 0.4, h + r), sunny)
    else:
        slope = lit(clay, 1.06) if house.turned else shaded(lit(clay, 0.95), 0.75)
        draw_slope(
            pen,
            dice,
            ((w + e, y), (w + s + e, y), (w / 2 + s, h + r + 0.15), (w / 2, h + r + 0.15)),
            slope,
            max(s, 0.8),
            3.4,
        )
        for a, b in (
            ((-e, y - 0.15), (w / 2, h + r + 0.1)),
            ((w / 2, h + r + 0.1), (w + e, y - 0.15)),
        ):
            left = (a[0] < w / 4) != house.turned
            pen.line([a, b], 0.26, lit(clay, 1.05) if left else darker(clay, 0.8))
    pen_front = pen
    if house.form is not Form.GABLE:
        pen_front.rect(-e, y - 0.12, w + e, y, darker(lit(clay, 0.9), 0.55))


def _front(pen: Pen, dice: Dice, house: House, style: Style) -> None:
    w, h = house.width, house.height
    count = max(1, int((w - 0.8) / (style.window_w + 1.15)))
    pitch = w / count
    xs = [pitch * (i + 0.5) - style.window_w / 2 for i in range(count)]
    boxes: list[Box] = []
    for j in range(house.storeys):
        if j == 0 and house.shop:
            continue
        y = 0.95 + 2.95 * j
        tall = style.window_h * (0.85 if j == house.storeys - 1 else 1.0)
        boxes.extend((x, y, x + style.window_w, y + tall) for x in xs)
    door_at = dice.whole(0, count - 1, 1)
    if not house.shop:
        boxes.pop(door_at)
    if house.form is Form.GABLE and house.rise > 1.6:
        boxes.append((w / 2 - 0.35, h + 0.1, w / 2 + 0.35, h + 0.95))
    draw_windows(pen, dice.child(2), boxes, style)
    if house.shop:
        draw_shop(pen, dice.child(3), w, style)
    else:
        draw_door(pen, dice.child(3), xs[door_at] - 0.1, style, dice.whole(1, 88, 9))
    upper = [b for b in boxes if b[1] > 3.0 and b[1] < h - 1]
    for i, box in enumerate(upper):
        if dice.chance(0.12, 4, i):
            draw_balcony(pen, dice.child(40 + i), box)
    if upper and dice.chance(0.22, 5):
        # Above a shop the washing hangs higher, clear of the name.
        y = (upper[-1] if house.shop else upper[0])[1] - 0.45
        draw_laundry(pen, dice.child(6), 0.4, w - 0.4, y)
    if dice.chance(0.4, 7):
        x = 0.12 if dice.chance(0.5, 8) else w - 0.16
        pen.line([(x, 0), (x, h - 0.2)], 0.09, darker(style.wall, 0.62))
    if dice.chance(0.14, 11):
        draw_ivy(
            pen.moved(dice.between(0.1, 0.9, 12) * w, 0),
            dice.child(13),
            dice.between(1.0, 2.2, 14),
            h * dice.between(0.5, 0.95, 15),
        )


def _cast(pen: Pen, dice: Dice, house: House) -> None:
    """Shadows on the front: under the eaves, and of what stands to the left."""
    w, h = house.width, house.height
    if house.form is not Form.GABLE:
        pen.shade([(0, h - 0.24), (w, h - 0.24), (w, h - 0.85), (0, h - 0.62)], 0.45)
    else:
        pen.shade(
            [
                (0, h - 0.3),
                (w / 2, h + house.rise - 0.2),
                (w / 2, h + house.rise - 0.75),
                (0, h - 0.9),
            ],
            0.42,
        )
    if dice.chance(0.55, 1):
        reach = dice.between(0.15, 0.6, 2) * w
        tall = dice.between(0.3, 0.95, 3) * h
        pen.shade(
            [
                (0, -0.5),
                (reach, -0.5),
                (reach * 0.7, tall * 0.8),
                (reach * 0.25, tall),
                (0, tall + 0.25 * reach),
            ],
            0.42,
        )


def _on_roof(pen: Pen, dice: Dice, house: House, base: Rgb, clay: Rgb) -> None:
    w, h, r, s = house.width, house.height, house.rise, house.side
    shift = (-s / 2 if house.turned else s / 2) if house.form is Form.EAVES else 0.0
    if house.form is Form.EAVES and dice.chance(0.35, 1):
        n = dice.whole(1, 2, 2)
        for i in range(n):
            x = w * (i + 0.5) / n - 0.65 + shift * 0.3
            draw_dormer(pen, x, h + 0.25, base, clay)
    elif house.form is not Form.GABLE and dice.chance(0.3, 3):
        draw_skylight(pen, w * dice.between(0.3, 0.6, 4) + shift * 0.4, h + 0.6)
    if dice.chance(0.75, 5):
        x = dice.between(0.15, 0.8, 6) * w
        top = h + r * (1.0 - abs(x / w - 0.5) * 2) if house.form is Form.GABLE else h + r * 0.9
        draw_chimney(pen, dice.child(7), x + shift, top)
    if dice.chance(0.4, 8):
        draw_antenna(pen, dice.child(9), dice.between(0.2, 0.8, 10) * w + shift, h + r * 0.9)
