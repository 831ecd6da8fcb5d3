"""What a front is made of: windows, shutters, doors, shops, balconies, laundry, plaster."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .animals import draw_cat
from .dice import Dice
from .lettering import write
from .palette import (
    BRASS,
    CLOTHES,
    DOORS,
    GLASS,
    IRON,
    LINEN,
    SHUTTERS,
    STONE,
    WHITE,
    Rgb,
    darker,
    lit,
    mix,
    rgb,
    shaded,
)
from .pen import Pen
from .trees import draw_bush

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Style:
    """The taste of one house."""

    wall: Rgb
    trim: Rgb
    frame: Rgb
    shutter: Rgb | None
    door: Rgb
    window_w: float
    window_h: float
    panes: tuple[int, int]


def choose_style(dice: Dice, wall: Rgb) -> Style:
    """A taste, by chance."""
    shutter = dice.choice(SHUTTERS, 1) if dice.chance(0.62, 2) else None
    trim = lit(mix(STONE, WHITE, dice.unit(3)), 0.98)
    return Style(
        wall=wall,
        trim=trim,
        frame=dice.choice((WHITE, WHITE, rgb(0x6B4F3A), rgb(0x4D6B70), rgb(0xD9CDB4)), 4),
        shutter=shutter,
        door=dice.choice(DOORS, 5),
        window_w=dice.between(0.8, 1.05, 6),
        window_h=dice.between(1.25, 1.65, 7),
        panes=dice.choice(((2, 2), (2, 3), (2, 4), (1, 2)), 8),
    )


def draw_windows(pen: Pen, dice: Dice, boxes: list[Box], style: Style) -> None:
    """All windows of a front, layer by layer."""
    if not boxes:
        return
    if not pen.shows(0.8, 1.2):
        pen.rects(boxes, shaded(GLASS))
        return
    t = 0.11
    pen.rects([(a - t, b - t, c + t, d + t * 1.4) for a, b, c, d in boxes], style.trim)
    pen.rects(boxes, (0.19, 0.21, 0.26))
    if pen.shows(0.08, 0.6):
        for i, box in enumerate(boxes):
            _glass(pen, dice.child(i), box)
        _bars(pen, boxes, style)
    pen.rects([(a, b, a + 0.09, d) for a, b, c, d in boxes], darker(style.wall, 0.42))
    pen.rects([(a, d - 0.13, c, d) for a, b, c, d in boxes], (0.13, 0.14, 0.19))
    pen.rects([(a - 0.18, b - 0.14, c + 0.18, b) for a, b, c, d in boxes], lit(style.trim, 1.03))
    for a, b, c, _ in boxes:
        pen.shade(
            [(a - 0.15, b - 0.14), (c + 0.26, b - 0.14), (c + 0.3, b - 0.26), (a, b - 0.26)], 0.5
        )
    if style.shutter is not None:
        _shutters(pen, dice, boxes, style.shutter)
    for i, box in enumerate(boxes):
        _life_at_window(pen, dice.child(50 + i), box)


def _glass(pen: Pen, dice: Dice, box: Box) -> None:
    a, b, c, d = box
    w, h = c - a, d - b
    pen.rect(a + 0.04, b + 0.03, c, d - 0.1, mix(GLASS, rgb(0x2B3440), dice.unit(1)), grain=0.06)
    kind = dice.unit(2)
    cloth = lit(mix(LINEN, dice.choice(CLOTHES, 3), 0.12 if kind < 0.5 else 0.3), 0.86)
    if kind < 0.45:
        for s in (0, 1):
            x0, x1 = (a + 0.05, a + 0.30 * w) if s == 0 else (c - 0.26 * w, c)
            mid = 0.5 * (x0 + x1) + (0.06 if s == 0 else -0.06)
            pen.fill(
                [
                    (x0, d - 0.1),
                    (x1 + 0.08 * (1 - 2 * s), d - 0.1),
                    (mid, b + 0.45 * h),
                    (x1, b),
                    (x0, b),
                ],
                cloth if s == 0 else shaded(cloth, 0.4),
            )
            if pen.shows(0.05, 1.0):
                folds = np.linspace(x0, x1, 4)[1:-1]
                pen.lines([[(x, d - 0.1), (x, b)] for x in folds], 0.02, darker(cloth, 0.75), 0.7)
    elif kind < 0.58:
        pen.rect(a + 0.05, b, c, b + 0.5 * h, cloth)
        if pen.shows(0.05, 1.0):
            xs = np.linspace(a + 0.1, c, 7)
            pen.lines([[(x, b), (x, b + 0.48 * h)] for x in xs], 0.02, darker(cloth, 0.8), 0.7)
    elif kind < 0.66:
        # A lamp is already lit inside.
        pen.rect(a + 0.05, b, c, d - 0.12, rgb(0xC98F45), 0.55)
        pen.disc(a + 0.5 * w, b + 0.55 * h, 0.16, rgb(0xFFDD9A))
    # The sky in the pane.
    pen.fill(
        [(a + 0.05, d - 0.12), (a + 0.62 * w, d - 0.12), (a + 0.05, b + 0.4 * h)],
        rgb(0xAFC3CF),
        0.38,
    )


def _bars(pen: Pen, boxes: list[Box], style: Style) -> None:
    across, up = style.panes
    lines = []
    for a, b, c, d in boxes:
        for i in range(1, across):
            x = a + (c - a) * i / across
            lines.append([(x, b), (x, d)])
        for j in range(1, up):
            y = b + (d - b) * j / up
            lines.append([(a, y), (c, y)])
    frame = lit(style.frame, 0.93)
    pen.lines(lines, 0.05, frame)
    edge = [
        [(a + 0.03, b + 0.03), (c - 0.03, b + 0.03), (c - 0.03, d - 0.03), (a + 0.03, d - 0.03)]
        for a, b, c, d in boxes
    ]
    pen.lines(edge, 0.06, frame, closed=True)


def _shutters(pen: Pen, dice: Dice, boxes: list[Box], ink: Rgb) -> None:
    left: list[Box] = []
    right: list[Box] = []
    closed: list[Box] = []
    for i, (a, b, c, d) in enumerate(boxes):
        half = 0.52 * (c - a)
        state = dice.unit(30, i)
        if state < 0.08:
            closed.append((a, b, c, d))
            continue
        left.append((a - half - 0.04, b, a - 0.04, d))
        right.append((c + 0.04, b, c + half + 0.04, d))
    sunny = lit(ink, 1.06)
    for a, b, c, d in left + right:
        pen.shade(
            [
                (a + 0.08, b - 0.06),
                (c + 0.12, b - 0.06),
                (c + 0.12, d - 0.08),
                (a + 0.08, d - 0.08),
            ],
            0.35,
        )
    pen.rects(left, sunny)
    pen.rects(right, darker(sunny, 0.93))
    pen.rects(closed, lit(ink, 0.98))
    if pen.shows(0.08, 1.3):
        slats = [
            [(a + 0.05, y), (c - 0.05, y)]
            for a, b, c, d in left + right + closed
            for y in np.arange(b + 0.1, d - 0.05, 0.08)
        ]
        pen.lines(slats, 0.03, darker(ink, 0.62), 0.85)
        frames = [[(a, b), (c, b), (c, d), (a, d)] for a, b, c, d in left + right + closed]
        pen.lines(frames, 0.03, darker(ink, 0.75), closed=True)


def _life_at_window(pen: Pen, dice: Dice, box: Box) -> None:
    a, b, c, _ = box
    w = c - a
    chance = dice.unit(1)
    if chance < 0.16 and pen.shows(0.1, 0.8):
        pen.rect(a - 0.05, b - 0.02, c + 0.05, b + 0.16, lit(rgb(0x9C5B3C)))
        colour = dice.choice((rgb(0xC9413F), rgb(0xE4A33B), rgb(0xD97FA0), rgb(0xF0E6DA)), 2)
        draw_bush(pen.moved(a + 0.5 * w, b + 0.1), dice, w * 1.05, flowers=colour)
    elif chance < 0.185 and pen.shows(0.1, 1.0):
        draw_cat(pen.moved(a + 0.4 * w, b), dice)
    elif chance < 0.22 and pen.shows(0.1, 1.0):
        _looking_out(pen.moved(a + 0.5 * w, b), dice)


def _looking_out(pen: Pen, dice: Dice) -> None:
    shirt = lit(dice.choice(CLOTHES, 3))
    pen.fill([(-0.28, 0), (0.28, 0), (0.2, 0.36), (-0.2, 0.36)], shirt)
    pen.disc(0.0, 0.52, 0.11, lit(rgb(0xD5A27F)), 0.14)
    pen.fill([(-0.12, 0.52), (-0.1, 0.66), (0.06, 0.68), (0.12, 0.56), (0.02, 0.6)], rgb(0x4B3525))
    pen.line([(-0.3, 0.02), (0.3, 0.02)], 0.1, darker(shirt, 0.85))


def draw_door(pen: Pen, dice: Dice, x: float, style: Style, number: int) -> None:
    """A panelled door with a step, a fanlight and a number."""
    w, h = 1.0, 2.15
    pen.rect(x - 0.14, 0, x + w + 0.14, h + 0.45, style.trim)
    pen.rect(x, 0, x + w, h + 0.3, darker(style.door, 0.35))
    pen.rect(x + 0.06, 0, x + w, h - 0.06, lit(style.door, 0.95))
    pen.rect(x + 0.06, h, x + w, h + 0.28, mix(GLASS, rgb(0xD9A860), 0.35))
    pen.rect(x - 0.2, -0.02, x + w + 0.2, 0.12, lit(STONE))
    if pen.shows(0.1, 1.0):
        panels = [
            (x + 0.16 + 0.43 * i, y0, x + 0.46 + 0.43 * i, y1)
            for i in (0, 1)
            for y0, y1 in ((0.25, 0.9), (1.05, 1.9))
        ]
        pen.rects(panels, darker(style.door, 0.72))
        pen.rects([(a, b, c - 0.04, d - 0.04) for a, b, c, d in panels], lit(style.door, 1.05))
        pen.disc(x + w - 0.1, 1.0, 0.04, BRASS)
        pen.rect(x + w + 0.2, 1.55, x + w + 0.5, 1.8, rgb(0x2F4F66))
        write(pen, x + w + 0.35, 1.61, str(number), 0.13, WHITE, centred=True)
    if dice.chance(0.3, 41):
        _lantern(pen.moved(x - 0.3, 2.3))


def _lantern(pen: Pen) -> None:
    pen.line([(0, 0), (0, 0.25)], 0.04, IRON)
    pen.fill([(-0.1, -0.02), (0.1, -0.02), (0.13, -0.3), (-0.13, -0.3)], rgb(0xE8C983))
    pen.line([(-0.14, -0.3), (-0.1, 0), (0.1, 0), (0.14, -0.3)], 0.03, IRON, closed=True)


def draw_balcony(pen: Pen, dice: Dice, box: Box) -> None:
    """A balcony with an iron rail below a window box, its shadow, plants, laundry."""
    a, b, c, _ = box
    x0, x1, y = a - 0.55, c + 0.55, b - 0.5
    pen.shade(
        [(x0 + 0.2, y - 0.2), (x1 + 0.45, y - 0.2), (x1 + 0.6, y - 0.85), (x0 + 0.5, y - 0.85)],
        0.42,
    )
    pen.rect(x0, y - 0.18, x1, y, lit(STONE, 0.98))
    pen.rect(x0, y - 0.22, x1, y - 0.16, shaded(STONE))
    if dice.chance(0.5, 61):
        draw_bush(
            pen.moved(x0 + 0.3, y),
            dice,
            0.7,
            flowers=dice.choice((rgb(0xC9413F), rgb(0xE4A33B)), 62),
        )
    if pen.shows(0.12, 1.0):
        xs = np.arange(x0 + 0.03, x1, 0.12)
        pen.lines([[(x, y), (x, y + 0.95)] for x in xs], 0.028, IRON)
    pen.lines([[(x0, y + 0.95), (x1, y + 0.95)], [(x0, y + 0.1), (x1, y + 0.1)]], 0.05, IRON)


def draw_laundry(pen: Pen, dice: Dice, x0: float, x1: float, y: float) -> None:
    """A line of washing."""
    sag = 0.05 * (x1 - x0)
    n = 9
    rope = [(x0 + (x1 - x0) * i / n, y - sag * 4 * (i / n) * (1 - i / n)) for i in range(n + 1)]
    x, i = x0 + 0.15, 0
    while x < x1 - 0.4:
        w = dice.between(0.28, 0.7, 1, i)
        h = dice.between(0.45, 0.95, 2, i)
        s = (x - x0) / (x1 - x0)
        top = y - sag * 4 * s * (1 - s)
        ink = lit(mix(dice.choice(CLOTHES, 3, i), WHITE, 0.55 * dice.unit(4, i)), 1.03)
        blow = dice.between(-0.02, 0.12, 5, i)
        pen.shade(
            [
                (x + 0.18, top - 0.1),
                (x + w + 0.2, top - 0.1),
                (x + w + 0.25, top - h - 0.12),
                (x + 0.25, top - h - 0.12),
            ],
            0.3,
        )
        if dice.chance(0.3, 6, i) and h > 0.55:
            pen.fill(
                [
                    (x, top),
                    (x + w, top),
                    (x + w + 0.12, top - 0.22),
                    (x + w, top - 0.28),
                    (x + w - 0.03 + blow, top - h),
                    (x + 0.03 + blow, top - h),
                    (x, top - 0.28),
                    (x - 0.12, top - 0.2),
                ],
                ink,
            )
        else:
            pen.fill(
                [
                    (x, top),
                    (x + w, top),
                    (x + w + blow, top - h),
                    (x + w / 2 + blow, top - h - 0.03),
                    (x + blow, top - h),
                ],
                ink,
            )
        if pen.shows(0.08, 1.0):
            pen.lines(
                [[(x + w * f, top), (x + w * f + blow, top - h)] for f in (0.35, 0.7)],
                0.035,
                darker(ink, 0.8),
                0.7,
            )
        x += w + dice.between(0.04, 0.15, 7, i)
        i += 1
    pen.line(rope, 0.02, rgb(0x6E665A))


def draw_plaster(pen: Pen, dice: Dice, w: float, h: float, wall: Rgb) -> None:
    """What time does to a wall: streaks, patches, bare bricks, a damp foot."""
    for i in range(3):
        x = dice.between(0.0, w, 1, i)
        y = dice.between(0.4, 1.0, 2, i) * h
        s = dice.between(0.15, 0.5, 3, i)
        pen.fill(
            [
                (x, y),
                (x + s, y),
                (x + 0.7 * s, y - dice.between(0.8, 2.4, 4, i)),
                (x + 0.3 * s, y - 0.7),
            ],
            darker(wall, 0.82),
            0.4,
        )
    pen.rect(0, 0, w, 0.5, shaded(darker(wall, 0.86), 0.4), 0.5)
    if dice.chance(0.35, 5):
        x, y = dice.between(0.1, 0.75, 6) * w, dice.between(0.1, 0.8, 7) * h
        r = dice.between(0.4, 0.9, 8)
        corners = [
            (
                x + r * dice.between(0.6, 1.2, 9, k) * np.cos(k * 0.9),
                y + 0.7 * r * dice.between(0.6, 1.2, 10, k) * np.sin(k * 0.9),
            )
            for k in range(7)
        ]
        brick = lit(rgb(0xA86B50), 0.92)
        pen.fill(corners, brick)
        if pen.shows(0.08, 1.2):
            rows = np.arange(y - 0.45 * r, y + 0.45 * r, 0.085)
            pen.lines(
                [[(x - 0.55 * r, v), (x + 0.55 * r, v)] for v in rows], 0.018, rgb(0xC9B9A0), 0.9
            )
            ticks = [
                [(u + 0.125 * (j % 2), v), (u + 0.125 * (j % 2), v + 0.085)]
                for j, v in enumerate(rows[:-1])
                for u in np.arange(x - 0.5 * r, x + 0.4 * r, 0.25)
            ]
            pen.lines(ticks, 0.018, rgb(0xC9B9A0), 0.9)
