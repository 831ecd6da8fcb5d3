"""The boatyard: a long shed with equal windows, cranes, a hull on the slip; and the ferry."""

from __future__ import annotations

import numpy as np

from .dice import Dice
from .gear import draw_crate
from .lettering import write
from .palette import DARK_WOOD, GLASS, IRON, STONE, WHITE, WOOD, darker, lit, mix, rgb, shaded
from .pen import Pen, ellipse
from .people import Pose, draw_person, draw_someone

BAYS = 9
BAY_M = 4.4


def draw_shed(pen: Pen, dice: Dice) -> None:
    """Nine equal bays under saw-tooth roofs: the same window again and again."""
    brick = rgb(0xA8664C)
    w, h = BAYS * BAY_M, 8.4
    pen.rect(0, -1.5, w, h, lit(brick, 0.94), grain=0.2)
    if pen.shows(0.14, 1.3):
        rows = np.arange(0, h, 0.14)
        pen.lines([[(0, y), (w, y)] for y in rows], 0.02, rgb(0xD0B8A0), 0.45)
    for i in range(BAYS):
        _bay(pen.moved(i * BAY_M, 0), dice.child(i), h, door=i in (3, 4))
    pen.fill([(w, -1.5), (w + 2.0, -1.5), (w + 2.0, h), (w, h)], shaded(brick), grain=0.2)
    pen.rect(-0.2, h - 0.3, w + 0.2, h, lit(STONE, 1.05))
    pen.shade([(0, h - 0.3), (w, h - 0.3), (w, h - 0.8), (0, h - 0.7)], 0.45)
    board = rgb(0xE9E0CC)
    pen.rect(4.2, 6.15, w - 4.2, 7.6, lit(board, 0.98))
    write(pen, w / 2, 6.45, "SALTMERE BOATYARD", 0.9, rgb(0x2F4F66), centred=True, weight=0.17)


def _bay(pen: Pen, dice: Dice, h: float, *, door: bool) -> None:
    b = BAY_M
    roof = rgb(0x7A7F80)
    pen.fill([(0, h), (b, h), (b, h + 2.6)], lit(roof, 0.9), grain=0.2)
    pen.fill([(b, h), (b, h + 2.6), (b + 0.9, h + 2.6), (b + 0.9, h)], shaded(rgb(0x5A6C78), 0.6))
    pen.lines(
        [[(x, h), (x, h + 2.6 * x / b)] for x in np.arange(0.35, b, 0.35)],
        0.03,
        darker(roof, 0.7),
        0.8,
    )
    pen.line([(0, h), (b, h + 2.6)], 0.12, lit(roof, 1.2))
    pier = lit(rgb(0x9C5C44), 1.0)
    pen.rect(-0.22, -1, 0.22, h - 0.3, pier)
    pen.shade([(0.22, 0), (0.55, 0), (0.55, h - 0.5), (0.22, h - 0.3)], 0.4)
    if door:
        pen.rect(0.4, 0, b, 5.4, rgb(0x1F2429), grain=0.05)
        pen.rect(0.4, 0, 1.0, 5.4, lit(rgb(0x4F6F57)))
        pen.fill([(1.2, 0.4), (b, 0.4), (b, 2.4), (2.0, 3.0)], rgb(0x3A4A52))
        pen.disc(2.6, 4.6, 0.14, rgb(0xFFE3A0))
        draw_person(pen.moved(1.9, 0), dice.child(1), Pose.PAINT)
        return
    x0, x1, y0, y1 = 0.75, b - 0.45, 1.5, 5.4
    pen.rect(x0 - 0.12, y0 - 0.2, x1 + 0.12, y1 + 0.3, lit(STONE, 0.98))
    pen.rect(x0, y0, x1, y1, rgb(0x39464F), grain=0.05)
    panes = []
    for i in range(5):
        for j in range(6):
            a, c = x0 + (x1 - x0) * i / 5, y0 + (y1 - y0) * j / 6
            panes.append((a, c, a + (x1 - x0) / 5, c + (y1 - y0) / 6))
    bright = [p for k, p in enumerate(panes) if dice.chance(0.3, k)]
    pen.rects(bright, mix(GLASS, rgb(0xA9C0CA), 0.65))
    broken = [p for k, p in enumerate(panes) if dice.chance(0.035, 99, k)]
    pen.rects(broken, rgb(0x14181C))
    xs, ys = np.linspace(x0, x1, 6), np.linspace(y0, y1, 7)
    pen.lines(
        [[(x, y0), (x, y1)] for x in xs] + [[(x0, y), (x1, y)] for y in ys],
        0.055,
        lit(rgb(0xC9CFC9), 0.95),
    )
    pen.shade(
        [(x0, y1), (x1, y1), (x1, y1 - 0.3), (x0 + 0.3, y1 - 0.3), (x0 + 0.3, y0), (x0, y0)], 0.5
    )


