"""Church, lighthouse, harbour office, stairs: what one finds one's way by."""

from __future__ import annotations

import numpy as np

from .animals import draw_gull
from .dice import Dice
from .lettering import write
from .noise import F64
from .palette import (
    BRASS,
    GLASS,
    IRON,
    ROOFS,
    STONE,
    WHITE,
    WOOD,
    Rgb,
    darker,
    lit,
    mix,
    rgb,
    shaded,
)
from .pen import Pen, ellipse
from .people import Pose, draw_person
from .roofs import draw_ridge, draw_slope
from .trees import draw_bush


def _ashlar(
    pen: Pen, dice: Dice, box: tuple[float, float, float, float], stone: Rgb, course: float
) -> None:
    """Dressed stone over a wall."""
    a, b, c, d = box
    if not pen.shows(course, 1.5):
        return
    rows = np.arange(b, d, course)
    pen.lines([[(a, y), (c, y)] for y in rows], 0.03, darker(stone, 0.68), 0.7)
    ticks = [
        [(x, y), (x, min(y + course, d))]
        for j, y in enumerate(rows)
        for x in np.arange(a + 0.45 * (1 + j % 2), c, 0.9)
    ]
    pen.lines(ticks, 0.03, darker(stone, 0.68), 0.7)
    odd = [
        (x, y, min(x + 0.9, c), min(y + course, d))
        for j, y in enumerate(rows)
        for i, x in enumerate(np.arange(a, c - 0.2, 0.9))
        if dice.chance(0.16, j, i)
    ]
    pen.rects(odd, darker(stone, 0.9))


def _arch(x: float, y: float, w: float, h: float) -> F64:
    """A round-headed opening."""
    t = np.linspace(0, np.pi, 11)
    head = np.stack([x + w / 2 * np.cos(t), y + h - w / 2 + w / 2 * np.sin(t)], 1)
    return np.concatenate([[(x + w / 2, y)], head, [(x - w / 2, y)]])


def _window(pen: Pen, x: float, y: float, w: float, h: float, stone: Rgb) -> None:
    pen.fill(_arch(x, y - 0.1, w + 0.4, h + 0.3), lit(stone, 1.1))
    pen.fill(_arch(x, y, w, h), rgb(0x2B3542))
    pen.fill(
        [(x - w / 2, y + h * 0.65), (x - w / 2, y + 0.1), (x + w * 0.2, y + h * 0.8)],
        rgb(0x8FA6B4),
        0.45,
    )
    if pen.shows(0.1, 0.8):
        pen.lines(
            [
                [(x, y), (x, y + h)],
                [(x - w / 2, y + h * 0.35), (x + w / 2, y + h * 0.35)],
                [(x - w / 2, y + h * 0.65), (x + w / 2, y + h * 0.65)],
            ],
            0.06,
            rgb(0x6B6F74),
        )


def draw_church(pen: Pen, dice: Dice) -> None:
    """Saint Somebody's: nave, tower, clock, bells, and a fish for a weather vane."""
    stone = rgb(0xDCCDAF)
    sunny, side = lit(stone, 1.0), shaded(stone, 0.95)
    # Nave to the right of the tower.
    pen.rect(5.0, -6, 19.0, 9.0, sunny, grain=0.2)
    _ashlar(pen, dice.child(1), (5.0, -2, 19.0, 9.0), sunny, 0.5)
    clay = lit(ROOFS[0], 0.93)
    draw_slope(
        pen, dice.child(2), ((4.8, 9.0), (19.4, 9.0), (18.2, 14.0), (5.2, 14.0)), clay, 14, 5.5
    )
    draw_ridge(pen, (5.2, 14.0), (18.2, 14.0), clay)
    pen.rect(19.0, -6, 21.0, 9.0, side, grain=0.2)
    pen.fill([(19.2, 9.0), (21.3, 9.0), (18.2, 14.0)], shaded(ROOFS[0], 0.9), grain=0.22)
    pen.shade([(5, 8.9), (19, 8.9), (19, 8.1), (5, 8.3)], 0.45)
    for x in (7.6, 11.2, 14.8, 17.6):
        _window(pen, x, 2.2, 1.2, 4.4, stone)
    for x in (9.4, 13.0, 16.3):
        pen.fill([(x - 0.4, -3), (x + 0.4, -3), (x + 0.4, 6.4), (x - 0.4, 7.4)], lit(stone, 1.05))
        pen.fill([(x + 0.4, -3), (x + 0.75, -3), (x + 0.75, 6.0), (x + 0.4, 6.4)], side)
    pen.fill([(5.0, -3), (9.0, -3), (7.2, 8.9), (5.0, 8.9)], (0.13, 0.15, 0.25), 0.38)
    _tower(pen, dice.child(3), stone)


