"""Boats afloat: cabins, masts, rigging, sails and crews on their hulls."""

from __future__ import annotations

import numpy as np

from .animals import draw_cat, draw_gull
from .dice import Dice
from .gear import draw_crate, draw_net_heap
from .hulls import Boat, Rig, draw_hull, draw_in_the_water, draw_inside, draw_name, sheer
from .lettering import write
from .palette import (
    GLASS,
    IRON,
    LINEN,
    WHITE,
    WOOD,
    darker,
    lit,
    rgb,
    shaded,
)
from .pen import Pen, ellipse
from .people import Pose, draw_person


def draw_boat(pen: Pen, dice: Dice, boat: Boat, *, bow_left: bool = False) -> None:
    """A boat afloat; local origin amidships on the waterline."""
    upright = pen
    pen = pen.moved(0, 0, flip=bow_left)
    draw_in_the_water(pen, dice.child(1), boat)
    draw_inside(pen, dice.child(2), boat)
    draw_hull(pen, dice.child(3), boat)
    draw_name(upright, boat, bow_left=bow_left)
    if boat.rig is Rig.ROWING:
        _rowing(pen, dice.child(4), boat)
    elif boat.rig is Rig.FISHING:
        _fishing(pen, dice.child(4), boat)
    else:
        _sloop(pen, dice.child(4), boat)


def _rowing(pen: Pen, dice: Dice, boat: Boat) -> None:
    n = boat.length
    for x in (-0.25, 0.05):
        pen.rect(
            (x - 0.04) * n,
            sheer(n, x) - 0.005 * n,
            (x + 0.05) * n,
            sheer(n, x) + 0.018 * n,
            lit(WOOD, 1.05),
        )
    if boat.manned:
        draw_person(pen.moved(-0.02 * n, 0.36), dice.child(1), Pose.SIT)
        draw_person(pen.moved(-0.3 * n, 0.36), dice.child(2), Pose.SIT)
    pen.line([(-0.1 * n, sheer(n, 0) + 0.06), (0.16 * n, -0.08 * n)], 0.05, lit(WOOD, 1.1))
    pen.fill(
        [
            (0.14 * n, -0.05 * n),
            (0.2 * n, -0.10 * n),
            (0.18 * n, -0.115 * n),
            (0.13 * n, -0.07 * n),
        ],
        lit(WOOD, 1.1),
    )


def _fishing(pen: Pen, dice: Dice, boat: Boat) -> None:
    n = boat.length
    deck = sheer(n, 0.0)
    white = lit(dice.choice((WHITE, rgb(0xE9DDB9), rgb(0xD5DEDD)), 1), 1.0)
    x0, x1, h = -0.06 * n, 0.17 * n, 0.235 * n
    _mast(pen, 0.24 * n, deck, 0.62 * n, 0.02 * n)
    _rig_lines(pen, n, 0.24 * n, deck + 0.62 * n)
    pen.fill([(x0, deck), (x1, deck), (x1 + 0.02 * n, deck + h), (x0, deck + h)], white)
    pen.fill(
        [(x1 - 0.05 * n, deck), (x1, deck), (x1 + 0.02 * n, deck + h), (x1 - 0.05 * n, deck + h)],
        shaded(white, 0.8),
    )
    pen.fill(
        [
            (x0 - 0.02 * n, deck + h),
            (x1 + 0.05 * n, deck + h),
            (x1 + 0.03 * n, deck + h + 0.02 * n),
            (x0 - 0.01 * n, deck + h + 0.02 * n),
        ],
        darker(boat.hull, 0.9),
    )
    for i in range(3):
        a = x0 + (0.02 + 0.065 * i) * n
        pen.rect(a, deck + 0.12 * n, a + 0.05 * n, deck + 0.2 * n, darker(GLASS, 0.7))
        pen.fill(
            [(a, deck + 0.2 * n), (a + 0.03 * n, deck + 0.2 * n), (a, deck + 0.14 * n)],
            rgb(0xBFD0D6),
            0.5,
        )
    pen.rect(x0 + 0.02 * n, deck, x0 + 0.08 * n, deck + 0.1 * n, lit(WOOD, 0.9))
    pen.disc(x1 - 0.085 * n, deck + 0.06 * n, 0.024 * n, lit(rgb(0xD9803A)))
    pen.disc(x1 - 0.085 * n, deck + 0.06 * n, 0.013 * n, white)
    pen.line([(x0 + 0.03 * n, deck + h), (x0 + 0.03 * n, deck + h + 0.16 * n)], 0.008 * n, IRON)
    pen.line(
        [(x0 - 0.005 * n, deck + h + 0.1 * n), (x0 + 0.065 * n, deck + h + 0.1 * n)],
        0.01 * n,
        WHITE,
    )
    _gallows(pen, n)
    for i in range(dice.whole(3, 6, 3)):
        x = dice.between(-0.42, -0.12, 4, i) * n
        draw_crate(pen.moved(x, sheer(n, x / n)), dice.child(i), 0.05 * n)
    draw_net_heap(pen.moved(-0.36 * n, sheer(n, -0.36)), dice.child(9), 0.14 * n)
    if boat.manned:
        draw_person(pen.moved(-0.2 * n, deck - 0.35), dice.child(5), Pose.STAND, rgb(0xD9A03A))
        if dice.chance(0.5, 6):
            draw_person(pen.moved(0.33 * n, sheer(n, 0.33) - 0.3), dice.child(7), Pose.LEAN)
    if dice.chance(0.5, 8):
        draw_gull(pen.moved(0.1 * n, deck + h + 0.02 * n), dice.child(8))