def _rail(x: float) -> float:
    """Height of the frames' heads along the hull."""
    return 3.4 + 0.012 * x * x + 0.02 * x


def draw_slip(pen: Pen, dice: Dice) -> None:
    """A wooden hull in frame on the slipway, staging, planks, two shipwrights."""
    n = 15.0
    pen.fill([(-9, -0.3), (9, -0.3), (8, 0.5), (-8.4, 0.5)], lit(rgb(0xA99B82)), grain=0.25)
    keel = [
        (-7.0, 1.2),
        (-7.6, 3.6),
        (-7.0, 3.7),
        (-6.2, 1.6),
        (5.0, 1.5),
        (7.4, 4.4),
        (8.0, 4.3),
        (5.6, 1.0),
    ]
    pen.fill(keel, lit(WOOD, 0.85))
    ribs = [
        [(x * 0.96, 1.5), (x * 1.02, 1.9), (x * 1.05, _rail(x))] for x in np.linspace(-6.4, 6.2, 22)
    ]
    pen.lines([[(a + 0.25, b) for a, b in r] for r in ribs], 0.14, darker(WOOD, 0.55))
    pen.lines(ribs, 0.16, lit(rgb(0xC49A63), 1.0))
    for f in (0.0, 0.12, 0.24):
        strake = [
            (x, 1.6 + (_rail(x) - 1.6) * (0.12 + f) + 0.0) for x in np.linspace(-6.6, 6.0, 14)
        ]
        pen.line(strake, 0.26, lit(rgb(0xB98850), 1.0 - 0.3 * f))
    pen.line(
        [(x * 1.05, _rail(x)) for x in np.linspace(-6.6, 6.6, 14)], 0.2, lit(rgb(0xC49A63), 1.05)
    )
    props = [[(x, 0.4), (x * 0.9, 2.6)] for x in (-6.5, -4, -1.5, 1.5, 4.0, 6.0)]
    pen.lines(props, 0.12, DARK_WOOD)
    pen.rect(-6, 2.3, 4.6, 2.42, lit(WOOD))
    draw_person(pen.moved(-3.0, 2.4), dice.child(1), Pose.LEAN)
    draw_person(pen.moved(3.0, 0.4), dice.child(2), Pose.CARRY)
    for i in range(4):
        pen.rect(
            -8.8 + 0.1 * i,
            0.35 + 0.16 * i,
            -4.4 - 0.1 * i,
            0.48 + 0.16 * i,
            lit(WOOD, 0.95 + 0.04 * i),
        )
    draw_crate(pen.moved(0.4 * n, 0.3), dice.child(3), 0.8)


def draw_crane(pen: Pen, dice: Dice, height: float, reach: float) -> None:
    """A lattice crane with a load in mid-air."""
    ink = lit(rgb(0xC98A2F), 0.98)
    dark = darker(ink, 0.6)
    h = height
    pen.rect(-2.0, 0, 2.0, 1.0, lit(STONE, 0.95))
    _lattice(pen, (-0.9, 1.0), (-0.6, h), (0.9, 1.0), (0.6, h), int(h / 1.5), ink, dark)
    _lattice(
        pen,
        (-reach * 0.3, h + 0.1),
        (reach, h + 0.6),
        (-reach * 0.3, h + 1.2),
        (reach, h + 1.0),
        int(reach / 1.1),
        ink,
        dark,
    )
    pen.line([(0, h + 3.6), (reach * 0.75, h + 1.0)], 0.07, dark)
    pen.line([(0, h + 3.6), (-reach * 0.28, h + 1.2)], 0.07, dark)
    pen.lines([[(-0.6, h), (0, h + 3.6)], [(0.6, h), (0, h + 3.6)]], 0.14, ink)
    pen.rect(-reach * 0.3, h - 1.2, -reach * 0.18, h + 0.4, rgb(0x6F6E70))
    pen.rect(-0.9, h - 1.9, 0.9, h - 0.1, lit(rgb(0xE4D9C4)))
    pen.rect(-0.6, h - 1.4, 0.5, h - 0.5, darker(GLASS, 0.8))
    x, y = reach * 0.68, h * 0.42
    pen.lines(
        [[(x - 0.12, h + 0.6), (x - 0.12, y + 1.6)], [(x + 0.12, h + 0.6), (x + 0.12, y + 1.6)]],
        0.04,
        IRON,
    )
    pen.line([(x - 1.6, y), (x, y + 1.6), (x + 1.6, y)], 0.05, IRON)
    for i in range(5):
        pen.rect(
            x - 2.4, y - 0.2 * (i + 1), x + 2.2, y - 0.2 * i - 0.03, lit(WOOD, 0.9 + 0.05 * (i % 3))
        )