def _tower(pen: Pen, dice: Dice, stone: Rgb) -> None:
    sunny, side = lit(stone, 1.02), shaded(stone, 0.95)
    w, h = 5.6, 22.0
    pen.rect(0, -6, w, h, sunny, grain=0.2)
    _ashlar(pen, dice, (0, -2, w, h), sunny, 0.48)
    pen.rect(w, -6, w + 1.3, h, side, grain=0.2)
    for i, y in enumerate(np.arange(-2, h, 0.96)):
        pen.rect(0 if i % 2 else -0.1, y, 0.75, y + 0.48, lit(stone, 1.12))
    for y in (7.0, 14.2, h - 0.5):
        pen.rect(-0.25, y, w + 0.2, y + 0.45, lit(stone, 1.1))
        pen.rect(w + 0.2, y, w + 1.5, y + 0.45, side)
        pen.shade([(-0.1, y), (w, y), (w, y - 0.5), (-0.1, y - 0.35)], 0.45)
    _window(pen, w / 2, 2.2, 1.1, 3.4, stone)
    _clock(pen.moved(w / 2, 12.25))
    for x in (1.75, 3.85):
        pen.fill(_arch(x, 15.4, 1.5, 4.6), lit(stone, 1.12))
        pen.fill(_arch(x, 15.5, 1.15, 4.3), rgb(0x232830))
        pen.lines([[(x - 0.5, y), (x + 0.5, y - 0.15)] for y in (15.9, 16.3)], 0.1, lit(WOOD, 0.7))
        pen.fill(
            [
                (x - 0.38, 17.2),
                (x + 0.38, 17.2),
                (x + 0.22, 17.5),
                (x + 0.16, 18.3),
                (x - 0.16, 18.3),
                (x - 0.22, 17.5),
            ],
            BRASS,
        )
        pen.line([(x, 18.3), (x, 19.2)], 0.06, IRON)
    # The spire: lead over eight sides.
    lead = rgb(0x6F8B86)
    pen.fill([(-0.5, h), (w * 0.62, h), (w * 0.56, h + 9.5)], lit(lead, 1.05))
    pen.fill([(w * 0.62, h), (w + 1.6, h), (w * 0.56, h + 9.5)], shaded(lead, 0.9))
    pen.lines(
        [[(x, h), (w * 0.56, h + 9.5)] for x in (0.8, 2.2, 5.0)], 0.05, darker(lead, 0.7), 0.8
    )
    pen.lines(
        [[(-0.5 + 0.36 * i, h + 0.9 * i), (w + 1.6 - 0.4 * i, h + 0.9 * i)] for i in range(1, 9)],
        0.03,
        darker(lead, 0.7),
        0.5,
    )
    _fish_vane(pen.moved(w * 0.56, h + 9.4))
    draw_gull(pen.moved(0.6, h), dice.child(7))


def _clock(pen: Pen) -> None:
    """Ten to five."""
    pen.disc(0, 0, 1.75, lit(STONE, 1.1))
    pen.disc(0, 0, 1.55, rgb(0x1F3447))
    pen.disc(0, 0, 1.42, lit(rgb(0xF4EEDF)))
    ticks = []
    for i in range(60):
        a = 2 * np.pi * i / 60
        r0 = 1.12 if i % 5 == 0 else 1.3
        ticks.append([(r0 * np.sin(a), r0 * np.cos(a)), (1.38 * np.sin(a), 1.38 * np.cos(a))])
    pen.lines(ticks[0::5], 0.08, rgb(0x1F3447))
    if pen.shows(0.03, 0.5):
        pen.lines(ticks, 0.025, rgb(0x1F3447))
    for angle, reach, width in (
        (2 * np.pi * (4 + 50 / 60) / 12, 0.8, 0.13),
        (2 * np.pi * 50 / 60, 1.2, 0.09),
    ):
        s, c = np.sin(angle), np.cos(angle)
        pen.fill(
            [
                (-0.22 * s - width * c, -0.22 * c + width * s),
                (-0.22 * s + width * c, -0.22 * c - width * s),
                (reach * s, reach * c),
            ],
            rgb(0x16202A),
        )
    pen.disc(0, 0, 0.1, BRASS)
    write(pen, 0, -0.75, "SALTMERE", 0.13, rgb(0x5A6470), centred=True)


