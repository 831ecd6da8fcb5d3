"""Small things that happen in Saltmere, for those who look closely."""

from __future__ import annotations

from functools import partial

import numpy as np

from .dice import Dice
from .ground import deg_per_m, elevation_of, haze_at
from .items import Item, Spot, moving
from .lettering import write
from .motion import swing
from .palette import IRON, ROPE, SKINS, WHITE, WOOD, Rgb, darker, lit, mix, rgb, shaded
from .pen import Pen, ellipse
from .people import Pose, draw_person


def in_the_sky() -> tuple[Item, ...]:
    """A day moon and a kite."""
    return (
        Spot(31.5, 8.6, 1.0).item(_moon, -0.4, -0.4, 0.4, 0.4, grain=0.02, distance_m=float("inf")),
        moving(_kite_at),
    )


def _kite_at(at_s: float) -> Item:
    """The kite stands in the wind and sways."""
    spot = Spot(-17.2, 7.6, deg_per_m(330))
    here = spot.moved(1.6 * swing(at_s, 7.0, 0.2), 0.8 * swing(at_s, 4.3, 0.6))
    return here.item(_kite, -6, -45, 8, 4)


def in_the_town(seed: int) -> tuple[Item, ...]:
    """A piano on its way up, a couple on the square, a cat on a ridge with a rival."""
    front = Spot(9.6, elevation_of(2.4, 231), deg_per_m(231), haze_at(231))
    square = Spot(-0.6, elevation_of(5.0, 258), deg_per_m(258), haze_at(258))
    dice = Dice(seed, 61)
    return (
        front.item(partial(_piano, dice=dice.child(1)), -3, -0.5, 5, 12),
        square.item(partial(_newlyweds, dice=dice.child(2)), -3, -0.5, 3, 3),
    )


def on_the_water(seed: int) -> tuple[Item, ...]:
    """A whale out at sea, a swimmer, a periscope."""
    dice = Dice(seed, 62)
    swimmer, scope = 150.0, 128.0
    return (
        Spot(-43.6, elevation_of(0, 420), deg_per_m(420), haze_at(420)).item(_whale, -6, -2, 6, 5),
        Spot(12.3, elevation_of(0, swimmer), deg_per_m(swimmer)).item(
            partial(_swimmer, dice=dice), -2, -1, 2, 1
        ),
        Spot(33.0, elevation_of(0, scope), deg_per_m(scope)).item(_periscope, -2, -1, 2, 2),
    )


def _moon(pen: Pen) -> None:
    r = 0.26
    t = np.linspace(-np.pi / 2, np.pi / 2, 24)
    rim = np.stack([-r * np.cos(t), r * np.sin(t)], 1)
    inner = np.stack([0.07 * np.cos(t[::-1]), r * np.sin(t[::-1])], 1)
    pale = rgb(0xE9EDEC)
    pen.fill(np.concatenate([rim, inner]), pale, 0.72)
    for x, y, s in (
        (-0.14, 0.06, 0.05),
        (-0.08, -0.09, 0.035),
        (-0.03, 0.12, 0.03),
        (-0.17, -0.06, 0.025),
    ):
        pen.fill(ellipse(x, y, s, s * 0.8), rgb(0xB9C9D6), 0.5)


def _kite(pen: Pen) -> None:
    pen.line([(0, -0.9), (1.6, -14), (5.0, -42)], 0.03, WHITE, 0.8)
    red, gold = lit(rgb(0xC9413F)), lit(rgb(0xE0B65F))
    pen.fill([(0, 1.3), (-0.9, 0.2), (0, 0.2)], red)
    pen.fill([(0, 1.3), (0.9, 0.2), (0, 0.2)], shaded(red, 0.4))
    pen.fill([(-0.9, 0.2), (0, -1.4), (0, 0.2)], gold)
    pen.fill([(0.9, 0.2), (0, -1.4), (0, 0.2)], shaded(gold, 0.4))
    tail = [(0.0 + 0.5 * np.sin(i * 0.9), -1.4 - 0.55 * i) for i in range(10)]
    pen.line(tail, 0.05, WHITE)
    for x, y in tail[2::2]:
        pen.fill([(x - 0.3, y + 0.14), (x, y), (x - 0.3, y - 0.14)], red)
        pen.fill([(x + 0.3, y + 0.14), (x, y), (x + 0.3, y - 0.14)], gold)


