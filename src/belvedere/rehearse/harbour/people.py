"""The people of Saltmere, 1.7 m tall, lit from the left."""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

from .dice import Dice
from .items import Item, Spot, moving
from .motion import to_and_fro
from .palette import (
    CLOTHES,
    DARK_WOOD,
    HAIR,
    IRON,
    SKINS,
    WHITE,
    Rgb,
    darker,
    lit,
    mix,
    rgb,
    shaded,
)
from .pen import Pen, ellipse


class Pose(Enum):
    """What somebody is doing."""

    STAND = "stand"
    WALK = "walk"
    SIT = "sit"
    FISH = "fish"
    WAVE = "wave"
    CARRY = "carry"
    PAINT = "paint"
    PHOTOGRAPH = "photograph"
    LEAN = "lean"


_STROLL = (Pose.STAND, Pose.WALK, Pose.WALK, Pose.CARRY, Pose.STAND)


def strolling(
    spot: Spot,
    draw: Callable[[Pen], None],
    size_m: tuple[float, float],
    speed_m_s: float,
    reach_m: float,
) -> Item:
    """Somebody who walks to the right so far, turns and comes back.

    The box reaches ``size_m``: to each side and up, and down.
    """
    around, down = size_m

    def path(at_s: float) -> Item:
        way, back = to_and_fro(at_s, speed_m_s, reach_m)
        return spot.moved(way).item(draw, -around, -down, around, around, flip=back)

    return moving(path)


def is_walking(dice: Dice) -> bool:
    """Whether `draw_someone` draws somebody on the way."""
    return dice.choice(_STROLL, 1) is not Pose.STAND


def draw_someone(pen: Pen, dice: Dice) -> None:
    """A passer-by."""
    draw_person(pen, dice, dice.choice(_STROLL, 1))


def draw_person(pen: Pen, dice: Dice, pose: Pose, coat: Rgb | None = None) -> None:
    """One person; local origin between the feet."""
    if not pen.shows(0.5, 0.7):
        return
    if not pen.shows(1.7, 10.0):
        pen.rect(-0.16, 0, 0.16, 0.8, darker(dice.choice(CLOTHES, 6), 0.7))
        pen.rect(-0.2, 0.8, 0.2, 1.5, coat or dice.choice(CLOTHES, 5))
        pen.rect(-0.1, 1.5, 0.1, 1.75, dice.choice(HAIR, 8))
        return
    pen = pen.moved(0, 0, dice.between(0.93, 1.05, 2), flip=dice.chance(0.5, 3))
    if dice.chance(0.12, 4) and pose in (Pose.WALK, Pose.STAND):
        pen = pen.moved(0, 0, 0.66)
    top = lit(coat or dice.choice(CLOTHES, 5), 1.02)
    legs = lit(darker(dice.choice(CLOTHES, 6), 0.75), 0.95)
    skin = lit(dice.choice(SKINS, 7), 1.0)
    hair = dice.choice(HAIR, 8)
    dress = dice.chance(0.3, 9) and pose not in (Pose.SIT, Pose.FISH)
    seat = -0.42 if pose is Pose.SIT else 0.0
    if pose is not Pose.SIT:
        s = pen.sunward
        pen.shade([(-0.16, 0.0), (0.16, 0.0), (0.9 * s + 0.1, 0.10), (0.9 * s - 0.1, 0.13)], 0.42)
    body = pen.moved(0, seat)
    _legs(body, dice, pose, legs, skin, dress)
    _torso(body, dice, pose, top, dress)
    _arms(body, dice, pose, top, skin)
    _head(body, dice, skin, hair)
    _things(body, dice, pose)


def _legs(pen: Pen, dice: Dice, pose: Pose, ink: Rgb, skin: Rgb, dress: bool) -> None:
    dark = shaded(ink, 0.8)
    shoe = rgb(0x2E2826)
    if pose in (Pose.SIT,):
        pen.fill([(-0.16, 0.84), (0.12, 0.84), (0.5, 0.86), (0.5, 0.72), (-0.14, 0.68)], ink)
        pen.fill([(0.38, 0.82), (0.51, 0.84), (0.49, 0.38), (0.38, 0.38)], dark)
        pen.fill([(0.36, 0.32), (0.36, 0.41), (0.5, 0.41), (0.62, 0.32)], shoe)
        return
    stride = 0.17 if pose in (Pose.WALK, Pose.CARRY) else 0.05
    shank = skin if dress else ink
    back = shaded(shank, 0.7)
    pen.fill([(0.0, 0.85), (0.13, 0.85), (0.10 + stride, 0.06), (0.0 + stride, 0.06)], back)
    pen.fill([(-0.13, 0.85), (0.02, 0.85), (0.0 - stride, 0.06), (-0.11 - stride, 0.06)], shank)
    pen.fill([(stride, 0), (stride, 0.09), (0.1 + stride, 0.09), (0.16 + stride, 0)], shoe)
    pen.fill(
        [(-0.11 - stride, 0), (-0.11 - stride, 0.09), (-stride, 0.09), (0.07 - stride, 0)], shoe
    )


