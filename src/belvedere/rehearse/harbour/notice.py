"""The notice board on the mole: a chart of the harbour, the rules, and very small print."""

from __future__ import annotations

import numpy as np

from .dice import Dice
from .lettering import write
from .noise import F64
from .palette import LINEN, WOOD, darker, lit, rgb, shaded
from .pen import Pen, ellipse

_INK = rgb(0x2A3442)


def draw_notice_board(pen: Pen, dice: Dice) -> None:
    """Two posts, a little roof, three sheets behind each other's edges; 3 m wide."""
    pen.shade([(-1.3, 0), (1.5, 0), (3.4, 0.18), (0.6, 0.2)], 0.4)
    for x in (-1.4, 1.25):
        pen.rect(x, 0, x + 0.15, 2.25, lit(WOOD, 0.9))
        pen.rect(x + 0.1, 0, x + 0.15, 2.25, darker(WOOD, 0.55))
    pen.rect(-1.4, 0.72, 1.4, 2.2, lit(rgb(0x6F5638), 0.95))
    pen.rect(-1.32, 0.79, 1.32, 2.13, rgb(0x3F5F57), grain=0.3)
    pen.fill(
        [(-1.65, 2.2), (1.65, 2.2), (1.45, 2.48), (-1.45, 2.48)],
        lit(rgb(0x7C5A3C), 0.98),
        grain=0.3,
    )
    shingles = [[(x * 1.1, 2.2), (x, 2.48)] for x in np.linspace(-1.4, 1.4, 22)]
    pen.lines(shingles, 0.015, darker(WOOD, 0.5), 0.8)
    pen.shade([(-1.32, 2.13), (1.32, 2.13), (1.32, 2.04), (-1.32, 2.0)], 0.5)
    _chart(pen.moved(-1.26, 0.85))
    _rules(pen.moved(0.36, 0.98))
    _small_notes(pen.moved(0.36, 0.82), dice)


def _coast(seed: Dice) -> F64:
    x = np.linspace(0.08, 1.44, 60)
    wobble = np.array([seed.between(-0.012, 0.012, 1, i) for i in range(60)])
    y = 0.62 + 0.16 * np.sin(x * 4.4 + 0.4) + 0.05 * np.sin(x * 13.0) + wobble
    return np.stack([x, np.clip(y, 0.1, 1.05)], 1)


