"""Rocks at the foot of the headland, and the surf along them."""

from __future__ import annotations

import numpy as np

from .dice import Dice
from .palette import WHITE, darker, lit, mix, rgb, shaded
from .pen import Pen


def draw_rocky_shore(pen: Pen, dice: Dice, length: float) -> None:
    """Broken rock a few metres high over a line of foam; origin at the waterline, left end."""
    stone = rgb(0x9A8F80)
    count = int(length / 1.7)
    for layer, (low, high) in enumerate(((0.9, 2.9), (-0.2, 1.5))):
        for i in range(count):
            x = length * (i + dice.unit(1, layer, i)) / count
            w = dice.between(1.6, 4.2, 2, layer, i)
            h = dice.between(low, high, 3, layer, i) + 1.4
            tone = mix(stone, rgb(0xB5A58C), dice.unit(4, layer, i))
            peak = x + dice.between(0.25, 0.6, 5, layer, i) * w
            foot = -0.5
            pen.fill(
                [
                    (x, foot),
                    (x + 0.12 * w, h * 0.55),
                    (peak, h),
                    (x + 0.85 * w, h * 0.6),
                    (x + w, foot),
                ],
                lit(tone, 1.05),
                grain=0.5,
            )
            pen.fill(
                [(peak, h), (x + 0.85 * w, h * 0.6), (x + w, foot), (peak + 0.1 * w, foot)],
                shaded(darker(tone, 0.85), 0.8),
                grain=0.5,
            )
    xs = np.linspace(0, length, int(length / 0.8))
    tide = [(x, 0.1 + 0.35 * dice.unit(6, i)) for i, x in enumerate(xs)]
    pen.fill([*tide, (length, -0.6), (0, -0.6)], rgb(0x2E3630), 0.7, 0.4)
    foam = [
        [(x, -0.35 + 0.2 * dice.unit(7, i)), (x + 0.9, -0.4 + 0.2 * dice.unit(8, i))]
        for i, x in enumerate(xs)
    ]
    pen.lines(foam, 0.28, lit(WHITE), 0.8)