def _gallows(pen: Pen, n: float) -> None:
    y = sheer(n, -0.42)
    frame = lit(rgb(0xC9653F), 0.9)
    pen.line(
        [(-0.46 * n, y), (-0.44 * n, y + 0.24 * n), (-0.36 * n, y + 0.24 * n), (-0.34 * n, y)],
        0.016 * n,
        frame,
    )
    pen.line([(-0.40 * n, y + 0.24 * n), (-0.40 * n, y + 0.12 * n)], 0.006 * n, IRON)
    pen.disc(-0.40 * n, y + 0.12 * n, 0.013 * n, IRON)
    pen.line([(-0.4 * n, y + 0.24 * n), (0.22 * n, y + 0.5 * n)], 0.004 * n, IRON, 0.8)


def _mast(pen: Pen, x: float, y: float, height: float, width: float) -> None:
    pen.fill(
        [
            (x - width / 2, y),
            (x + width / 2, y),
            (x + width / 4, y + height),
            (x - width / 4, y + height),
        ],
        lit(WOOD, 0.98),
    )
    pen.fill(
        [
            (x + width * 0.12, y),
            (x + width / 2, y),
            (x + width / 4, y + height),
            (x + width * 0.06, y + height),
        ],
        darker(WOOD, 0.6),
    )
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
    pen.fill(
        [
            (-0.2 * n, deck - 0.01 * n),
            (0.2 * n, deck),
            (0.17 * n, deck + 0.065 * n),
            (-0.19 * n, deck + 0.075 * n),
        ],
        cabin,
    )
    pen.line([(-0.2 * n, deck + 0.075 * n), (0.175 * n, deck + 0.065 * n)], 0.012 * n, lit(WOOD))
    pen.fills(
        [ellipse((-0.13 + 0.09 * i) * n, deck + 0.03 * n, 0.018 * n, 0.012 * n) for i in range(4)],
        darker(GLASS, 0.6),
    )
    if boat.rig is Rig.SAILING:
        _sails(pen, dice, n, x, deck, height)
    _mast(pen, x, deck + 0.05 * n, height, 0.02 * n)
    boom = deck + 0.16 * n
    pen.line([(x, boom), (-0.42 * n, boom - 0.01 * n)], 0.016 * n, lit(WOOD))
    if boat.rig is Rig.SLOOP:
        cover = lit(dice.choice((rgb(0x2F4F8B), rgb(0x7A2E2A), rgb(0xC9BDA4), rgb(0x2F6F6B)), 2))
        pen.fill(
            [
                (x - 0.01 * n, boom + 0.05 * n),
                (x - 0.01 * n, boom),
                (-0.4 * n, boom - 0.005 * n),
                (-0.4 * n, boom + 0.02 * n),
                (-0.2 * n, boom + 0.045 * n),
            ],
            cover,
        )
        ties = [
            [
                (-(0.08 + 0.07 * i) * n, boom - 0.005 * n),
                (-(0.085 + 0.07 * i) * n, boom + 0.045 * n),
            ]
            for i in range(5)
        ]
        pen.lines(ties, 0.006 * n, darker(cover, 0.6))
        pen.line(
            [(x + 0.005 * n, deck + height * 0.95), (0.5 * n, sheer(n, 0.5) + 0.04 * n)],
            0.011 * n,
            lit(LINEN, 0.9),
        )
    _rig_lines(pen, n, x, deck + height)
    pen.line(
        [(x - 0.09 * n, deck + height * 0.6), (x + 0.09 * n, deck + height * 0.6)],
        0.007 * n,
        lit(WOOD),
    )
    top = deck + height + 0.06 * n
    flag = dice.choice((rgb(0xC9413F), rgb(0x2F5F8B), rgb(0xE0B65F)), 3)
    pen.fill([(x, top + 0.03 * n), (x + 0.09 * n, top + 0.018 * n), (x, top - 0.01 * n)], lit(flag))
    pen.line([(x, top + 0.03 * n), (x, deck + height)], 0.004 * n, IRON)
    rails = [
        [(s * n, sheer(n, s)), (s * n, sheer(n, s) + 0.07 * n)] for s in np.linspace(-0.46, 0.48, 8)
    ]
    pen.lines(rails, 0.004 * n, rgb(0xC9CCCF))
    pen.line(
        [(s * n, sheer(n, s) + 0.07 * n) for s in np.linspace(-0.46, 0.48, 8)],
        0.003 * n,
        rgb(0xC9CCCF),
    )
    if boat.manned:
        draw_person(
            pen.moved(-0.33 * n, sheer(n, -0.33) - 0.15), dice.child(4), Pose.SIT, rgb(0x2F5F8B)
        )
        draw_person(pen.moved(0.3 * n, sheer(n, 0.3)), dice.child(5), Pose.WAVE)
    elif dice.chance(0.4, 6):
        draw_cat(pen.moved(-0.12 * n, deck + 0.075 * n), dice.child(6))