def _torso(pen: Pen, dice: Dice, pose: Pose, ink: Rgb, dress: bool) -> None:
    lean = 0.06 if pose in (Pose.LEAN, Pose.FISH, Pose.PHOTOGRAPH) else 0.0
    hem = 0.42 if dress else 0.78
    flare = 0.25 if dress else 0.17
    left, right = (-flare, hem), (flare, hem)
    pen.fill(
        [
            left,
            right,
            (0.155, 1.02),
            (0.2 + lean, 1.40),
            (0.08 + lean, 1.47),
            (-0.08 + lean, 1.47),
            (-0.2 + lean, 1.40),
            (-0.155, 1.02),
        ],
        ink,
    )
    side = 1.0 if pen.sunward > 0 else -1.0
    pen.fill(
        [
            (side * flare, hem),
            (side * 0.155, 1.02),
            (side * 0.2 + lean, 1.40),
            (side * 0.1 + lean, 1.44),
            (side * 0.05, 1.0),
            (side * 0.09, hem),
        ],
        shaded(ink, 0.8),
    )
    style = dice.unit(21)
    if not pen.shows(0.05, 0.8):
        return
    if style < 0.22:
        stripes = [
            [(-0.17 + lean * 0.5, y), (0.17 + lean * 0.5, y)] for y in (0.9, 1.0, 1.1, 1.2, 1.3)
        ]
        pen.lines(stripes, 0.04, lit(WHITE, 0.95), 0.85)
    elif style < 0.4:
        pen.fill(
            [
                (-0.13, 0.6 if dress else 0.72),
                (0.12, 0.6 if dress else 0.72),
                (0.09, 1.2),
                (-0.1, 1.2),
            ],
            lit(WHITE, 0.93),
        )
    elif style < 0.6:
        pen.line([(0.01, hem), (0.01 + lean, 1.42)], 0.02, darker(ink, 0.6))
        pen.rect(-0.16, 0.86, 0.16, 0.90, darker(ink, 0.55))


def _arms(pen: Pen, dice: Dice, pose: Pose, ink: Rgb, skin: Rgb) -> None:
    dark = shaded(ink, 0.8)
    ways = {
        Pose.STAND: (
            [(0.19, 1.36), (0.25, 1.1), (0.22, 0.86)],
            [(-0.19, 1.36), (-0.25, 1.1), (-0.2, 0.86)],
        ),
        Pose.WALK: (
            [(0.18, 1.36), (0.30, 1.12), (0.40, 0.95)],
            [(-0.18, 1.36), (-0.28, 1.12), (-0.3, 0.9)],
        ),
        Pose.SIT: (
            [(0.18, 1.34), (0.24, 1.1), (0.4, 0.92)],
            [(-0.18, 1.34), (-0.2, 1.08), (0.1, 0.9)],
        ),
        Pose.FISH: (
            [(0.2, 1.34), (0.36, 1.12), (0.56, 1.16)],
            [(-0.14, 1.34), (0.06, 1.06), (0.4, 1.06)],
        ),
        Pose.WAVE: (
            [(0.18, 1.36), (0.40, 1.5), (0.46, 1.80)],
            [(-0.19, 1.36), (-0.25, 1.1), (-0.2, 0.86)],
        ),
        Pose.CARRY: (
            [(0.18, 1.36), (0.30, 1.1), (0.34, 0.82)],
            [(-0.18, 1.36), (-0.27, 1.1), (-0.22, 0.86)],
        ),
        Pose.PAINT: (
            [(0.18, 1.36), (0.4, 1.16), (0.6, 1.25)],
            [(-0.18, 1.36), (-0.24, 1.12), (-0.05, 1.0)],
        ),
        Pose.PHOTOGRAPH: (
            [(0.2, 1.36), (0.36, 1.2), (0.46, 1.38)],
            [(-0.14, 1.36), (0.1, 1.18), (0.4, 1.3)],
        ),
        Pose.LEAN: (
            [(0.2, 1.36), (0.34, 1.1), (0.5, 1.02)],
            [(-0.16, 1.36), (0.0, 1.1), (0.3, 1.02)],
        ),
    }
    far_arm, near_arm = ways[pose]
    pen.line(far_arm, 0.085, dark)
    pen.disc(*far_arm[-1], 0.05, skin)
    pen.line(near_arm, 0.09, ink)
    pen.disc(*near_arm[-1], 0.05, skin)


