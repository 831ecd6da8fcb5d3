"""Houses."""

from __future__ import annotations

from .dice import Dice
from .paint import Pen
from .palette import ROOFS, WALLS, GLASS, lit, shaded


def draw_house(pen: Pen, dice: Dice, w: float, h: float) -> None:
    wall = lit(dice.choice(WALLS, 1))
    pen.rect(0, 0, w, h, wall)
    roof = dice.choice(ROOFS, 2)
    pen.fill([(-0.3, h), (w + 0.3, h), (w - 0.8, h + 1.8), (0.8, h + 1.8)], lit(roof))
    for i in range(int(w / 1.8)):
        for j in range(int(h / 3)):
            x, y = 0.7 + i * 1.8, 1.0 + 3 * j
            pen.rect(x, y, x + 0.9, y + 1.4, shaded(GLASS))