def _fish_vane(pen: Pen) -> None:
    """The weather vane: a gilded fish that smells the wind."""
    pen.line([(0, 0), (0, 1.9)], 0.09, IRON)
    pen.disc(0, 0.35, 0.22, lit(BRASS, 1.1))
    pen.lines([[(-0.5, 0.85), (0.5, 0.85)]], 0.05, IRON)
    write(pen, -0.62, 0.75, "W", 0.2, IRON, centred=True)
    write(pen, 0.62, 0.75, "E", 0.2, IRON, centred=True)
    fish = pen.moved(0, 2.0)
    gold = lit(BRASS, 1.12)
    fish.fill(
        [
            (-1.0, 0.05),
            (-0.6, 0.36),
            (0.0, 0.42),
            (0.5, 0.16),
            (0.95, 0.42),
            (0.86, 0.02),
            (0.95, -0.36),
            (0.5, -0.06),
            (0.0, -0.26),
            (-0.6, -0.22),
        ],
        gold,
    )
    fish.fill(
        [(-0.6, -0.22), (0.0, -0.26), (0.5, -0.06), (0.0, 0.05), (-0.7, 0.0)], darker(gold, 0.7)
    )
    fish.line([(-0.62, 0.3), (-0.52, 0.05), (-0.62, -0.18)], 0.05, darker(gold, 0.6))
    fish.disc(-0.76, 0.12, 0.06, rgb(0x1E1E1E))
    if fish.shows(0.1, 0.9):
        scales = [
            [(-0.4 + 0.16 * i, 0.28 - 0.02 * i), (-0.34 + 0.16 * i, 0.1), (-0.4 + 0.16 * i, -0.1)]
            for i in range(6)
        ]
        fish.lines(scales, 0.025, darker(gold, 0.65))


def draw_lighthouse(pen: Pen, dice: Dice) -> None:
    """The light on the headland, its keeper and the keeper's house."""
    white = rgb(0xF1EBDF)
    _keepers_house(pen.moved(6.0, -0.6), dice.child(1))
    h = 20.0
    bands = 5
    for i in range(bands):
        y0, y1 = h * i / bands, h * (i + 1) / bands
        a, b = 2.6 - 0.9 * y0 / h, 2.6 - 0.9 * y1 / h
        ink = rgb(0xB5402F) if i % 2 else white
        pen.fill([(-a, y0), (a, y0), (b, y1), (-b, y1)], lit(ink, 1.0))
        pen.fill([(a * 0.25, y0), (a, y0), (b, y1), (b * 0.25, y1)], shaded(lit(ink), 0.5))
        pen.fill([(a * 0.66, y0), (a, y0), (b, y1), (b * 0.66, y1)], shaded(lit(ink), 0.7))
    for y in (2.6, 7.0, 11.4, 15.8):
        pen.rect(-0.9, y, -0.3, y + 1.1, rgb(0x2E3742))
        pen.rect(-1.0, y - 0.15, -0.2, y, lit(STONE))
    pen.fill(_arch(0.2, 0, 1.2, 2.1), rgb(0x2F5D62))
    pen.rect(-2.5, h, 2.5, h + 0.35, IRON)
    pen.rect(-1.25, h + 0.35, 1.25, h + 3.0, rgb(0xF3DFA0))
    pen.fill([(0.3, h + 0.35), (1.25, h + 0.35), (1.25, h + 3.0), (0.3, h + 3.0)], rgb(0xB9A468))
    pen.disc(-0.2, h + 1.6, 0.6, rgb(0xFFF6D6), 0.9)
    pen.lines([[(x, h + 0.35), (x, h + 3.0)] for x in (-1.25, -0.6, 0.0, 0.6, 1.25)], 0.1, IRON)
    pen.line([(-1.25, h + 1.7), (1.25, h + 1.7)], 0.08, IRON)
    t = np.linspace(0, np.pi, 11)
    pen.fill([(1.55 * np.cos(a), h + 3.0 + 1.3 * np.sin(a)) for a in t], lit(rgb(0xB5402F)))
    pen.fill(
        [(0.4, h + 3.0), (1.55, h + 3.0), (1.1, h + 3.9), (0.4, h + 4.2)], shaded(rgb(0xB5402F))
    )
    pen.line([(0, h + 4.2), (0, h + 5.6)], 0.1, IRON)
    pen.lines([[(x, h + 0.35), (x, h + 1.35)] for x in np.linspace(-2.4, 2.4, 13)], 0.05, IRON)
    pen.line([(-2.45, h + 1.35), (2.45, h + 1.35)], 0.07, IRON)
    draw_person(pen.moved(-1.7, h + 0.3), dice.child(2), Pose.WAVE, rgb(0x1F3F6B))
    pen.fill([(-5, -0.9), (17, -2.6), (17, -1.6), (-5, 0.1)], lit(WHITE, 0.95), grain=0.2)
    pen.fill([(-5, -0.9), (17, -2.6), (17, -2.3), (-5, -0.6)], shaded(WHITE, 0.8), grain=0.2)
    for i in range(9):
        draw_bush(
            pen.moved(-4.4 + 2.5 * i, -1.5 - 0.2 * i),
            dice.child(10 + i),
            dice.between(1.6, 3.0, 3, i),
        )