def _head(pen: Pen, dice: Dice, skin: Rgb, hair: Rgb) -> None:
    pen.rect(-0.045, 1.42, 0.05, 1.52, shaded(skin, 0.5))
    pen.disc(0.01, 1.62, 0.098, skin, 0.125)
    pen.fill(
        [(0.02, 1.5), (0.09, 1.55), (0.105, 1.64), (0.06, 1.72), (0.05, 1.6)],
        shaded(skin, 0.6),
        0.7,
    )
    kind = dice.unit(31)
    pen.fill(
        [
            (-0.115, 1.58),
            (-0.11, 1.7),
            (-0.02, 1.77),
            (0.08, 1.74),
            (0.11, 1.68),
            (0.0, 1.69),
            (-0.05, 1.62),
        ],
        hair,
    )
    if kind < 0.2:
        pen.fill([(-0.11, 1.7), (-0.14, 1.44), (-0.05, 1.42), (-0.04, 1.64)], hair)
    elif kind < 0.42:
        hat = dice.choice(CLOTHES, 32)
        pen.fill(
            [(-0.2, 1.69), (0.22, 1.69), (0.11, 1.74), (0.09, 1.85), (-0.09, 1.85), (-0.11, 1.74)],
            lit(mix(hat, rgb(0xD9C08A), 0.5)),
        )
        pen.rect(-0.1, 1.735, 0.1, 1.77, darker(hat, 0.6))
    elif kind < 0.58:
        hat = dice.choice(CLOTHES, 33)
        pen.fill(
            [(-0.11, 1.68), (-0.1, 1.76), (0.0, 1.8), (0.1, 1.76), (0.11, 1.7), (0.2, 1.67)],
            lit(darker(hat, 0.85)),
        )
    elif kind < 0.66:
        pen.disc(-0.12, 1.72, 0.06, hair)
    if pen.shows(0.02, 0.8):
        pen.fills(
            [ellipse(0.035, 1.635, 0.013, 0.015), ellipse(0.08, 1.635, 0.011, 0.015)], rgb(0x241C18)
        )
        pen.line([(0.04, 1.56), (0.08, 1.565)], 0.014, rgb(0x8B4A3D))
        if dice.chance(0.18, 34):
            pen.fill([(-0.02, 1.56), (0.09, 1.57), (0.07, 1.49), (0.0, 1.5)], hair)


def _things(pen: Pen, dice: Dice, pose: Pose) -> None:
    if pose is Pose.CARRY:
        if dice.chance(0.5, 41):
            pen.fill([(0.2, 0.62), (0.5, 0.62), (0.46, 0.42), (0.24, 0.42)], lit(rgb(0xB08A52)))
            pen.line([(0.22, 0.62), (0.34, 0.84), (0.48, 0.62)], 0.025, rgb(0x7B5A36))
            pen.fills(
                [ellipse(0.28, 0.65, 0.05, 0.05), ellipse(0.39, 0.66, 0.06, 0.05)], rgb(0xC9413F)
            )
        else:
            pen.rect(0.24, 0.38, 0.46, 0.78, lit(dice.choice(CLOTHES, 42)))
    elif pose is Pose.FISH:
        pen.line([(0.45, 1.1), (1.5, 2.2), (2.3, 2.75)], 0.025, rgb(0x3A2E24))
        pen.line([(2.3, 2.75), (2.42, -0.6)], 0.01, rgb(0xD9D9D0), 0.8)
    elif pose is Pose.PAINT:
        pen.lines(
            [[(0.75, 0), (0.86, 1.6)], [(1.15, 0), (0.98, 1.6)], [(0.95, 1.3), (1.4, 0.05)]],
            0.035,
            lit(DARK_WOOD),
        )
        pen.fill([(0.62, 0.95), (1.2, 0.98), (1.2, 1.42), (0.62, 1.4)], lit(WHITE))
        pen.rect(0.66, 1.2, 1.16, 1.38, rgb(0xA9C3D2))
        pen.fill(
            [
                (0.66, 1.2),
                (0.8, 1.22),
                (0.92, 1.31),
                (1.05, 1.22),
                (1.16, 1.2),
                (1.16, 1.12),
                (0.66, 1.12),
            ],
            rgb(0xC98F6B),
        )
        pen.rect(0.66, 1.0, 1.16, 1.12, rgb(0x4F7F86))
    elif pose is Pose.PHOTOGRAPH:
        pen.lines(
            [[(0.56, 1.3), (0.36, 0)], [(0.56, 1.3), (0.62, 0)], [(0.56, 1.3), (0.84, 0.02)]],
            0.035,
            IRON,
        )
        pen.rect(0.5, 1.28, 0.64, 1.36, IRON)
        pen.rect(0.46, 1.36, 0.68, 1.54, rgb(0x26282C))
        pen.fill([(0.68, 1.38), (0.98, 1.36), (0.98, 1.54), (0.68, 1.52)], rgb(0xD9D6CE))
    elif dice.chance(0.18, 43):
        pen.fill(
            [(-0.3, 0.95), (-0.12, 0.97), (-0.13, 0.72), (-0.31, 0.72)],
            lit(dice.choice(CLOTHES, 44)),
        )
        pen.line([(-0.2, 0.96), (0.1, 1.42)], 0.025, rgb(0x5A4632))


def draw_child_with_balloon(pen: Pen, dice: Dice) -> None:
    """A child who has not let go yet."""
    small = pen.moved(0, 0, 0.62)
    draw_person(small, dice.child(1), Pose.STAND, rgb(0xE0B65F))
    pen.line([(0.14, 0.6), (0.3, 1.5), (0.26, 2.1)], 0.012, rgb(0xE6E6E0), 0.9)
    pen.disc(0.26, 2.35, 0.2, lit(rgb(0xC9343A)), 0.25)
    pen.disc(0.19, 2.44, 0.05, rgb(0xFFD9CF), 0.07)
