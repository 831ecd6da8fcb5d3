"""Boats: hulls, cabins, masts, rigging, names, crews, and what the water shows of them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from .animals import draw_cat, draw_gull
from .dice import Dice
from .lettering import write
from .noise import F64
from .paint import Pen, ellipse
from .palette import (
    BRASS,
    DARK_WOOD,
    GLASS,
    IRON,
    LINEN,
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
from .people import Pose, draw_person

HULLS = tuple(
    rgb(c)
    for c in (0x2F5F73, 0xE9E3D6, 0x8B3430, 0x2E4A3D, 0xD9B65A, 0x6FA0A6, 0x23324A, 0xF2EDE2, 0xC9653F)
)  # fmt: skip
NAMES = (
    "PETREL", "OLD SALT", "MARGUERITE", "SEA PINK", "HALCYON", "TWO BROTHERS", "WINDLASS",
    "LITTLE AUK", "SANDERLING", "NINA", "PATIENCE", "EVENING STAR", "KITTIWAKE", "LIMPET",
    "BRISK", "SILVER DARLING", "COMFORT", "DOROTHEA", "FIRST LIGHT", "TEAL",
)  # fmt: skip


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
            (-0.47 * n, 0), (-0.5 * n, 0.105 * n), (-0.3 * n, 0.088 * n), (0.0, 0.085 * n),
            (0.25 * n, 0.105 * n), (0.42 * n, 0.135 * n), (0.53 * n, 0.168 * n), (0.47 * n, 0.08 * n),
            (0.41 * n, 0.0),
        ]
    )  # fmt: skip


def sheer(length: float, share: float) -> float:
    """Height of the gunwale at a share -0.5 … 0.53 of the length."""
    at = np.array([-0.5, -0.3, 0.0, 0.25, 0.42, 0.53])
    height = np.array([0.105, 0.088, 0.085, 0.105, 0.135, 0.168])
    return float(np.interp(share, at, height)) * length


def draw_boat(pen: Pen, dice: Dice, boat: Boat, *, bow_left: bool = False) -> None:
    """A boat afloat; local origin amidships on the waterline."""
    upright = pen
    pen = pen.moved(0, 0, flip=bow_left)
    _in_the_water(pen, dice.child(1), boat)
    _behind(pen, dice.child(2), boat)
    _hull(pen, dice.child(3), boat)
    _name(upright, boat, bow_left=bow_left)
    if boat.rig is Rig.ROWING:
        _rowing(pen, dice.child(4), boat)
    elif boat.rig is Rig.FISHING:
        _fishing(pen, dice.child(4), boat)
    else:
        _sloop(pen, dice.child(4), boat)


def _in_the_water(pen: Pen, dice: Dice, boat: Boat) -> None:
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
            ink, 0.62 * (1 - t0) ** 0.7, 0.05,
        )  # fmt: skip
    pen.fill([(-0.47 * n, 0.012 * n), (0.415 * n, 0.012 * n), (0.40 * n, -0.02 * n), (-0.46 * n, -0.02 * n)], rgb(0x14262B), 0.7)
    if boat.rig in (Rig.SLOOP, Rig.SAILING):
        pts = [(0.06 * n + 0.012 * n * np.sin(1.9 * i) * (1 + 0.15 * i), -0.13 * n - 0.05 * n * i) for i in range(16)]
        pen.line(pts, 0.012 * n, rgb(0x2A2520), 0.35)


def _behind(pen: Pen, dice: Dice, boat: Boat) -> None:
    """The far gunwale and the inside, seen a little from above."""
    n = boat.length
    inside = [(x * n, sheer(n, x) + 0.022 * n * np.sin(np.pi * (x + 0.5) / 1.03)) for x in np.linspace(-0.5, 0.53, 12)]
    front = [(x * n, sheer(n, x)) for x in np.linspace(0.53, -0.5, 12)]
    pen.fill([*inside, *front], darker(lit(WOOD), 0.62))
    pen.line(inside, 0.012 * n, lit(mix(boat.hull, WHITE, 0.5)))


def _hull(pen: Pen, dice: Dice, boat: Boat) -> None:
    n, ink = boat.length, boat.hull
    out = _hull_outline(n)
    pen.fill(out, shaded(lit(ink, 1.0), 0.25), grain=0.14)
    top = [(x * n, sheer(n, x)) for x in np.linspace(-0.495, 0.525, 14)]
    lower = [(x * n * 0.97, sheer(n, x) * 0.62) for x in np.linspace(0.5, -0.49, 14)]
    pen.fill([*top, *lower], lit(ink, 1.04), grain=0.14)
    # The bow turns away from the sun.
    pen.fill([(0.53 * n, 0.168 * n), (0.47 * n, 0.08 * n), (0.41 * n, 0), (0.28 * n, 0), (0.36 * n, 0.118 * n)], shaded(lit(ink, 0.95), 0.55), 0.6)
    if pen.shows(0.02 * n, 1.2):
        planks = [
            [(x * n * (0.94 + 0.06 * f), sheer(n, x) * f) for x in np.linspace(-0.49, 0.5, 12)]
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
        pen.disc(x * n, y - 0.055 * n, 0.014 * n, lit(dice.choice((WHITE, rgb(0x2F4F66), rgb(0xD9803A)), 3, i)), 0.026 * n)
    if pen.shows(0.03 * n, 2.0):
        # Light thrown back by the ripples.
        for i in range(7):
            x = dice.between(-0.42, 0.3, 4, i) * n
            y = dice.between(0.03, 0.055, 5, i) * n
            w = dice.between(0.03, 0.08, 6, i) * n
            pen.line([(x, y), (x + 0.35 * w, y + 0.006 * n), (x + 0.7 * w, y - 0.003 * n), (x + w, y + 0.004 * n)], 0.004 * n, rgb(0xF2E6C0), 0.4)


def _name(pen: Pen, boat: Boat, *, bow_left: bool) -> None:
    n = boat.length
    ink = WHITE if sum(boat.hull) < 1.8 else rgb(0x2A2E38)
    write(pen, -0.27 * n if bow_left else 0.27 * n, 0.055 * n, boat.name, 0.032 * n, ink, centred=True)


def _rowing(pen: Pen, dice: Dice, boat: Boat) -> None:
    n = boat.length
    for x in (-0.25, 0.05):
        pen.rect((x - 0.04) * n, sheer(n, x) - 0.005 * n, (x + 0.05) * n, sheer(n, x) + 0.018 * n, lit(WOOD, 1.05))
    if boat.manned:
        draw_person(pen.moved(-0.02 * n, 0.36), dice.child(1), Pose.SIT)
        draw_person(pen.moved(-0.3 * n, 0.36), dice.child(2), Pose.SIT)
    pen.line([(-0.1 * n, sheer(n, 0) + 0.06), (0.16 * n, -0.08 * n)], 0.05, lit(WOOD, 1.1))
    pen.fill([(0.14 * n, -0.05 * n), (0.2 * n, -0.10 * n), (0.18 * n, -0.115 * n), (0.13 * n, -0.07 * n)], lit(WOOD, 1.1))


def _fishing(pen: Pen, dice: Dice, boat: Boat) -> None:
    n = boat.length
    deck = sheer(n, 0.0)
    white = lit(dice.choice((WHITE, rgb(0xE9DDB9), rgb(0xD5DEDD)), 1), 1.0)
    x0, x1, h = -0.06 * n, 0.17 * n, 0.235 * n
    _mast(pen, 0.24 * n, deck, 0.62 * n, 0.02 * n)
    _rig_lines(pen, n, 0.24 * n, deck + 0.62 * n)
    pen.fill([(x0, deck), (x1, deck), (x1 + 0.02 * n, deck + h), (x0, deck + h)], white)
    pen.fill([(x1 - 0.05 * n, deck), (x1, deck), (x1 + 0.02 * n, deck + h), (x1 - 0.05 * n, deck + h)], shaded(white, 0.8))
    pen.fill([(x0 - 0.02 * n, deck + h), (x1 + 0.05 * n, deck + h), (x1 + 0.03 * n, deck + h + 0.02 * n), (x0 - 0.01 * n, deck + h + 0.02 * n)], darker(boat.hull, 0.9))
    for i in range(3):
        a = x0 + (0.02 + 0.065 * i) * n
        pen.rect(a, deck + 0.12 * n, a + 0.05 * n, deck + 0.2 * n, darker(GLASS, 0.7))
        pen.fill([(a, deck + 0.2 * n), (a + 0.03 * n, deck + 0.2 * n), (a, deck + 0.14 * n)], rgb(0xBFD0D6), 0.5)
    pen.rect(x0 + 0.02 * n, deck, x0 + 0.08 * n, deck + 0.1 * n, lit(WOOD, 0.9))
    pen.disc(x1 - 0.085 * n, deck + 0.06 * n, 0.024 * n, lit(rgb(0xD9803A)))
    pen.disc(x1 - 0.085 * n, deck + 0.06 * n, 0.013 * n, white)
    pen.line([(x0 + 0.03 * n, deck + h), (x0 + 0.03 * n, deck + h + 0.16 * n)], 0.008 * n, IRON)
    pen.line([(x0 - 0.005 * n, deck + h + 0.1 * n), (x0 + 0.065 * n, deck + h + 0.1 * n)], 0.01 * n, WHITE)
    _gallows(pen, n)
    for i in range(dice.whole(3, 6, 3)):
        x = dice.between(-0.42, -0.12, 4, i) * n
        draw_crate(pen.moved(x, sheer(n, x / n)), dice.child(i), 0.05 * n)
    _net_heap(pen.moved(-0.36 * n, sheer(n, -0.36)), dice.child(9), 0.14 * n)
    if boat.manned:
        draw_person(pen.moved(-0.2 * n, deck - 0.35), dice.child(5), Pose.STAND, rgb(0xD9A03A))
        if dice.chance(0.5, 6):
            draw_person(pen.moved(0.33 * n, sheer(n, 0.33) - 0.3), dice.child(7), Pose.LEAN)
    if dice.chance(0.5, 8):
        draw_gull(pen.moved(0.1 * n, deck + h + 0.02 * n), dice.child(8))


def _gallows(pen: Pen, n: float) -> None:
    y = sheer(n, -0.42)
    frame = lit(rgb(0xC9653F), 0.9)
    pen.line([(-0.46 * n, y), (-0.44 * n, y + 0.24 * n), (-0.36 * n, y + 0.24 * n), (-0.34 * n, y)], 0.016 * n, frame)
    pen.line([(-0.40 * n, y + 0.24 * n), (-0.40 * n, y + 0.12 * n)], 0.006 * n, IRON)
    pen.disc(-0.40 * n, y + 0.12 * n, 0.013 * n, IRON)
    pen.line([(-0.4 * n, y + 0.24 * n), (0.22 * n, y + 0.5 * n)], 0.004 * n, IRON, 0.8)


def _mast(pen: Pen, x: float, y: float, height: float, width: float) -> None:
    pen.fill([(x - width / 2, y), (x + width / 2, y), (x + width / 4, y + height), (x - width / 4, y + height)], lit(WOOD, 0.98))
    pen.fill([(x + width * 0.12, y), (x + width / 2, y), (x + width / 4, y + height), (x + width * 0.06, y + height)], darker(WOOD, 0.6))
    pen.disc(x, y + height, width * 0.45, lit(WHITE))


def _rig_lines(pen: Pen, n: float, x: float, top: float) -> None:
    pen.lines(
        [
            [(x, top), (0.52 * n, sheer(n, 0.52))],
            [(x, top), (-0.49 * n, sheer(n, -0.49))],
            [(x, top * 0.92), (x - 0.06 * n, sheer(n, 0))],
            [(x, top * 0.92), (x + 0.06 * n, sheer(n, 0.2))],
        ],
        0.0035 * n, rgb(0x4A4038), 0.9,
    )  # fmt: skip


def _sloop(pen: Pen, dice: Dice, boat: Boat) -> None:
    n = boat.length
    deck = sheer(n, 0.05)
    x, height = 0.06 * n, 1.08 * n
    cabin = lit(dice.choice((WHITE, rgb(0xD9B88A)), 1), 1.0)
    pen.fill([(-0.2 * n, deck - 0.01 * n), (0.2 * n, deck), (0.17 * n, deck + 0.065 * n), (-0.19 * n, deck + 0.075 * n)], cabin)
    pen.line([(-0.2 * n, deck + 0.075 * n), (0.175 * n, deck + 0.065 * n)], 0.012 * n, lit(WOOD))
    pen.fills([ellipse((-0.13 + 0.09 * i) * n, deck + 0.03 * n, 0.018 * n, 0.012 * n) for i in range(4)], darker(GLASS, 0.6))
    if boat.rig is Rig.SAILING:
        _sails(pen, dice, n, x, deck, height)
    _mast(pen, x, deck + 0.05 * n, height, 0.02 * n)
    boom = deck + 0.16 * n
    pen.line([(x, boom), (-0.42 * n, boom - 0.01 * n)], 0.016 * n, lit(WOOD))
    if boat.rig is Rig.SLOOP:
        cover = lit(dice.choice((rgb(0x2F4F8B), rgb(0x7A2E2A), rgb(0xC9BDA4), rgb(0x2F6F6B)), 2))
        pen.fill([(x - 0.01 * n, boom + 0.05 * n), (x - 0.01 * n, boom), (-0.4 * n, boom - 0.005 * n), (-0.4 * n, boom + 0.02 * n), (-0.2 * n, boom + 0.045 * n)], cover)
        ties = [[(-(0.08 + 0.07 * i) * n, boom - 0.005 * n), (-(0.085 + 0.07 * i) * n, boom + 0.045 * n)] for i in range(5)]
        pen.lines(ties, 0.006 * n, darker(cover, 0.6))
        pen.line([(x + 0.005 * n, deck + height * 0.95), (0.5 * n, sheer(n, 0.5) + 0.04 * n)], 0.02 * n, lit(LINEN, 0.95))
    _rig_lines(pen, n, x, deck + height)
    pen.line([(x - 0.09 * n, deck + height * 0.6), (x + 0.09 * n, deck + height * 0.6)], 0.007 * n, lit(WOOD))
    top = deck + height + 0.06 * n
    flag = dice.choice((rgb(0xC9413F), rgb(0x2F5F8B), rgb(0xE0B65F)), 3)
    pen.fill([(x, top + 0.03 * n), (x + 0.09 * n, top + 0.018 * n), (x, top - 0.01 * n)], lit(flag))
    pen.line([(x, top + 0.03 * n), (x, deck + height)], 0.004 * n, IRON)
    rails = [[(s * n, sheer(n, s)), (s * n, sheer(n, s) + 0.07 * n)] for s in np.linspace(-0.46, 0.48, 8)]
    pen.lines(rails, 0.004 * n, rgb(0xC9CCCF))
    pen.line([(s * n, sheer(n, s) + 0.07 * n) for s in np.linspace(-0.46, 0.48, 8)], 0.003 * n, rgb(0xC9CCCF))
    if boat.manned:
        draw_person(pen.moved(-0.33 * n, sheer(n, -0.33) - 0.15), dice.child(4), Pose.SIT, rgb(0x2F5F8B))
        draw_person(pen.moved(0.3 * n, sheer(n, 0.3)), dice.child(5), Pose.WAVE)
    elif dice.chance(0.4, 6):
        draw_cat(pen.moved(-0.12 * n, deck + 0.075 * n), dice.child(6))


def _sails(pen: Pen, dice: Dice, n: float, x: float, deck: float, height: float) -> None:
    cloth = lit(dice.choice((LINEN, rgb(0xB5603F), rgb(0xE9D9B0)), 11), 1.02)
    top, boom = deck + height * 0.97, deck + 0.17 * n
    belly = [(x - 0.012 * n, boom), (x - 0.012 * n, top), (-0.1 * n, deck + 0.72 * height), (-0.26 * n, deck + 0.44 * height), (-0.42 * n, boom)]
    pen.fill(belly, cloth, grain=0.1)
    pen.fill([(x - 0.012 * n, boom), (x - 0.012 * n, top), (-0.03 * n, deck + 0.7 * height), (-0.1 * n, boom)], shaded(cloth, 0.45), 0.6)
    seams = [[(x - 0.012 * n, deck + f * height), (-(0.44 - 0.46 * f) * n, deck + (f - 0.035) * height)] for f in (0.25, 0.37, 0.49, 0.61, 0.73, 0.85)]
    pen.lines(seams, 0.006 * n, darker(cloth, 0.78), 0.7)
    jib = [(x + 0.02 * n, deck + height * 0.9), (0.52 * n, sheer(n, 0.5) + 0.02 * n), (0.30 * n, deck + 0.06 * n), (x + 0.05 * n, deck + 0.1 * n), (x + 0.07 * n, deck + 0.4 * height)]
    pen.fill(jib, lit(cloth, 0.98), grain=0.1)
    pen.fill([(x + 0.02 * n, deck + height * 0.9), (0.30 * n, deck + 0.06 * n), (x + 0.05 * n, deck + 0.1 * n), (x + 0.07 * n, deck + 0.4 * height)], shaded(cloth, 0.5), 0.5)
    number = pen if pen.sunward > 0 else pen.moved(-0.12 * n, 0, flip=True)
    write(number, -0.06 * n, deck + 0.56 * height, str(dice.whole(11, 98, 12)), 0.07 * n, rgb(0x2F4F66), centred=True)
    pen.line([(-0.16 * n + 0.1 * n, deck + 0.52 * height), (0.0, deck + 0.52 * height)], 0.008 * n, rgb(0x2F4F66))


def draw_crate(pen: Pen, dice: Dice, size: float) -> None:
    """A slatted fish crate."""
    ink = lit(dice.choice((WOOD, rgb(0xB08A52), rgb(0x4E7FA0), rgb(0xC9653F)), 1), 0.97)
    s = size
    pen.shade([(s, 0), (s * 1.5, 0), (s * 1.4, s * 0.2), (s, s * 0.7)], 0.4)
    pen.rect(0, 0, s, 0.72 * s, ink)
    pen.fill([(0, 0.72 * s), (0.14 * s, 0.92 * s), (1.12 * s, 0.92 * s), (s, 0.72 * s)], darker(ink, 0.45))
    pen.fill([(s, 0), (1.12 * s, 0.2 * s), (1.12 * s, 0.92 * s), (s, 0.72 * s)], shaded(ink, 0.9))
    pen.lines([[(0, 0.24 * s), (s, 0.24 * s)], [(0, 0.48 * s), (s, 0.48 * s)]], 0.04 * s, darker(ink, 0.5))
    if dice.chance(0.4, 2):
        fish = [ellipse((0.3 + 0.22 * i) * s, 0.82 * s, 0.14 * s, 0.05 * s) for i in range(3)]
        for f in fish:
            pen.fill(f, lit(rgb(0xB9C6CC)))


def _net_heap(pen: Pen, dice: Dice, width: float) -> None:
    """A heap of nets with cork floats."""
    ink = dice.choice((rgb(0x3E6F66), rgb(0x4A6FA0), rgb(0x9C6B4A)), 1)
    w = width
    pen.fill([(-0.5 * w, 0), (-0.42 * w, 0.2 * w), (-0.15 * w, 0.36 * w), (0.2 * w, 0.32 * w), (0.45 * w, 0.15 * w), (0.52 * w, 0)], lit(ink, 0.85), grain=0.5)
    if pen.shows(0.08 * w, 0.8):
        for i in range(14):
            a = dice.between(-0.45, 0.3, 2, i) * w
            b = dice.between(0.02, 0.2, 3, i) * w
            pen.line([(a, b), (a + 0.1 * w, b + 0.08 * w), (a + 0.2 * w, b + 0.02 * w)], 0.018 * w, darker(ink, 0.55), 0.8)
    floats = [ellipse(dice.between(-0.4, 0.4, 4, i) * w, dice.between(0.04, 0.22, 5, i) * w, 0.035 * w, 0.03 * w) for i in range(6)]
    for f in floats:
        pen.fill(f, lit(rgb(0xD9803A)))


draw_net_heap = _net_heap


def draw_buoy(pen: Pen, dice: Dice) -> None:
    """A mooring buoy or a bell buoy."""
    ink = lit(dice.choice((rgb(0xC9413F), rgb(0xE0A53C), rgb(0x3F7F5A)), 1))
    pen.fill([(-0.4, -0.1), (0.4, -0.1), (0.3, -0.45), (-0.3, -0.45)], darker(ink, 0.6), 0.5)
    pen.disc(0, 0.1, 0.42, ink, 0.3)
    pen.fill([(0.1, -0.18), (0.36, -0.06), (0.42, 0.12), (0.28, 0.3), (0.16, 0.1)], shaded(ink, 0.8))
    pen.disc(-0.16, 0.2, 0.09, mix(ink, WHITE, 0.6), 0.06)
    pen.line(ellipse(0, 0.42, 0.1, 0.1), 0.04, BRASS if dice.chance(0.5, 2) else DARK_WOOD, closed=True)
    pen.rect(-0.44, -0.16, 0.44, -0.08, rgb(0x1E3A3F), 0.6)
