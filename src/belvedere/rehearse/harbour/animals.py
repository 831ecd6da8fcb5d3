"""Cats, gulls, dogs, goats, a seal, a heron."""

from __future__ import annotations

from .dice import Dice
from .motion import swing
from .palette import Rgb, darker, lit, rgb, shaded
from .pen import Pen, ellipse

_COATS = tuple(rgb(c) for c in (0x2B2A2C, 0xC4803F, 0x8B8780, 0xE9E1D2, 0x6B5036))


def draw_cat(pen: Pen, dice: Dice, coat: Rgb | None = None) -> None:
    """A sitting cat, 0.45 m high, with its tail around it."""
    if not pen.shows(0.1, 0.5):
        return
    ink = lit(coat or dice.choice(_COATS, 1), 0.95)
    dark = darker(ink, 0.7)
    pen.shade(ellipse(0.12, 0.0, 0.24, 0.03), 0.4)
    pen.line([(0.08, 0.04), (0.24, 0.02), (0.30, 0.06), (0.27, 0.12)], 0.05, dark)
    pen.fill([(-0.15, 0), (0.14, 0), (0.15, 0.12), (0.07, 0.30), (-0.06, 0.32), (-0.13, 0.2)], ink)
    pen.fill([(0.03, 0), (0.14, 0), (0.15, 0.12), (0.07, 0.28)], dark)
    pen.disc(-0.02, 0.37, 0.09, ink, 0.08)
    pen.fills(
        [[(-0.10, 0.40), (-0.09, 0.50), (-0.03, 0.44)], [(0.0, 0.44), (0.06, 0.5), (0.06, 0.4)]],
        ink,
    )
    if pen.shows(0.02, 0.7):
        pen.fills(
            [ellipse(-0.05, 0.375, 0.014, 0.018), ellipse(0.02, 0.375, 0.014, 0.018)], rgb(0xD9C95A)
        )
        pen.line([(-0.09, 0.0), (-0.08, 0.14)], 0.02, dark)


def draw_gull(pen: Pen, dice: Dice) -> None:
    """A standing gull, 0.4 m high."""
    if not pen.shows(0.12, 0.5):
        return
    pen = pen.moved(0, 0, flip=dice.chance(0.5, 91))
    white, grey = lit(rgb(0xF2EFEA)), shaded(rgb(0xB9BEC4), 0.3)
    pen.lines([[(-0.03, 0), (-0.02, 0.12)], [(0.04, 0), (0.03, 0.12)]], 0.018, rgb(0xD9A03A))
    pen.fill(
        [(-0.2, 0.22), (-0.1, 0.30), (0.1, 0.27), (0.34, 0.15), (0.1, 0.11), (-0.12, 0.12)], white
    )
    pen.fill([(-0.08, 0.27), (0.1, 0.25), (0.36, 0.16), (0.1, 0.16)], grey)
    pen.fill([(0.24, 0.19), (0.38, 0.15), (0.24, 0.16)], rgb(0x2B2A2C))
    pen.disc(-0.18, 0.36, 0.065, white)
    pen.fill([(-0.2, 0.22), (-0.22, 0.34), (-0.12, 0.34), (-0.08, 0.25)], white)
    pen.fill([(-0.24, 0.37), (-0.33, 0.34), (-0.24, 0.33)], rgb(0xE0A53C))
    if pen.shows(0.02, 0.7):
        pen.disc(-0.2, 0.375, 0.012, rgb(0x1E1E1E))


def draw_flying_gull(pen: Pen, dice: Dice) -> None:
    """A gull on the wing, span 1.3 m."""
    if not pen.shows(0.5, 0.8):
        return
    pen = pen.moved(0, 0, flip=dice.chance(0.5, 92))
    beat = swing(pen.at_s, dice.between(0.5, 0.9, 94), dice.unit(95))
    lift = dice.between(-0.15, 0.35, 93) + 0.16 * beat
    white, under = lit(rgb(0xF4F1EB)), shaded(rgb(0xCFD3D8), 0.5)
    pen.fill(
        [
            (0.0, 0.06),
            (0.2, 0.2 + lift * 0.6),
            (0.66, 0.14 + lift),
            (0.3, 0.08 + lift * 0.5),
            (0.06, -0.02),
        ],
        under,
    )
    pen.fill(
        [(0.5, 0.13 + lift * 0.85), (0.68, 0.14 + lift), (0.52, 0.1 + lift * 0.8)], rgb(0x3A3A40)
    )
    pen.fill(
        [(-0.32, 0.03), (-0.2, 0.09), (0.1, 0.06), (0.34, 0.0), (0.1, -0.05), (-0.2, -0.04)], white
    )
    pen.fill(
        [
            (-0.05, 0.06),
            (-0.2, 0.26 + lift),
            (-0.62, 0.24 + lift),
            (-0.28, 0.17 + lift * 0.6),
            (-0.12, -0.01),
        ],
        white,
    )
    pen.fill(
        [(-0.46, 0.22 + lift), (-0.66, 0.24 + lift), (-0.48, 0.18 + lift * 0.9)], rgb(0x3A3A40)
    )
    pen.fill([(-0.32, 0.05), (-0.42, 0.03), (-0.32, 0.01)], rgb(0xE0A53C))


