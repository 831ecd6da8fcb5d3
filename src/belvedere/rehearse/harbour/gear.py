"""Crates, nets, buoys: what fishing needs."""

from __future__ import annotations

from .dice import Dice
from .palette import (
    BRASS,
    DARK_WOOD,
    WHITE,
    WOOD,
    darker,
    lit,
    mix,
    rgb,
    shaded,
)
from .pen import Pen, ellipse


def draw_crate(pen: Pen, dice: Dice, size: float) -> None:
    """A slatted fish crate."""
    ink = lit(dice.choice((WOOD, rgb(0xB08A52), rgb(0x4E7FA0), rgb(0xC9653F)), 1), 0.97)
    s = size
    pen.shade([(s, 0), (s * 1.5, 0), (s * 1.4, s * 0.2), (s, s * 0.7)], 0.4)
    pen.rect(0, 0, s, 0.72 * s, ink)
    pen.fill(
        [(0, 0.72 * s), (0.14 * s, 0.92 * s), (1.12 * s, 0.92 * s), (s, 0.72 * s)],
        darker(ink, 0.45),
    )
    pen.fill([(s, 0), (1.12 * s, 0.2 * s), (1.12 * s, 0.92 * s), (s, 0.72 * s)], shaded(ink, 0.9))
    pen.lines(
        [[(0, 0.24 * s), (s, 0.24 * s)], [(0, 0.48 * s), (s, 0.48 * s)]], 0.04 * s, darker(ink, 0.5)
    )
    if dice.chance(0.4, 2):
        fish = [ellipse((0.3 + 0.22 * i) * s, 0.82 * s, 0.14 * s, 0.05 * s) for i in range(3)]
        for f in fish:
            pen.fill(f, lit(rgb(0xB9C6CC)))


def draw_net_heap(pen: Pen, dice: Dice, width: float) -> None:
    """A heap of nets with cork floats."""
    ink = dice.choice((rgb(0x3E6F66), rgb(0x4A6FA0), rgb(0x9C6B4A)), 1)
    w = width
    pen.fill(
        [
            (-0.5 * w, 0),
            (-0.42 * w, 0.2 * w),
            (-0.15 * w, 0.36 * w),
            (0.2 * w, 0.32 * w),
            (0.45 * w, 0.15 * w),
            (0.52 * w, 0),
        ],
        lit(ink, 0.85),
        grain=0.5,
    )
    if pen.shows(0.08 * w, 0.8):
        for i in range(14):
            a = dice.between(-0.45, 0.3, 2, i) * w
            b = dice.between(0.02, 0.2, 3, i) * w
            pen.line(
                [(a, b), (a + 0.1 * w, b + 0.08 * w), (a + 0.2 * w, b + 0.02 * w)],
                0.018 * w,
                darker(ink, 0.55),
                0.8,
            )
    floats = [
        ellipse(
            dice.between(-0.4, 0.4, 4, i) * w,
            dice.between(0.04, 0.22, 5, i) * w,
            0.035 * w,
            0.03 * w,
        )
        for i in range(6)
    ]
    for f in floats:
        pen.fill(f, lit(rgb(0xD9803A)))


def draw_buoy(pen: Pen, dice: Dice) -> None:
    """A mooring buoy or a bell buoy."""
    ink = lit(dice.choice((rgb(0xC9413F), rgb(0xE0A53C), rgb(0x3F7F5A)), 1))
    pen.fill([(-0.4, -0.1), (0.4, -0.1), (0.3, -0.45), (-0.3, -0.45)], darker(ink, 0.6), 0.5)
    pen.disc(0, 0.1, 0.42, ink, 0.3)
    pen.fill(
        [(0.1, -0.18), (0.36, -0.06), (0.42, 0.12), (0.28, 0.3), (0.16, 0.1)], shaded(ink, 0.8)
    )
    pen.disc(-0.16, 0.2, 0.09, mix(ink, WHITE, 0.6), 0.06)
    pen.line(
        ellipse(0, 0.42, 0.1, 0.1), 0.04, BRASS if dice.chance(0.5, 2) else DARK_WOOD, closed=True
    )
    pen.rect(-0.44, -0.16, 0.44, -0.08, rgb(0x1E3A3F), 0.6)
