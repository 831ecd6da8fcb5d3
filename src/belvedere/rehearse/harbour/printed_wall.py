"""A wall of printed sheets on the mole: detail for the longest lens, down to a hair's breadth."""

from __future__ import annotations

from functools import partial

from .dice import Dice
from .items import Item
from .lettering import ADVANCE, CAP, write
from .palette import CLOTHES, LINEN, STONE, darker, lit, mix, rgb
from .pen import Pen
from .walk import walk_spot

_LEFT_DEG = -106.0
_COLUMNS, _ROWS = 16, 4
_SHEET_W, _SHEET_H, _PITCH_W, _PITCH_H = 0.72, 1.06, 0.8, 1.16
_INK = rgb(0x23262C)
_HEADS = (
    "SALTMERE GAZETTE", "TIDE AND WEATHER", "REGATTA NUMBER", "SHIPPING NEWS", "FOR SALE: ROPE",
    "LETTERS", "THE EVENING LAMP", "HARBOUR NOTICES", "CHESS BY POST", "LOST AND FOUND",
)  # fmt: skip
_WORDS = (
    "THE", "TIDE", "TURNED", "AT", "NOON", "AND", "A", "BARGE", "OF", "SLATE", "LAY", "BY",
    "QUAY", "WHILE", "NETS", "DRIED", "IN", "WIND", "GULLS", "ROSE", "OVER", "ROOFS", "PILOT",
    "SAID", "NO", "SHIP", "SHOULD", "SAIL", "BEFORE", "DAWN", "LAMP", "WAS", "LIT", "AGAIN",
    "SEVEN", "BOATS", "CAME", "HOME", "WITH", "HERRING", "BREAD", "IS", "TWO", "PENCE",
)  # fmt: skip


def printed_wall(seed: int) -> list[Item]:
    """The wall, then each sheet as a thing of its own."""
    spot = walk_spot(_LEFT_DEG)
    wide, high = _COLUMNS * _PITCH_W + 0.4, _ROWS * _PITCH_H + 0.4
    items = [spot.item(partial(_draw_wall, wide=wide, high=high), -0.5, -0.4, wide + 1.5, high + 1)]
    for row in range(_ROWS):
        for column in range(_COLUMNS):
            dice = Dice(seed, 81, row, column)
            here = spot.moved(0.24 + column * _PITCH_W, 0.3 + row * _PITCH_H)
            draw = partial(_draw_sheet, dice=dice)
            items.append(here.item(draw, -0.05, -0.06, _SHEET_W + 0.1, _SHEET_H + 0.05, grain=0.1))
    return items


def _draw_wall(pen: Pen, wide: float, high: float) -> None:
    pen.shade([(0, 0), (wide, 0), (wide + 1.4, 0.2), (0.6, 0.2)], 0.4)
    pen.rect(0, 0, wide, high, lit(mix(STONE, rgb(0x9A6B52), 0.35), 0.85), grain=0.45)
    pen.rect(-0.1, high, wide + 0.1, high + 0.16, lit(STONE, 1.05), grain=0.3)


def _draw_sheet(pen: Pen, dice: Dice) -> None:
    """One sheet: a headline, a drawing, two columns of small print, a rim of very small print."""
    w, h = _SHEET_W, _SHEET_H
    pen.shade([(0.02, -0.02), (w + 0.02, -0.02), (w + 0.02, h - 0.02), (0.02, h - 0.02)], 0.4)
    paper = lit(mix(LINEN, dice.choice(CLOTHES, 1), 0.18 * dice.unit(2)), 0.98)
    pen.rect(0, 0, w, h, paper)
    head = dice.choice(_HEADS, 3)
    size = min(0.06, 0.6 / len(head))
    write(pen, w / 2, h - 0.11, head, size, _INK, centred=True, weight=0.17)
    pen.line([(0.05, h - 0.135), (w - 0.05, h - 0.135)], 0.004, _INK)
    _draw_picture(pen.moved(0.06, h - 0.42), dice.child(4))
    for column in (0, 1):
        _draw_text(pen, dice.child(5, column), 0.05 + 0.325 * column, 0.07, h - 0.46)
    pen.line([(0.02, 0.02), (w - 0.02, 0.02), (w - 0.02, h - 0.02), (0.02, h - 0.02)], 0.003, _INK,
             closed=True)  # fmt: skip
    if pen.shows(0.0018, 2.5):
        rim = "PRINTED AT SALTMERE BY THE TIDE PRESS - "
        count = int((w - 0.08) / (len(rim) * ADVANCE * 0.0018 / CAP))
        write(pen, 0.04, 0.028, rim * count, 0.0018, _INK)
        write(pen, 0.04, h - 0.03, rim * count, 0.0018, _INK)


def _draw_text(pen: Pen, dice: Dice, x: float, bottom: float, top: float) -> None:
    """A column of print, 0.3 m wide; capitals of 7.5 mm."""
    size, lead = 0.0075, 0.0145
    if not pen.shows(size, 2.5):
        # Lines too fine to tell apart are a grey, as dark as their ink covers of the paper.
        pen.rect(x, bottom, x + 0.28, top, _INK, 0.18)
        return
    room = int(0.3 / (ADVANCE * size / CAP))
    for j in range(int((top - bottom) / lead)):
        line, i = "", 0
        while True:
            word = dice.choice(_WORDS, j, i)
            if len(line) + len(word) > room:
                break
            line, i = f"{line}{word} ", i + 1
        write(pen, x, top - (j + 1) * lead, line.strip(), size, _INK)


def _draw_picture(pen: Pen, dice: Dice) -> None:
    """A woodcut: a boat under a sun, hatched."""
    w, h = 0.6, 0.25
    pen.rect(0, 0, w, h, mix(LINEN, dice.choice(CLOTHES, 1), 0.35))
    for i in range(9):
        y = 0.012 + 0.008 * i
        pen.line([(0.01, y), (w * 0.5, y + 0.004), (w - 0.01, y)], 0.0022, _INK)
    x = dice.between(0.18, 0.42, 2)
    pen.fill([(x - 0.11, 0.085), (x + 0.12, 0.085), (x + 0.09, 0.05), (x - 0.09, 0.05)], _INK)
    pen.line([(x, 0.08), (x, 0.23)], 0.005, _INK)
    sail = dice.choice(CLOTHES, 3)
    pen.fill([(x + 0.008, 0.095), (x + 0.1, 0.095), (x + 0.008, 0.225)], sail)
    pen.lines(
        [[(x + 0.01, 0.1 + 0.012 * i), (x + 0.09 - 0.008 * i, 0.1 + 0.012 * i)] for i in range(9)],
        0.0015, darker(sail, 0.6),
    )  # fmt: skip
    pen.disc(dice.between(0.05, 0.12, 4), 0.2, 0.028, dice.choice(CLOTHES, 5))
    pen.line([(0, 0), (w, 0), (w, h), (0, h)], 0.003, _INK, closed=True)
