"""The quay: masonry wall, paving, and all the gear that lies about."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .dice import Dice
from .gear import draw_crate, draw_net_heap
from .lettering import write
from .palette import (
    CLOTHES,
    DARK_WOOD,
    GRANITE,
    IRON,
    LINEN,
    ROPE,
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
from .trees import draw_bush

WALL_M = 2.2
APRON_M = 0.88


def draw_quay(pen: Pen, dice: Dice, length: float) -> None:
    """A stretch of quay wall and paving; origin at the left end of its upper edge."""
    _paving(pen, dice.child(1), length)
    stone = lit(mix(STONE, GRANITE, 0.35), 0.92)
    pen.rect(-0.05, -WALL_M - 0.1, length + 0.05, 0, stone, grain=0.34)
    _courses(pen, dice.child(2), length, stone)
    # Weed and wet below the tide mark, the kerb above.
    wet = rgb(0x33402F)
    n = int(length / 0.6)
    edge = [(i * length / n, -WALL_M + 0.75 + 0.22 * dice.unit(3, i)) for i in range(n + 1)]
    pen.fill([(0, -WALL_M - 0.1), *edge, (length, -WALL_M - 0.1)], wet, 0.72, 0.45)
    pen.rect(-0.05, -0.28, length + 0.05, 0.06, lit(GRANITE, 1.16), grain=0.25)
    pen.shade([(0, -0.28), (length, -0.28), (length, -0.42), (0, -0.42)], 0.5)
    joints = [[(x, -0.28), (x, 0.06)] for x in np.arange(0.7, length, 1.4)]
    pen.lines(joints, 0.035, darker(GRANITE, 0.55))
    _fittings(pen, dice.child(4), length)


def _paving(pen: Pen, dice: Dice, length: float) -> None:
    ground = lit(rgb(0xB9AB92), 0.96)
    pen.rect(-0.05, 0, length + 0.05, APRON_M, ground, grain=0.2)
    ys = APRON_M * (1 - np.geomspace(1.0, 0.1, 8))
    dark = darker(ground, 0.72)
    pen.lines([[(0, y), (length, y)] for y in ys], 0.03, dark, 0.7)
    ticks = []
    for j, (y0, y1) in enumerate(pairwise(ys)):
        ticks += [[(x, y0), (x, y1)] for x in np.arange(0.4 * (j % 2), length, 0.9)]
    pen.lines(ticks, 0.03, dark, 0.6)
    for i in range(int(length / 4)):
        x, y = dice.between(0, length, 1, i), dice.between(0.1, 0.9, 2, i)
        pen.disc(x, y, dice.between(0.5, 1.3, 3, i), rgb(0x7F8B92), 0.05, 0.5)


def _courses(pen: Pen, dice: Dice, length: float, stone: Rgb) -> None:
    if not pen.shows(0.45, 1.2):
        return
    rows = np.arange(-WALL_M, -0.3, 0.45)
    spots: dict[int, list[tuple[float, float, float, float]]] = {0: [], 1: [], 2: []}
    ticks = []
    for j, y in enumerate(rows):
        x, i = -dice.between(0, 0.8, 1, j), 0
        while x < length:
            w = dice.between(0.6, 1.3, 2, j, i)
            if x > 0:
                ticks.append([(x, y), (x + 0.02, y + 0.45)])
            kind = dice.whole(0, 5, 3, j, i)
            if kind < 3:
                spots[kind].append((max(x, 0.0), y, min(x + w, length), y + 0.45))
            x += w
            i += 1
    for kind, tone in enumerate((0.86, 1.12, 0.95)):
        pen.rects(spots[kind], darker(stone, tone))
    pen.lines([[(0, y), (length, y)] for y in rows], 0.035, darker(stone, 0.5), 0.85)
    pen.lines(ticks, 0.035, darker(stone, 0.5), 0.85)
    pen.lines([[(0, y - 0.04), (length, y - 0.04)] for y in rows[1:]], 0.03, lit(stone, 1.2), 0.4)


def _fittings(pen: Pen, dice: Dice, length: float) -> None:
    for i, x in enumerate(np.arange(1.5, length - 0.5, 3.1)):
        kind = dice.unit(1, i)
        if kind < 0.34:
            pen.line(ellipse(x, -0.85, 0.13, 0.16), 0.045, IRON, closed=True)
            pen.disc(x, -0.68, 0.06, IRON)
        elif kind < 0.5:
            pen.lines(
                [[(x, -WALL_M), (x, 0.25)], [(x + 0.45, -WALL_M), (x + 0.45, 0.25)]],
                0.05,
                rgb(0x6B4A3A),
            )
            pen.lines(
                [[(x, y), (x + 0.45, y)] for y in np.arange(-WALL_M + 0.1, 0.1, 0.28)],
                0.04,
                rgb(0x6B4A3A),
            )
        elif kind < 0.72:
            pen.line([(x - 0.15, 0), (x, -0.5)], 0.03, ROPE)
            pen.line(ellipse(x, -0.8, 0.26, 0.3), 0.16, rgb(0x25262A), closed=True)
        elif kind < 0.8:
            # A drain with its stain.
            pen.disc(x, -0.9, 0.16, rgb(0x20242A))
            pen.fill(
                [(x - 0.12, -0.95), (x + 0.12, -0.95), (x + 0.2, -2.0), (x - 0.16, -2.0)],
                rgb(0x3A3F35),
                0.5,
            )


def draw_bollard(pen: Pen) -> None:
    """An iron bollard with a turn of rope."""
    pen.shade([(0, 0), (0.9, 0.05), (0.9, 0.13), (0, 0.08)], 0.4)
    pen.fill(
        [
            (-0.18, 0),
            (0.18, 0),
            (0.13, 0.34),
            (0.22, 0.42),
            (0.2, 0.52),
            (-0.2, 0.52),
            (-0.22, 0.42),
            (-0.13, 0.34),
        ],
        IRON,
    )
    pen.fill([(-0.15, 0.02), (-0.08, 0.02), (-0.06, 0.34), (-0.12, 0.34)], rgb(0x7B8087))
    pen.lines(
        [
            [(-0.17, 0.12), (0.17, 0.10)],
            [(-0.16, 0.18), (0.16, 0.16)],
            [(-0.16, 0.24), (0.15, 0.22)],
        ],
        0.05,
        ROPE,
    )


def draw_lamp_post(pen: Pen) -> None:
    """A street lamp of the old kind, 4 m."""
    pen.shade([(0, 0), (2.6, 0.12), (2.6, 0.17), (0, 0.05)], 0.35)
    pen.rect(-0.12, 0, 0.12, 0.6, IRON)
    pen.rect(-0.05, 0.5, 0.06, 3.5, IRON)
    pen.line([(-0.3, 3.15), (0.3, 3.15)], 0.05, IRON)
    pen.fill([(-0.14, 3.5), (0.14, 3.5), (0.22, 4.0), (-0.22, 4.0)], rgb(0xE8D9A8))
    pen.fill([(0.02, 3.5), (0.14, 3.5), (0.22, 4.0), (0.06, 4.0)], rgb(0xBFA970))
    pen.fill([(-0.28, 4.0), (0.28, 4.0), (0.0, 4.28)], IRON)


def draw_pots(pen: Pen, dice: Dice, columns: int, rows: int) -> None:
    """A stack of lobster pots: half-round cages with netting."""
    for j in range(rows):
        for i in range(columns - j):
            x, y = (i + 0.5 * j) * 0.72, j * 0.44
            ink = dice.choice((rgb(0x4A5A4F), rgb(0x6B4A3A), rgb(0x3E5F6F)), 1, i, j)
            arch = [
                (x + 0.34 + 0.33 * np.cos(t), y + 0.42 * np.sin(t))
                for t in np.linspace(0, np.pi, 9)
            ]
            pen.fill(arch, darker(ink, 0.5), grain=0.5)
            if pen.shows(0.1, 1.2):
                net = [[(x + 0.05 + 0.1 * k, y), (x + 0.2 + 0.1 * k, y + 0.33)] for k in range(5)]
                net += [[(x + 0.2 + 0.1 * k, y), (x + 0.05 + 0.1 * k, y + 0.33)] for k in range(5)]
                pen.lines(net, 0.015, rgb(0xC9B98A), 0.8)
            pen.line([*arch, arch[0]], 0.035, lit(WOOD, 0.9))
            pen.rect(x, y - 0.02, x + 0.68, y + 0.05, lit(WOOD, 0.8))
            if dice.chance(0.3, 2, i, j):
                pen.disc(x + 0.5, y + 0.1, 0.08, lit(rgb(0xD9803A)))


def draw_bench(pen: Pen) -> None:
    """A plank bench."""
    pen.shade([(0, 0), (1.8, 0), (2.3, 0.12), (0.4, 0.12)], 0.35)
    pen.lines([[(0.15, 0), (0.15, 0.85)], [(1.6, 0), (1.6, 0.85)]], 0.07, IRON)
    for y in (0.42, 0.62, 0.8):
        pen.rect(0, y, 1.8, y + 0.09, lit(WOOD, 1.0))


def draw_stall(pen: Pen, dice: Dice, goods: str) -> None:
    """A market stall with a striped awning and its wares."""
    w = 2.6
    cloth = dice.choice(
        (rgb(0xB5402F), rgb(0x2F6F6B), rgb(0xC79A3B), rgb(0x31506E), rgb(0x6F8B4F)), 1
    )
    pen.shade([(0, 0), (w, 0), (w + 2.0, 0.25), (1.5, 0.3)], 0.4)
    pen.lines([[(0.08, 0), (0.08, 2.2)], [(w - 0.08, 0), (w - 0.08, 2.2)]], 0.07, lit(WOOD))
    pen.rect(0.05, 0, w - 0.05, 0.75, lit(mix(cloth, LINEN, 0.6), 0.92))
    pen.shade([(0.05, 0), (w - 0.05, 0), (w - 0.05, 0.62), (0.05, 0.72)], 0.25)
    pen.fill([(0, 0.75), (w, 0.75), (w - 0.12, 1.0), (0.12, 1.0)], lit(WOOD, 0.8))
    _wares(pen, dice.child(2), w, goods)
    n = 8
    for i in range(n):
        a, b = w * i / n, w * (i + 1) / n
        ink = lit(cloth if i % 2 else LINEN, 1.02)
        pen.fill(
            [(a - 0.12, 1.95), (b - 0.12, 1.95), (b * 0.94 + 0.08, 2.5), (a * 0.94 + 0.08, 2.5)],
            ink,
        )
        pen.fill(
            [
                (a - 0.12, 1.95),
                (b - 0.12, 1.95),
                (b - 0.14, 1.78),
                ((a + b) / 2 - 0.12, 1.72),
                (a - 0.1, 1.78),
            ],
            darker(ink, 0.78),
        )
    pen.rect(0.5, 1.5, 2.1, 1.74, rgb(0x2A2E30))
    write(pen, 1.3, 1.55, goods, 0.14, lit(WHITE), centred=True)


def _wares(pen: Pen, dice: Dice, w: float, goods: str) -> None:
    tones = {
        "FISH": (0xB9C6CC, 0x8FA3AE, 0xD9B7A4), "LEMONS": (0xE9C93F, 0xD9B23A, 0xC9D05A),
        "FLOWERS": (0xC9413F, 0xD97FA0, 0xE4A33B), "APPLES": (0xB5402F, 0xC9B04A, 0x8FA34A),
        "BREAD": (0xB98A4A, 0xC9A063, 0x9C6B3F), "CHEESE": (0xE4CF8A, 0xD9B65A, 0xEFE3C0),
        "POTS": (0xA9603F, 0x4E7FA0, 0xD9CDB4), "HONEY": (0xC98F35, 0xB9772A, 0xE0B65F),
    }.get(goods, (0x8FA34A, 0xB5402F, 0xE0B65F))  # fmt: skip
    for k, code in enumerate(tones):
        dots = []
        for i in range(9):
            x = 0.18 + (w - 0.36) * ((i * 3 + k) / 27)
            y = 0.84 + 0.1 * dice.unit(1, k, i)
            r = dice.between(0.06, 0.1, 2, k, i)
            dots.append(ellipse(x, y, r, r * 0.8))
        for dot in dots:
            pen.fill(dot, lit(rgb(code), 0.97))


def draw_bicycle(pen: Pen) -> None:
    """A bicycle leaning on nothing in particular."""
    ink = rgb(0x2F5D62)
    pen.lines(
        [ellipse(-0.5, 0.34, 0.33, 0.33), ellipse(0.5, 0.34, 0.33, 0.33)],
        0.035,
        rgb(0x25262A),
        closed=True,
    )
    pen.lines(
        [
            [(-0.5, 0.34), (-0.12, 0.36), (0.32, 0.78), (-0.2, 0.8), (-0.12, 0.36)],
            [(-0.5, 0.34), (-0.2, 0.8), (-0.24, 0.92)],
            [(0.5, 0.34), (0.32, 0.78), (0.3, 0.98), (0.42, 1.0)],
        ],
        0.035, ink,
    )  # fmt: skip
    pen.rect(-0.34, 0.9, -0.14, 0.95, DARK_WOOD)
    pen.fill([(0.36, 0.66), (0.66, 0.66), (0.62, 0.88), (0.38, 0.88)], lit(ROPE))


def draw_handcart(pen: Pen, dice: Dice) -> None:
    """A handcart with a load."""
    pen.line([(-1.1, 0.62), (0.9, 0.5)], 0.06, lit(WOOD))
    for i in range(3):
        draw_crate(pen.moved(-0.55 + 0.45 * i, 0.58), dice.child(i), 0.42)
    pen.line(ellipse(0.1, 0.3, 0.3, 0.3), 0.06, DARK_WOOD, closed=True)
    spokes = [
        [(0.1, 0.3), (0.1 + 0.28 * np.cos(t), 0.3 + 0.28 * np.sin(t))]
        for t in np.linspace(0, 5.5, 8)
    ]
    pen.lines(spokes, 0.025, DARK_WOOD)


def draw_gear(pen: Pen, dice: Dice) -> None:
    """Something that lies about on a quay."""
    kind = dice.unit(1)
    if kind < 0.26:
        draw_pots(pen, dice.child(1), dice.whole(2, 4, 2), dice.whole(1, 3, 3))
    elif kind < 0.48:
        for i in range(dice.whole(2, 5, 4)):
            draw_crate(
                pen.moved(0.55 * (i % 3) + 0.2 * (i // 3), 0.52 * (i // 3)), dice.child(i), 0.55
            )
    elif kind < 0.62:
        draw_net_heap(pen, dice.child(1), dice.between(1.4, 2.6, 5))
    elif kind < 0.72:
        for i in range(3):
            draw_barrel(pen.moved(0.62 * i, 0.0), dice.child(i))
    elif kind < 0.8:
        draw_bicycle(pen)
    elif kind < 0.9:
        draw_handcart(pen, dice.child(1))
    else:
        pen.rect(-0.4, 0, 0.4, 0.4, lit(rgb(0xA9603F)))
        draw_bush(pen.moved(0, 0.35), dice.child(1), 1.1, flowers=rgb(0xD97FA0))


def draw_barrel(pen: Pen, dice: Dice) -> None:
    """A barrel with hoops."""
    ink = lit(dice.choice((WOOD, rgb(0x9C7A4F), rgb(0x3F6F6B)), 1), 0.95)
    pen.fill([(-0.24, 0), (0.24, 0), (0.3, 0.4), (0.24, 0.82), (-0.24, 0.82), (-0.3, 0.4)], ink)
    pen.fill([(0.08, 0), (0.24, 0), (0.3, 0.4), (0.24, 0.82), (0.08, 0.82)], shaded(ink, 0.8))
    pen.lines([[(-0.27, 0.16), (0.27, 0.16)], [(-0.28, 0.62), (0.28, 0.62)]], 0.04, IRON)
    pen.disc(0, 0.82, 0.24, darker(ink, 0.7), 0.05)


def draw_notice_pillar(pen: Pen, dice: Dice) -> None:
    """A round pillar covered with posters."""
    pen.shade([(0, 0), (2.2, 0.1), (2.2, 0.2), (0, 0.1)], 0.35)
    pen.rect(-0.5, 0, 0.5, 2.6, lit(rgb(0x5F7F78)))
    words = ("REGATTA", "BRASS BAND", "LOST: CAT", "TIDE TABLE", "CHOIR", "FISH FRY")
    for i in range(6):
        x, y = -0.46 + 0.47 * (i % 2), 0.25 + 0.75 * (i // 2)
        paper = lit(mix(LINEN, dice.choice(CLOTHES, 1, i), 0.4))
        pen.rect(x, y, x + 0.42, y + 0.66, paper)
        write(pen, x + 0.21, y + 0.5, words[i], 0.045, rgb(0x2A2421), centred=True)
        pen.disc(x + 0.21, y + 0.26, 0.12, dice.choice(CLOTHES, 2, i))
    pen.fill([(0.2, 0), (0.5, 0), (0.5, 2.6), (0.2, 2.6)], (0.13, 0.15, 0.25), 0.35)
    pen.fill([(-0.62, 2.6), (0.62, 2.6), (0.3, 2.95), (-0.3, 2.95)], rgb(0x4A6660))
    pen.disc(0, 3.02, 0.1, rgb(0x4A6660))
