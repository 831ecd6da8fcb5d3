"""Hulls: their lines, planks and names, and what the water shows of them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from .dice import Dice
from .lettering import write
from .noise import F64
from .palette import (
    ROPE,
    WHITE,
    WOOD,
    Rgb,
    darker,
    lit,
    mix,
    rgb,
    shaded,
)
from .pen import Pen

HULLS = tuple(
    rgb(c)
    for c in (
        0x2F5F73,
        0xE9E3D6,
        0x8B3430,
        0x2E4A3D,
        0xD9B65A,
        0x6FA0A6,
        0x23324A,
        0xF2EDE2,
        0xC9653F,
    )
)


NAMES = (
    "PETREL",
    "OLD SALT",
    "MARGUERITE",
    "SEA PINK",
    "HALCYON",
    "TWO BROTHERS",
    "WINDLASS",
    "LITTLE AUK",
    "SANDERLING",
    "NINA",
    "PATIENCE",
    "EVENING STAR",
    "KITTIWAKE",
    "LIMPET",
    "BRISK",
    "SILVER DARLING",
    "COMFORT",
    "DOROTHEA",
    "FIRST LIGHT",
    "TEAL",
    "FULMAR",
    "GOOD HOPE",
    "WREN",
    "MERRY WIDOW",
    "ANEMONE",
    "TERN",
    "BY AND BY",
    "CORMORANT",
    "AURORA",
    "WHELK",
    "THREE AUNTS",
    "CURLEW",
    "PRUDENCE",
    "DUNLIN",
    "MOONRAKER",
    "SPINDRIFT",
    "TURNSTONE",
    "LARK",
    "MISS POLLY",
    "EIDER",
    "SAND DOLLAR",
    "BOUNDER",
    "THISTLE",
    "SNAIL",
    "ONE MORE",
    "OYSTER",
    "PUFFIN",
    "LATE AGAIN",
    "IRIS",
    "CODLING",
    "WIND ROSE",
    "HERRING QUEEN",
)


class Rig(Enum):
    """What stands on the hull."""

    ROWING = "rowing"
    FISHING = "fishing"
    SLOOP = "sloop"
    SAILING = "sailing"


@dataclass(frozen=True, slots=True)
class Boat:
    """Length in metres along the waterline; ``key`` chooses colours and crew."""

    length: float
    rig: Rig
    hull: Rgb
    name: str
    manned: bool


def _hull_outline(length: float) -> F64:
    """Side view, bow to the right; waterline at y = 0."""
    n = length
    return np.array(
        [
            (-0.47 * n, 0),
            (-0.5 * n, 0.105 * n),
            (-0.3 * n, 0.088 * n),
            (0.0, 0.085 * n),
            (0.25 * n, 0.105 * n),
            (0.42 * n, 0.135 * n),
            (0.53 * n, 0.168 * n),
            (0.47 * n, 0.08 * n),
            (0.41 * n, 0.0),
        ]
    )


def sheer(length: float, share: float) -> float:
    """Height of the gunwale at a share -0.5 … 0.53 of the length."""
    at = np.array([-0.5, -0.3, 0.0, 0.25, 0.42, 0.53])
    height = np.array([0.105, 0.088, 0.085, 0.105, 0.135, 0.168])
    return float(np.interp(share, at, height)) * length


def draw_in_the_water(pen: Pen, dice: Dice, boat: Boat) -> None:
    """A broken reflection in strips that drift apart, and a dark line along the hull."""
    n = boat.length
    depth = 0.16 * n
    strips = 14 if pen.shows(n, 60) else 6
    ink = mix(boat.hull, (0.10, 0.22, 0.26), 0.45)
    for i in range(strips):
        t0, t1 = i / strips, (i + 0.72) / strips
        y0, y1 = -depth * t0**1.2, -depth * t1**1.2
        drift = dice.between(-0.02, 0.02, 1, i) * n * (0.4 + t0)
        narrow = 0.46 + 0.06 * t0 - 0.03 * dice.unit(2, i)
        a, b = -narrow * n + drift, (narrow - 0.03) * n + drift
        pen.fill(
            [(a, y0), (b, y0), (b - 0.03 * n, y1), (a + 0.02 * n, y1)],
            ink,
            0.62 * (1 - t0) ** 0.7,
            0.05,
        )
    pen.fill(
        [
            (-0.47 * n, 0.012 * n),
            (0.415 * n, 0.012 * n),
            (0.40 * n, -0.02 * n),
            (-0.46 * n, -0.02 * n),
        ],
        rgb(0x14262B),
        0.7,
    )
    if boat.rig in (Rig.SLOOP, Rig.SAILING):
        _tall_reflection(pen, dice.child(3), boat)


def _tall_reflection(pen: Pen, dice: Dice, boat: Boat) -> None:
    """Mast and sails in the ripples: short strokes that scatter more the deeper they are."""
    n = boat.length
    for i in range(26):
        f = i / 26
        y = -(0.12 + 0.95 * f) * n
        drop = 0.018 * n * (1 + f)
        x = 0.06 * n + dice.between(-0.03, 0.03, 1, i) * n * (0.3 + f)
        half = 0.012 * n * dice.between(0.5, 1.6, 2, i)
        pen.fill(
            [(x - half, y), (x + half, y), (x + half * 0.5, y - drop), (x - half * 0.8, y - drop)],
            rgb(0x3A2F26),
            0.36 * (1 - f),
            0.05,
        )
        if boat.rig is Rig.SAILING and f > 0.08:
            a = (0.05 - 0.44 * (1 - f)) * n + dice.between(-0.04, 0.04, 3, i) * n
            b = (0.07 + 0.36 * (1 - f)) * n + dice.between(-0.04, 0.04, 4, i) * n
            pen.fill(
                [(a, y), (b, y), (b - 0.04 * n, y - drop), (a + 0.05 * n, y - drop)],
                rgb(0xC9A77A),
                0.42 * (1 - f) ** 0.8,
                0.05,
            )


def draw_inside(pen: Pen, dice: Dice, boat: Boat) -> None:
    """The far gunwale and the inside, seen a little from above."""
    n = boat.length
    inside = [
        (x * n, sheer(n, x) + 0.022 * n * np.sin(np.pi * (x + 0.5) / 1.03))
        for x in np.linspace(-0.5, 0.53, 12)
    ]
    front = [(x * n, sheer(n, x)) for x in np.linspace(0.53, -0.5, 12)]
    pen.fill([*inside, *front], darker(lit(WOOD), 0.62))
    pen.line(inside, 0.012 * n, lit(mix(boat.hull, WHITE, 0.5)))


def draw_hull(pen: Pen, dice: Dice, boat: Boat) -> None:
    """The near side: planks, boot-top, rail, fenders."""
    n, ink = boat.length, boat.hull
    out = _hull_outline(n)
    pen.fill(out, shaded(lit(ink, 1.0), 0.25), grain=0.14)
    top = [(x * n, sheer(n, x)) for x in np.linspace(-0.495, 0.525, 14)]
    lower = [(x * n * 0.97, sheer(n, x) * 0.62) for x in np.linspace(0.5, -0.49, 14)]
    pen.fill([*top, *lower], lit(ink, 1.04), grain=0.14)
    # The bow turns away from the sun.
    pen.fill(
        [
            (0.53 * n, 0.168 * n),
            (0.47 * n, 0.08 * n),
            (0.41 * n, 0),
            (0.28 * n, 0),
            (0.36 * n, 0.118 * n),
        ],
        shaded(lit(ink, 0.95), 0.55),
        0.6,
    )
    if not pen.shows(n, 40.0):
        return
    if pen.shows(0.02 * n, 1.2):
        planks = [
            [(x * n, sheer(n, x) * f) for x in np.linspace(-0.475 - 0.02 * f, 0.405 + 0.1 * f, 12)]
            for f in (0.25, 0.42, 0.58, 0.74, 0.88)
        ]
        pen.lines(planks, 0.004 * n, darker(ink, 0.6), 0.7)
    boot = [(-0.473 * n, 0.026 * n), (0.425 * n, 0.03 * n), (0.41 * n, 0), (-0.468 * n, 0)]
    pen.fill(boot, darker(rgb(0x8B3430) if ink[0] > ink[2] * 0.9 else rgb(0xC9BDA4), 0.8))
    pen.line(top, 0.02 * n, lit(mix(ink, WHITE, 0.7)))
    pen.line([(x, y - 0.017 * n) for x, y in top], 0.008 * n, darker(ink, 0.55))
    for i in range(dice.whole(1, 4, 1)):
        x = dice.between(-0.42, 0.15, 2, i)
        y = sheer(n, x)
        pen.line([(x * n, y), (x * n, y - 0.035 * n)], 0.006 * n, ROPE)
        pen.disc(
            x * n,
            y - 0.055 * n,
            0.014 * n,
            lit(dice.choice((WHITE, rgb(0x2F4F66), rgb(0xD9803A)), 3, i)),
            0.026 * n,
        )
    if pen.shows(0.03 * n, 2.0):
        # Light thrown back by the ripples.
        for i in range(7):
            x = dice.between(-0.42, 0.3, 4, i) * n
            y = dice.between(0.03, 0.055, 5, i) * n
            w = dice.between(0.03, 0.08, 6, i) * n
            pen.line(
                [
                    (x, y),
                    (x + 0.35 * w, y + 0.006 * n),
                    (x + 0.7 * w, y - 0.003 * n),
                    (x + w, y + 0.004 * n),
                ],
                0.004 * n,
                rgb(0xF2E6C0),
                0.4,
            )


def draw_name(pen: Pen, boat: Boat, *, bow_left: bool) -> None:
    """The name on the bow."""
    n = boat.length
    ink = WHITE if sum(boat.hull) < 1.8 else rgb(0x2A2E38)
    write(
        pen,
        -0.27 * n if bow_left else 0.27 * n,
        0.055 * n,
        boat.name,
        min(0.032, 0.36 / len(boat.name)) * n,
        ink,
        centred=True,
    )