def _lattice(
    pen: Pen,
    a0: tuple[float, float],
    a1: tuple[float, float],
    b0: tuple[float, float],
    b1: tuple[float, float],
    bays: int,
    ink: tuple[float, float, float],
    dark: tuple[float, float, float],
) -> None:
    t = np.linspace(0, 1, bays + 1)[:, None]
    a = np.array(a0) + (np.array(a1) - np.array(a0)) * t
    b = np.array(b0) + (np.array(b1) - np.array(b0)) * t
    pen.lines([[a[i], b[i + 1]] for i in range(bays)], 0.07, dark)
    pen.lines([[b[i], a[i + 1]] for i in range(bays)], 0.07, darker(ink, 0.8))
    pen.lines([[a[i], b[i]] for i in range(bays + 1)], 0.07, ink)
    pen.lines([a, b], 0.16, ink)


def draw_ferry(pen: Pen, dice: Dice) -> None:
    """The island ferry coming in, 34 m, with people at the rail."""
    navy, white = rgb(0x24405E), lit(WHITE, 1.0)
    for i in range(9):
        f = i / 9
        y = -0.1 - 0.5 * i**1.15
        pen.rect(
            -16 + dice.between(-1, 1, 1, i),
            y - 0.26,
            15 + dice.between(-1, 1, 2, i),
            y,
            mix(navy, rgb(0x4F6F7A), 0.3),
            0.5 * (1 - f),
        )
    pen.fill([(-16.4, 0), (-17, 2.8), (12, 2.8), (18, 3.9), (15.6, 0)], lit(navy), grain=0.12)
    pen.rect(-16.6, 0.0, 15.7, 0.5, rgb(0x7A2E2A))
    pen.line([(-17, 2.8), (12, 2.8), (18, 3.9)], 0.22, white)
    pen.rect(-15, 2.8, 9, 5.4, white)
    pen.rect(-13, 5.4, 6.5, 7.9, lit(WHITE, 0.98))
    pen.fill([(1.6, 7.9), (6.2, 7.9), (6.9, 10.2), (1.6, 10.2)], white)
    pen.rect(2.2, 8.6, 6.5, 9.5, darker(GLASS, 0.7))
    pen.fill([(-7.5, 7.9), (-4.2, 7.9), (-4.5, 12.4), (-7.6, 12.4)], lit(rgb(0xC98A2F)))
    pen.rect(-7.6, 11.0, -4.45, 12.4, rgb(0x24405E))
    pen.fill([(-5.3, 7.9), (-4.2, 7.9), (-4.5, 12.4), (-5.4, 12.4)], (0.13, 0.15, 0.25), 0.3)
    pen.rects(
        [(-14.2 + 1.75 * i, 3.5, -13.1 + 1.75 * i, 4.6) for i in range(13)], darker(GLASS, 0.75)
    )
    pen.rects([(-12.2 + 1.6 * i, 6.1, -11.2 + 1.6 * i, 7.1) for i in range(11)], darker(GLASS, 0.8))
    pen.fills([ellipse(-14 + 2.1 * i, 1.7, 0.3, 0.3) for i in range(12)], rgb(0x101A24))
    pen.lines([[(-13 + 1.0 * i, 7.9), (-13 + 1.0 * i, 8.9)] for i in range(14)], 0.06, white)
    pen.line([(-13, 8.9), (1.4, 8.9)], 0.08, white)
    for i in range(8):
        draw_someone(pen.moved(-12.2 + 1.7 * i + dice.between(-0.4, 0.4, 3, i), 7.6), dice.child(i))
    draw_person(pen.moved(13.5, 3.2), dice.child(20), Pose.WAVE)
    pen.line([(4.0, 10.2), (4.0, 15.0)], 0.16, white)
    pen.line([(4.0, 15.0), (16.5, 4.0)], 0.04, IRON)
    pen.fill([(4.0, 14.6), (6.4, 14.3), (4.0, 13.6)], lit(rgb(0xC9413F)))
    write(pen, 8.2, 1.3, "GANNET", 0.8, white)
    for i in range(4):
        x = -11.0 + 5.2 * i
        pen.fill(ellipse(x, 5.75, 1.4, 0.5), lit(rgb(0xD9803A)))
        pen.line([(x - 1.4, 5.85), (x + 1.4, 5.85)], 0.1, rgb(0x7A2E2A))
    foam = [[(16 + 0.9 * i, 0.15 - 0.12 * i), (18.2 + 1.1 * i, 0.05 - 0.16 * i)] for i in range(4)]
    pen.lines(foam, 0.25, lit(WHITE), 0.8)
