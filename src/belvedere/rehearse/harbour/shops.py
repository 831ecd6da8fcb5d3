"""Shop fronts: glass, goods, awnings and names."""

from __future__ import annotations

import numpy as np

from .dice import Dice
from .facades import Style
from .lettering import write
from .palette import (
    CLOTHES,
    DOORS,
    LINEN,
    darker,
    lit,
    rgb,
)
from .pen import Pen

SHOP_NAMES = (
    "BAKERY", "CHANDLER", "FISH", "ROPES & SAILS", "TEA ROOM", "BOOKS", "THE TIDE INN",
    "CLOCKS", "OILSKINS", "POST", "LAMPS", "BREAD", "CHARTS", "THE GREY GULL", "KNOTS", "HERBS",
    "PAINT", "THE ANCHOR", "BUTTONS", "CHEESE",
)  # fmt: skip


def draw_shop(pen: Pen, dice: Dice, width: float, style: Style) -> None:
    """A shop front along the whole ground floor: glass, awning, name."""
    ink = dice.choice(DOORS, 51)
    name = dice.choice(SHOP_NAMES, 52)
    x0, x1 = 0.35, width - 0.35
    pen.rect(x0, 0, x1, 2.95, lit(ink, 0.9))
    door = x0 + (x1 - x0) * dice.choice((0.05, 0.4, 0.7), 53)
    panes = [(x0 + 0.15, door - 0.1), (door + 1.0, x1 - 0.15)]
    for k, (a, b) in enumerate(panes):
        if b - a < 0.5:
            continue
        pen.rect(a, 0.55, b, 2.2, rgb(0x2A333C), grain=0.05)
        _goods(pen, dice.child(k), a, b)
        pen.fill([(a, 2.2), (a + 0.45 * (b - a), 2.2), (a, 1.1)], rgb(0xB7C9D2), 0.3)
        bars = np.linspace(a, b, max(2, int((b - a) / 0.6) + 1))
        pen.lines([[(x, 0.55), (x, 2.2)] for x in bars], 0.05, lit(ink, 1.1))
    pen.rect(door, 0.05, door + 0.9, 2.2, rgb(0x30353B))
    pen.line([(door, 0), (door, 2.2), (door + 0.9, 2.2), (door + 0.9, 0)], 0.08, lit(ink, 1.15))
    pen.rect(x0, 2.35, x1, 2.9, darker(ink, 0.85))
    write(pen, (x0 + x1) / 2, 2.46, name, 0.32, lit(rgb(0xEFDDAE)), centred=True, weight=0.16)
    if dice.chance(0.7, 54):
        _awning(pen, dice, x0, x1)


def _goods(pen: Pen, dice: Dice, a: float, b: float) -> None:
    if not pen.shows(0.15, 1.0):
        return
    pen.rect(a, 0.55, b, 0.75, rgb(0x8B6B3D))
    x, i = a + 0.12, 0
    while x < b - 0.2:
        h = dice.between(0.15, 0.6, 1, i)
        ink = darker(dice.choice(CLOTHES, 2, i), 0.85)
        if dice.chance(0.5, 3, i):
            pen.disc(x + 0.1, 0.75 + h / 2, 0.11, ink, h / 2)
        else:
            pen.rect(x, 0.75, x + 0.2, 0.75 + h, ink)
        x += dice.between(0.22, 0.38, 4, i)
        i += 1


def _awning(pen: Pen, dice: Dice, x0: float, x1: float) -> None:
    cloth = dice.choice((rgb(0xB5402F), rgb(0x2F6F6B), rgb(0xC79A3B), rgb(0x31506E)), 55)
    n = max(4, round((x1 - x0) / 0.42))
    xs = np.linspace(x0 - 0.1, x1 + 0.1, n + 1)
    for i in range(n):
        ink = lit(cloth if i % 2 == 0 else LINEN, 1.02)
        a, b = xs[i], xs[i + 1]
        pen.fill([(a, 2.35), (b, 2.35), (b + 0.02, 1.86), (a - 0.02, 1.86)], ink)
        pen.fill(
            [(a - 0.02, 1.86), (b + 0.02, 1.86), (b, 1.66), ((a + b) / 2, 1.6), (a, 1.66)],
            darker(ink, 0.8),
        )
    pen.shade([(x0 - 0.1, 1.66), (x1 + 0.1, 1.66), (x1 + 0.4, 1.05), (x0 + 0.3, 1.05)], 0.5)