def draw_dog(pen: Pen, dice: Dice) -> None:
    """A trotting dog, 0.5 m high."""
    ink = lit(dice.choice(_COATS, 1), 0.95)
    pen = pen.moved(0, 0, flip=dice.chance(0.5, 94))
    pen.shade(ellipse(0.1, 0.0, 0.4, 0.04), 0.4)
    legs = [
        [(-0.22, 0.28), (-0.28, 0)],
        [(-0.18, 0.26), (-0.12, 0)],
        [(0.22, 0.28), (0.16, 0)],
        [(0.24, 0.28), (0.32, 0.02)],
    ]
    pen.lines(legs, 0.055, darker(ink, 0.85))
    pen.fill(
        [(-0.3, 0.26), (-0.28, 0.42), (0.28, 0.43), (0.32, 0.3), (0.2, 0.24), (-0.15, 0.24)], ink
    )
    pen.fill([(-0.26, 0.36), (-0.36, 0.58), (-0.22, 0.58), (-0.14, 0.42)], ink)
    pen.fill([(-0.24, 0.58), (-0.38, 0.6), (-0.52, 0.52), (-0.5, 0.47), (-0.34, 0.46)], ink)
    pen.fill([(-0.26, 0.6), (-0.2, 0.44), (-0.3, 0.5)], darker(ink, 0.6))
    pen.line([(0.3, 0.4), (0.42, 0.5), (0.46, 0.6)], 0.04, ink)


def draw_goat(pen: Pen, dice: Dice) -> None:
    """A grazing goat, 0.8 m."""
    ink = lit(dice.choice((rgb(0xECE5D8), rgb(0x8B6B4A), rgb(0x3A3634)), 1))
    pen = pen.moved(0, 0, flip=dice.chance(0.5, 95))
    pen.lines([[(x, 0.4), (x, 0)] for x in (-0.32, -0.24, 0.24, 0.32)], 0.06, darker(ink, 0.75))
    pen.fill([(-0.4, 0.4), (-0.36, 0.72), (0.36, 0.74), (0.42, 0.42)], ink)
    pen.fill([(-0.34, 0.6), (-0.6, 0.36), (-0.66, 0.2), (-0.54, 0.18), (-0.36, 0.42)], ink)
    pen.line([(-0.52, 0.42), (-0.42, 0.54), (-0.3, 0.56)], 0.035, rgb(0x55493C))


def draw_seal(pen: Pen, dice: Dice) -> None:
    """A seal's head in the water, 0.35 m, rings around it."""
    ink = rgb(0x4A4A4E)
    for r in (1.5, 1.0, 0.6):
        pen.line(ellipse(0, 0, r, r * 0.1), 0.03, rgb(0xB9CCD2), 0.5, closed=True)
    pen.fill([(-0.22, 0), (-0.2, 0.22), (-0.06, 0.33), (0.12, 0.3), (0.22, 0.14), (0.24, 0)], ink)
    pen.fill([(-0.2, 0.05), (-0.18, 0.2), (-0.06, 0.3), (-0.08, 0.1)], lit(rgb(0x7B7872)))
    pen.fills([ellipse(-0.1, 0.2, 0.03, 0.035), ellipse(0.07, 0.2, 0.03, 0.035)], rgb(0x111111))
    pen.fill(ellipse(-0.03, 0.12, 0.05, 0.035), rgb(0x202024))


def draw_heron(pen: Pen, dice: Dice) -> None:
    """A heron on one leg, 0.95 m."""
    grey, pale = lit(rgb(0x9AA5AE)), lit(rgb(0xE6E4DE))
    pen.line([(0.02, 0), (0.02, 0.4)], 0.03, rgb(0x8B7A4A))
    pen.line([(0.03, 0.4), (0.14, 0.28), (0.06, 0.22)], 0.03, rgb(0x8B7A4A))
    pen.fill([(-0.14, 0.46), (0.0, 0.62), (0.24, 0.5), (0.36, 0.34), (0.1, 0.38)], grey)
    pen.line([(-0.1, 0.5), (-0.2, 0.66), (-0.06, 0.74), (-0.12, 0.88)], 0.06, pale)
    pen.fill([(-0.06, 0.93), (-0.2, 0.93), (-0.46, 0.87), (-0.18, 0.86)], rgb(0xD9A03A))
    pen.disc(-0.13, 0.9, 0.06, pale, 0.045)
    pen.line([(-0.1, 0.94), (0.08, 0.9)], 0.025, rgb(0x2B2A2C))