def _chart(pen: Pen) -> None:
    """A sea chart: soundings, fairway, compass rose, title."""
    pen.shade([(0.03, -0.03), (1.56, -0.03), (1.56, 1.12), (0.03, 1.12)], 0.4)
    pen.rect(0, 0, 1.53, 1.15, lit(rgb(0xEFE8D2), 0.98), grain=0.14)
    coast = _coast(Dice(5))
    pen.fill(np.concatenate([coast, [(1.46, 1.08), (0.06, 1.08)]]), lit(rgb(0xDBC58E), 0.98))
    shallow = np.concatenate([coast, coast[::-1] - (0.0, 0.09)])
    pen.fill(shallow, rgb(0xB9D3D6))
    pen.lines([coast, coast - (0.0, 0.09), coast - (0.0, 0.2)], 0.006, _INK)
    pen.line([(0.05, 0.05), (1.48, 0.05), (1.48, 1.1), (0.05, 1.1)], 0.012, _INK, closed=True)
    for i in range(1, 8):
        pen.line([(0.05 + 0.18 * i, 0.05), (0.05 + 0.18 * i, 1.1)], 0.002, _INK, 0.5)
    for i in range(1, 6):
        pen.line([(0.05, 0.05 + 0.18 * i), (1.48, 0.05 + 0.18 * i)], 0.002, _INK, 0.5)
    write(pen, 0.98, 0.96, "HARBOUR OF SALTMERE", 0.055, _INK, centred=True, weight=0.16)
    write(pen, 0.98, 0.9, "SOUNDINGS IN FATHOMS", 0.026, _INK, centred=True)
    dice = Dice(17)
    for i in range(28):
        x, y = 0.5 + 0.13 * (i % 7) + dice.between(0, 0.05, 1, i), 0.12 + 0.075 * (i // 7)
        if 0.22 < y < 0.34:
            y += 0.11
        write(pen, x, y, str(dice.whole(2, 19, 3, i)), 0.02, _INK, alpha=0.9)
    for x, y, name in (
        (0.72, 0.72, "TOWN"), (1.2, 0.72, "BOATYARD"), (0.1, 0.86, "LIGHT"),
        (0.62, 0.24, "GOOD HOLDING"), (1.08, 0.3, "THE SLEEPERS"), (0.3, 0.5, "MOLE"),
    ):  # fmt: skip
        write(pen, x, y, name, 0.026, rgb(0x7A2E2A))
    rose = pen.moved(0.3, 0.26)
    rose.line(ellipse(0, 0, 0.13, 0.13), 0.005, _INK, closed=True)
    for k in range(16):
        a = k * np.pi / 8
        r = 0.15 if k % 4 == 0 else 0.1 if k % 2 == 0 else 0.07
        s, c = np.sin(a), np.cos(a)
        rose.fill([(0.02 * c, -0.02 * s), (r * s, r * c), (0, 0)], _INK)
        rose.fill([(-0.02 * c, 0.02 * s), (r * s, r * c), (0, 0)], rgb(0xB9A97F))
    write(rose, 0, 0.16, "N", 0.03, _INK, centred=True)
    pen.line([(0.2, 0.62), (0.3, 0.56), (0.44, 0.54), (0.56, 0.56)], 0.014, _INK)
    pen.disc(0.56, 0.56, 0.016, rgb(0xC9343A))
    write(pen, 0.59, 0.6, "YOU ARE HERE", 0.026, rgb(0xC9343A), weight=0.18)
    # The line for which the focus has to be right.
    write(
        pen,
        0.765,
        0.068,
        "IF YOU CAN READ THIS, YOUR FOCUS WAS RIGHT",
        0.0155,
        _INK,
        centred=True,
        weight=0.13,
    )


def _rules(pen: Pen) -> None:
    pen.shade([(0.03, -0.03), (0.9, -0.03), (0.9, 1.05), (0.03, 1.05)], 0.4)
    pen.rect(0, 0, 0.88, 1.06, lit(LINEN, 0.99), grain=0.12)
    write(pen, 0.44, 0.93, "THE MOLE", 0.075, rgb(0x7A2E2A), centred=True, weight=0.17)
    lines = (
        "FEED NO GULLS", "KEEP YOUR HAT ON", "MIND THE WET STONES", "CHILDREN HOLD HANDS",
        "ROPES ARE NOT SWINGS", "THE CAT IS NOT FOR SALE", "HIGH WATER 4.50 PM",
        "CLOSED IN A GALE",
    )  # fmt: skip
    for i, text in enumerate(lines):
        pen.disc(0.07, 0.83 - 0.095 * i + 0.018, 0.011, _INK)
        write(pen, 0.11, 0.83 - 0.095 * i, text, 0.034, _INK)
    write(pen, 0.44, 0.04, "THE HARBOUR MASTER", 0.03, _INK, centred=True)
    pen.disc(0.75, 0.09, 0.05, rgb(0xA8322A))


def _small_notes(pen: Pen, dice: Dice) -> None:
    notes = (("FOUND: ONE OAR", 0xE9D9A0), ("CHOIR THURSDAY", 0xD5DEDD))
    for i, (text, paper) in enumerate(notes):
        x = 0.02 + 0.45 * i
        tilt = 0.01 * (1 - 2 * i)
        pen.fill(
            [(x, 0), (x + 0.4, tilt), (x + 0.4, 0.13 + tilt), (x, 0.13)], lit(rgb(paper), 0.98)
        )
        write(pen, x + 0.2, 0.05 + tilt / 2, text, 0.026, shaded(_INK, 0.2), centred=True)
        pen.disc(x + 0.2, 0.115, 0.01, dice.choice((rgb(0xC9343A), rgb(0x2F5F8B)), i))