def _sails(pen: Pen, dice: Dice, n: float, x: float, deck: float, height: float) -> None:
    cloth = lit(dice.choice((LINEN, rgb(0xB5603F), rgb(0xE9D9B0)), 11), 1.02)
    top, boom = deck + height * 0.97, deck + 0.17 * n
    belly = [
        (x - 0.012 * n, boom),
        (x - 0.012 * n, top),
        (-0.1 * n, deck + 0.72 * height),
        (-0.26 * n, deck + 0.44 * height),
        (-0.42 * n, boom),
    ]
    pen.fill(belly, cloth, grain=0.1)
    pen.fill(
        [
            (x - 0.012 * n, boom),
            (x - 0.012 * n, top),
            (-0.03 * n, deck + 0.7 * height),
            (-0.1 * n, boom),
        ],
        shaded(cloth, 0.45),
        0.6,
    )
    seams = [
        [(x - 0.012 * n, deck + f * height), (-(0.44 - 0.46 * f) * n, deck + (f - 0.035) * height)]
        for f in (0.25, 0.37, 0.49, 0.61, 0.73, 0.85)
    ]
    pen.lines(seams, 0.006 * n, darker(cloth, 0.78), 0.7)
    jib = [
        (x + 0.02 * n, deck + height * 0.9),
        (0.52 * n, sheer(n, 0.5) + 0.02 * n),
        (0.30 * n, deck + 0.06 * n),
        (x + 0.05 * n, deck + 0.1 * n),
        (x + 0.07 * n, deck + 0.4 * height),
    ]
    pen.fill(jib, lit(cloth, 0.98), grain=0.1)
    pen.fill(
        [
            (x + 0.02 * n, deck + height * 0.9),
            (0.30 * n, deck + 0.06 * n),
            (x + 0.05 * n, deck + 0.1 * n),
            (x + 0.07 * n, deck + 0.4 * height),
        ],
        shaded(cloth, 0.5),
        0.5,
    )
    number = pen if pen.sunward > 0 else pen.moved(-0.12 * n, 0, flip=True)
    write(
        number,
        -0.06 * n,
        deck + 0.56 * height,
        str(dice.whole(11, 98, 12)),
        0.07 * n,
        rgb(0x2F4F66),
        centred=True,
    )
    pen.line(
        [(-0.16 * n + 0.1 * n, deck + 0.52 * height), (0.0, deck + 0.52 * height)],
        0.008 * n,
        rgb(0x2F4F66),
    )