def _piano(pen: Pen, dice: Dice) -> None:
    """A grand piano halfway to the top floor; two who pull, one who cannot watch."""
    beam = 9.2
    pen.line([(-1.4, beam), (0.9, beam)], 0.22, lit(WOOD, 0.9))
    pen.line([(-1.4, beam - 0.9), (0.2, beam - 0.05)], 0.12, darker(WOOD, 0.7))
    pen.disc(0.7, beam - 0.22, 0.16, IRON)
    y = 4.3
    pen.line([(0.7, beam - 0.3), (0.7, y + 1.7)], 0.045, ROPE)
    pen.lines(
        [[(0.7, y + 1.7), (-0.35, y + 0.95)], [(0.7, y + 1.7), (1.75, y + 0.95)]], 0.035, ROPE
    )
    black = rgb(0x23211F)
    pen.shade([(-0.2, y - 0.1), (2.4, y - 0.1), (2.8, y + 0.9), (0.2, y + 0.9)], 0.35)
    pen.fill(
        [(-0.5, y + 0.45), (-0.5, y + 0.95), (1.2, y + 0.95), (1.9, y + 0.75), (1.9, y + 0.45)],
        black,
    )
    pen.fill([(-0.3, y + 0.95), (1.3, y + 0.95), (1.7, y + 1.5), (0.2, y + 1.35)], rgb(0x3A3431))
    pen.rect(-0.8, y + 0.55, -0.45, y + 0.68, lit(WHITE))
    keys = [[(-0.8 + 0.05 * i, y + 0.6), (-0.8 + 0.05 * i, y + 0.68)] for i in range(8)]
    pen.lines(keys, 0.018, black)
    pen.lines([[(x, y + 0.45), (x, y)] for x in (-0.35, 0.6, 1.65)], 0.09, black)
    pen.line([(0.7, beam - 0.3), (2.6, 1.5), (3.2, 1.05)], 0.04, ROPE)
    draw_person(pen.moved(2.7, 0.02), dice.child(1), Pose.LEAN, rgb(0xB98A4A))
    draw_person(pen.moved(3.6, -0.05), dice.child(2), Pose.LEAN, rgb(0x2F6F6B))
    draw_person(pen.moved(-1.6, -0.1), dice.child(3), Pose.WAVE, rgb(0x9C2F47))


def _newlyweds(pen: Pen, dice: Dice) -> None:
    """A couple in their best, and rice in the air."""
    draw_person(pen.moved(-0.28, 0), dice.child(1), Pose.STAND, rgb(0x23262E))
    white = lit(WHITE, 1.04)
    bride = pen.moved(0.3, 0)
    draw_person(bride, dice.child(2), Pose.STAND, rgb(0xF4F0E8))
    bride.fill([(-0.17, 1.0), (0.17, 1.0), (0.46, 0.0), (-0.4, 0.0)], white)
    bride.fill([(0.06, 1.0), (0.17, 1.0), (0.46, 0.0), (0.16, 0.0)], shaded(white, 0.5))
    bride.fill([(-0.1, 1.74), (0.1, 1.74), (0.42, 0.5), (0.2, 0.45), (0.06, 1.5)], white, 0.75)
    for i in range(26):
        x, y = dice.between(-1.4, 1.5, 3, i), dice.between(1.6, 2.8, 4, i)
        pen.disc(x, y, 0.025, white, 0.018)


def _whale(pen: Pen) -> None:
    """The flukes of a whale going down."""
    slate = rgb(0x3F4C58)
    pen.fill([(-0.7, -0.2), (-0.3, 1.4), (0.3, 1.4), (0.7, -0.2)], slate)
    pen.fill([(0, 1.3), (-1.2, 2.4), (-3.0, 2.9), (-1.6, 1.6), (0, 1.0)], slate)
    pen.fill([(0, 1.3), (1.2, 2.4), (3.0, 2.8), (1.6, 1.6), (0, 1.0)], darker(slate, 0.8))
    pen.line([(-2.6, 2.7), (-1.3, 1.9), (-0.3, 1.35)], 0.14, lit(rgb(0x8FA0AA)))
    pen.lines([[(-2.8, -0.1), (2.8, -0.15)], [(-1.8, -0.5), (2.0, -0.5)]], 0.25, lit(WHITE), 0.7)


def _swimmer(pen: Pen, dice: Dice) -> None:
    """Somebody in a red cap swims out to the buoy."""
    skin: Rgb = lit(dice.choice(SKINS, 1))
    for i in range(3):
        pen.line(
            ellipse(0.2 + 0.3 * i, 0.0, 0.5 + 0.35 * i, 0.07 + 0.05 * i),
            0.04,
            rgb(0xC3D6DA),
            0.5,
            closed=True,
        )
    pen.fill([(-0.1, 0.0), (0.0, 0.14), (0.5, 0.12), (0.9, 0.0)], skin)
    pen.disc(-0.12, 0.14, 0.13, skin, 0.14)
    pen.fill(
        [(-0.25, 0.15), (-0.2, 0.28), (-0.06, 0.31), (0.02, 0.2), (0.0, 0.13)], lit(rgb(0xC9343A))
    )
    pen.line([(0.1, 0.1), (-0.15, 0.4), (-0.5, 0.28), (-0.62, 0.05)], 0.09, skin)


def _periscope(pen: Pen) -> None:
    """Nobody knows whose."""
    pen.rect(-0.06, 0, 0.06, 0.95, lit(rgb(0x5F6F6B)))
    pen.rect(0.02, 0, 0.06, 0.95, darker(rgb(0x5F6F6B), 0.6))
    pen.fill([(-0.22, 0.82), (-0.22, 1.08), (0.07, 1.1), (0.07, 0.9)], lit(rgb(0x5F6F6B)))
    pen.disc(-0.22, 0.95, 0.05, rgb(0xBFE0E8), 0.1)
    write(pen, -0.09, 0.4, "?", 0.1, mix(WHITE, rgb(0x5F6F6B), 0.2))
    pen.lines([[(-0.5, 0.0), (0.6, -0.02)], [(-0.2, -0.1), (0.9, -0.12)]], 0.05, rgb(0xC9DBDD), 0.7)