def _keepers_house(pen: Pen, dice: Dice) -> None:
    wall, clay = rgb(0xECE4D4), ROOFS[1]
    pen.rect(0, -1.5, 9, 3.2, lit(wall))
    pen.fill([(9, -1.5), (10.6, -1.5), (10.6, 3.2), (9.8, 5.6), (9, 3.2)], shaded(wall))
    draw_slope(
        pen, dice, ((-0.4, 3.1), (9.4, 3.1), (10.1, 5.7), (0.5, 5.7)), lit(clay, 0.95), 9.5, 3
    )
    pen.shade([(0, 3.0), (9, 3.0), (9, 2.4), (0, 2.6)], 0.4)
    for x in (1.0, 3.2, 7.0):
        pen.rect(x, 0.9, x + 1.0, 2.2, darker(GLASS, 0.7))
        pen.lines([[(x + 0.5, 0.9), (x + 0.5, 2.2)], [(x, 1.55), (x + 1.0, 1.55)]], 0.07, WHITE)
    pen.rect(5.2, -0.2, 6.2, 2.0, rgb(0x2F5D62))
    pen.rect(2.2, 5.2, 3.1, 7.0, lit(rgb(0xA5694E)))


def draw_harbour_office(pen: Pen, dice: Dice) -> None:
    """The harbour master's tower, with balcony, flag and the tide board."""
    wall = rgb(0xE4D9C4)
    w, h = 6.0, 13.0
    pen.rect(0, -1.5, w, h, lit(wall), grain=0.16)
    pen.rect(w, -1.5, w + 1.6, h, shaded(wall), grain=0.16)
    for i, y in enumerate(np.arange(0, h, 0.8)):
        pen.rect(0, y, 0.6 if i % 2 else 0.4, y + 0.4, lit(STONE, 1.08))
        pen.rect(w - (0.6 if i % 2 else 0.4), y, w, y + 0.4, lit(STONE, 1.05))
    for y in (4.6, 8.2):
        for x in (1.6, 4.0):
            _window(pen, x + 0.2, y, 1.0, 2.1, wall)
    pen.fill(_arch(3.0, 0, 1.5, 2.8), rgb(0x31506E))
    pen.rect(0.9, 3.2, 5.1, 3.9, rgb(0x2F4F66))
    write(pen, 3.0, 3.36, "HARBOUR OFFICE", 0.36, lit(rgb(0xEFDDAE)), centred=True)
    # The lookout.
    pen.rect(-0.5, h, w + 2.0, h + 0.4, lit(STONE))
    pen.rect(0.5, h + 0.4, w - 0.4, h + 3.4, rgb(0x4A5F6B))
    pen.fill([(0.5, h + 3.4), (3.4, h + 3.4), (0.5, h + 1.2)], rgb(0xB9CBD2), 0.5)
    pen.lines(
        [[(x, h + 0.4), (x, h + 3.4)] for x in np.linspace(0.5, w - 0.4, 6)], 0.12, lit(WHITE)
    )
    pen.fill([(-0.3, h + 3.4), (w + 0.9, h + 3.4), (w * 0.55, h + 5.6)], lit(rgb(0x7C8469)))
    pen.fill([(w * 0.55, h + 5.6), (w + 0.9, h + 3.4), (w + 0.1, h + 3.4)], shaded(rgb(0x7C8469)))
    pen.lines([[(x, h + 0.4), (x, h + 1.4)] for x in np.linspace(-0.4, w + 1.9, 22)], 0.05, IRON)
    pen.line([(-0.45, h + 1.4), (w + 1.95, h + 1.4)], 0.08, IRON)
    draw_person(pen.moved(-0.1, h + 0.35), dice.child(1), Pose.PHOTOGRAPH, rgb(0x23324A))
    _town_flag(pen.moved(w * 0.55, h + 5.5))


