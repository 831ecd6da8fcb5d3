"""Our own stroked alphabet, so that signs stay readable at any scale.

A glyph is a few polylines on a grid 4 wide and 6 high, written as digit pairs "xy"; strokes
are separated by spaces.
"""

from __future__ import annotations

from functools import cache, lru_cache
from itertools import accumulate, pairwise

import numpy as np

from .noise import F64
from .palette import Rgb
from .pen import Pen

_GLYPHS = {
    "A": "002640 1232", "B": "0006364534230343 2334414030 00 003041",
    "C": "4536160501103041", "D": "0006264442200000", "E": "46060040 0333",
    "F": "460600 0333", "G": "45361605011030414323", "H": "0006 4046 0343",
    "I": "2026 1030 1636", "J": "464130100102", "K": "0006 460240 1340", "L": "060040",
    "M": "0006234640", "N": "00064046", "O": "100105163645413010",
    "P": "00063645443303", "Q": "100105163645413010 2240", "R": "00063645443303 2340",
    "S": "453616050413334241301001", "T": "0646 2620", "U": "060110304146", "V": "062046",
    "W": "0610233046", "X": "0046 0640", "Y": "062346 2320", "Z": "06460040",
    "0": "100105163645413010 0145", "1": "052620 1030", "2": "0516364544000040",
    "3": "0516364544333442413010 01 0110 3323", "4": "30360242",
    "5": "460603334241301001", "6": "361605011030414233130202", "7": "064610",
    "8": "130405163645443342413010010213 1333", "9": "104145361605041333424",
    ".": "2021", ",": "1021", "!": "2022 2326", "?": "051636454423 2021", "-": "1333",
    "'": "2624", ":": "2122 2425", "&": "4005162625010110203042", "/": "0046", "°": "1626251516",
    "+": "1333 2224", "(": "36140230", ")": "16341210", "=": "1434 1232",
}  # fmt: skip

ADVANCE = 5.4
CAP = 6.0


@cache
def _strokes(char: str) -> tuple[F64, ...]:
    lines = []
    for stroke in _GLYPHS.get(char.upper(), "").split():
        digits = [int(d) for d in stroke]
        points = np.array(list(zip(digits[0::2], digits[1::2], strict=False)), np.float64)
        lines.append(points)
    return tuple(lines)


@lru_cache(maxsize=4096)
def _set(text: str) -> tuple[F64, F64, list[int]]:
    """A line of text, letter by letter.

    Points (n, 2) of all strokes, each within its own letter; how far along
    that letter stands (n,); where the strokes begin and end.
    """
    strokes = [(i, stroke) for i, char in enumerate(text) for stroke in _strokes(char)]
    counts = [len(stroke) for _, stroke in strokes]
    points = np.concatenate([np.zeros((0, 2)), *(stroke for _, stroke in strokes)])
    letters = np.repeat([i for i, _ in strokes], counts)
    return points, letters * ADVANCE, [0, *accumulate(counts)]


def text_width(text: str, height: float) -> float:
    """Width of a line of text of this cap height."""
    return (len(text) * ADVANCE - (ADVANCE - 4.0)) * height / CAP


def write(
    pen: Pen,
    x: float,
    y: float,
    text: str,
    height: float,
    ink: Rgb,
    *,
    weight: float = 0.14,
    centred: bool = False,
    alpha: float = 1.0,
) -> None:
    """Write a line with its baseline at ``y``; ``height`` is that of the capitals, in metres."""
    if not pen.shows(height, 2.5):
        # Too small to read: what remains to be seen is a grey line.
        if pen.shows(height, 0.7):
            x0 = x - text_width(text, height) / 2 if centred else x
            wide = text_width(text, height)
            pen.rect(x0, y + 0.1 * height, x0 + wide, y + 0.9 * height, ink, alpha * 0.35)
        return
    s = height / CAP
    if centred:
        x -= text_width(text, height) / 2
    points, advances, ends = _set(text)
    placed = points * s
    placed[:, 0] += x + advances * s
    placed[:, 1] += y
    lines = [placed[first:last] for first, last in pairwise(ends)]
    pen.lines(lines, max(height * weight, 0.0), ink, alpha)