def _town_flag(pen: Pen) -> None:
    """The flag of Saltmere: a white fish between two waves on blue."""
    pen.line([(0, 0), (0, 6.0)], 0.12, lit(WHITE))
    pen.disc(0, 6.05, 0.14, BRASS)
    n = 13
    x = np.linspace(0.05, 4.2, n)
    sway = 0.16 * np.sin(x * 2.1 - _FLAG_RAD_S * pen.at_s) * x / 4
    top = np.stack([x, 5.8 + sway - 0.03 * x], 1)
    low = np.stack([x, 3.4 + sway - 0.03 * x], 1)
    pen.fill(np.concatenate([top, low[::-1]]), lit(rgb(0x2F5F8B)))
    for f in (0.2, 0.8):
        mid = low + (top - low) * f
        wave = mid + np.stack([np.zeros(n), 0.09 * np.sin(x * 6)], 1)
        pen.line(wave, 0.16, lit(WHITE))
    c = (2.0, 4.6 + 0.16 * np.sin(4.2) * 0.5)
    pen.fill(ellipse(c[0], c[1], 0.75, 0.3), lit(WHITE))
    pen.fill([(c[0] + 0.6, c[1]), (c[0] + 1.1, c[1] + 0.32), (c[0] + 1.1, c[1] - 0.3)], lit(WHITE))
    pen.disc(c[0] - 0.45, c[1] + 0.06, 0.06, rgb(0x2F5F8B))
    for k in (3, 6, 9):
        fold = np.concatenate([top[k : k + 2], low[k : k + 2][::-1]])
        pen.shade(fold, 0.22)


_FLAG_RAD_S = 5.0  # the cloth's wave runs out at 2.4 m/s


def draw_stairs(pen: Pen, dice: Dice, width: float, steps: int, lean: float) -> None:
    """A flight of steps going up and away, between low walls, with someone on it."""
    rise, narrow = 0.32, 0.45
    stone = lit(rgb(0xC9BDA4), 0.98)
    for i in range(steps):
        f = i / steps
        half = width * (1 - narrow * f) / 2
        x = lean * f
        y = i * rise
        pen.rect(x - half, y, x + half, y + rise * 1.05, stone, grain=0.2)
        pen.rect(x - half, y, x + half, y + 0.15, shaded(stone, 0.75))
    for s in (-1, 1):
        a, b = s * width / 2, s * width * (1 - narrow) / 2 + lean
        t = steps * rise
        wall = lit(STONE, 1.0) if s > 0 else shaded(STONE, 0.8)
        pen.fill(
            [
                (a, -0.2),
                (a + 0.35 * s, -0.2),
                (a + 0.35 * s, 0.9),
                (b + 0.3 * s, t + 0.8),
                (b, t + 0.8),
                (b, t),
                (a, 0),
            ],
            mix(wall, STONE, 0.2),
        )
    pen.shade(
        [
            (-width / 2, 0),
            (width * 0.1, 0),
            (lean - 0.1, steps * rise * 0.95),
            (lean - width * 0.28, steps * rise),
        ],
        0.36,
    )
    if dice.chance(0.75, 1):
        k = dice.whole(2, steps - 3, 2)
        draw_person(
            pen.moved(lean * k / steps, k * rise, 1 - 0.35 * k / steps), dice.child(3), Pose.CARRY
        )
