"""The mole at our feet: boulders with lichen and barnacles, the paved walk, what stands on it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .dice import Dice
from .noise import F64
from .palette import GRANITE, IRON, ROPE, WHITE, WOOD, darker, lit, mix, rgb, shaded
from .pen import Pen, ellipse

WALK_TOP_DEG = -8.75
WALK_FOOT_DEG = -11.2
EDGE_DEG = -7.35


def draw_base(pen: Pen) -> None:
    """Dark stone everywhere below the edge; local units are degrees."""
    pen.rect(-181, -91, 181, EDGE_DEG - 0.45, rgb(0x8A8272), grain=0.5)


def draw_walk(pen: Pen, dice: Dice, left: float, right: float) -> None:
    """Slabs of the walk between two bearings; local units are degrees."""
    stone = lit(rgb(0xBBB3A4), 0.95)
    pen.rect(left - 0.02, WALK_FOOT_DEG, right + 0.02, WALK_TOP_DEG, stone, grain=0.2)
    ys = [WALK_TOP_DEG, -9.15, -9.62, -10.18, -10.85, WALK_FOOT_DEG]
    for j, (top, low) in enumerate(pairwise(ys)):
        width = 1.1 + 0.22 * j
        first = int(np.floor(left / width)) - 1
        for i in range(first, int(right / width) + 2):
            a = i * width + dice.between(-0.15, 0.15, 1, j, i) + 0.5 * width * (j % 2)
            b = (i + 1) * width + dice.between(-0.15, 0.15, 1, j, i + 1) + 0.5 * width * (j % 2)
            a, b = max(a, left), min(b, right)
            if a >= b:
                continue
            tone = mix(
                darker(stone, dice.between(0.9, 1.06, 2, j, i)),
                rgb(0xA89A84),
                0.35 * dice.unit(3, j, i),
            )
            pen.rect(a, low, b, top, tone, grain=0.22)
            if a > left:
                pen.line([(a, low), (a, top)], 0.022, darker(stone, 0.5), 0.85)
            if dice.chance(0.3, 4, j, i):
                x = dice.between(a, b, 5, j, i)
                draw_lichen(pen.moved(x, (low + top) / 2), dice.child(j, i), 0.09, 0.05)
        pen.line([(left, low), (right, low)], 0.022, darker(stone, 0.5), 0.85)
    dice = dice.child(int(left) + 720)
    # The kerb towards the water, and puddles that hold the sky.
    pen.rect(
        left - 0.02,
        WALK_TOP_DEG - 0.02,
        right + 0.02,
        WALK_TOP_DEG + 0.13,
        lit(GRANITE, 1.2),
        grain=0.3,
    )
    pen.shade(
        [
            (left, WALK_TOP_DEG - 0.02),
            (right, WALK_TOP_DEG - 0.02),
            (right, WALK_TOP_DEG - 0.09),
            (left, WALK_TOP_DEG - 0.09),
        ],
        0.4,
    )
    for i in range(int((right - left) * 0.4)):
        x, y = dice.between(left, right, 9, i), dice.between(-10.8, -9.1, 10, i)
        draw_puddle(pen.moved(x, y), dice.child(11, i), dice.between(0.2, 0.6, 12, i))
    # Tufts of thrift in the joints.
    for i in range(int((right - left) * 1.3)):
        x = dice.between(left, right, 6, i)
        draw_tuft(pen.moved(x, ys[dice.whole(1, 4, 7, i)]), dice.child(8, i), 0.16)


def draw_puddle(pen: Pen, dice: Dice, r: float) -> None:
    """Rain that has not dried: a piece of sky on the ground."""
    angle = np.linspace(0, 2 * np.pi, 19)[:-1]
    wobble = np.array([dice.between(0.7, 1.15, 1, i) for i in range(18)])
    edge = np.stack([r * wobble * np.cos(angle), 0.16 * r * wobble * np.sin(angle)], 1)
    pen.fill(edge * 1.06 - (0, 0.006), rgb(0x5F584C), 0.6)
    pen.fill(edge, rgb(0xA9C0CC), grain=0.03)
    pen.fill(edge * (0.7, 0.5) + (0.1 * r, -0.02 * r), rgb(0xC3D2D6), 0.6, 0.03)


def draw_tuft(pen: Pen, dice: Dice, size: float) -> None:
    """Grass and thrift in a joint."""
    blades = []
    for i in range(9):
        a = dice.between(-0.5, 0.5, 1, i)
        h = dice.between(0.5, 1.0, 2, i)
        blades.append(
            [(0.2 * a * size, 0), (0.6 * a * size, 0.6 * h * size), (1.1 * a * size, h * size)]
        )
    pen.lines(blades[:5], 0.07 * size, lit(rgb(0x8B9555)))
    pen.lines(blades[5:], 0.07 * size, rgb(0x4F6338))
    if dice.chance(0.5, 3):
        for i in range(4):
            pen.disc(
                dice.between(-0.4, 0.4, 4, i) * size,
                dice.between(0.8, 1.1, 5, i) * size,
                0.1 * size,
                lit(rgb(0xD98FA8)),
            )


def draw_lichen(pen: Pen, dice: Dice, rx: float, ry: float) -> None:
    """A few patches of yellow or grey lichen."""
    if not pen.shows(rx, 2.0):
        return
    for k in range(4):
        ink = dice.choice((rgb(0xD9A93F), rgb(0xC9C7A8), rgb(0xB5B58A), rgb(0xE0B95A)), 1, k)
        x, y = dice.between(-1, 1, 2, k) * rx, dice.between(-1, 1, 3, k) * ry
        r = dice.between(0.25, 0.6, 4, k)
        angle = np.linspace(0, 2 * np.pi, 15)[:-1]
        wobble = np.array([dice.between(0.6, 1.15, 5, k, i) for i in range(14)])
        pen.fill(
            np.stack([x + rx * r * wobble * np.cos(angle), y + ry * r * wobble * np.sin(angle)], 1),
            ink, 0.75, 0.5,
        )  # fmt: skip


def boulder_outline(dice: Dice, w: float, h: float) -> F64:
    """An irregular stone: 13 corners around (0, h/2)."""
    angle = np.linspace(0, 2 * np.pi, 14)[:-1]
    r = np.array([dice.between(0.82, 1.12, 1, i) for i in range(13)])
    x = np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** 0.75
    y = np.sign(np.sin(angle)) * np.abs(np.sin(angle)) ** 0.75
    return np.stack([0.5 * w * r * x, 0.5 * h + 0.5 * h * r * y], 1)


def draw_boulder(pen: Pen, dice: Dice, w: float, h: float, *, wet: bool) -> None:
    """One block of the mole; local units are degrees."""
    out = boulder_outline(dice, w, h)
    stone = mix(GRANITE, dice.choice((rgb(0x9C8C78), rgb(0x7F8485), rgb(0xA69A88)), 2), 0.7)
    if not pen.shows(w, 7.0):
        pen.fill(out, darker(lit(stone), 0.72), grain=0.5)
        pen.fill(out[1:9], lit(stone, 1.05), grain=0.5)
        return
    centre = np.array([dice.between(-0.05, 0.18, 3) * w, dice.between(0.45, 0.62, 4) * h])
    pen.fill(out * (1.02, 1.02) + (0.022 * w, -0.03 * h), rgb(0x2C2E31), grain=0.4)
    pen.fill(out, darker(stone, 0.72), grain=0.5)
    # Facets: the top catches the sky, the left the sun, the right neither.
    top = np.concatenate([out[1:7], [centre]])
    left = np.concatenate([out[5:9], [centre]])
    right = np.concatenate([out[10:13], out[0:3], [centre]])
    pen.fill(right, shaded(darker(stone, 0.80), 0.75), grain=0.5)
    pen.fill(top, lit(stone, 1.0), grain=0.5)
    pen.fill(left, lit(stone, 1.12), grain=0.5)
    pen.line(np.stack([out[1], centre, out[6]]), 0.012 * w, lit(stone, 1.3), 0.45)
    for i in range(3 if pen.shows(w, 24.0) else 0):
        a = out[dice.whole(0, 12, 5, i)]
        b = centre + (a - centre) * dice.between(0.2, 0.5, 6, i)
        mid = (a + b) / 2 + np.array(
            [dice.between(-0.05, 0.05, 7, i) * w, dice.between(-0.05, 0.05, 8, i) * h]
        )
        pen.line(np.stack([a, mid, b]), 0.008 * w, rgb(0x2A2A2A), 0.7)
    for i in range(3):
        at = centre + (out[dice.whole(2, 7, 9, i)] - centre) * dice.between(0.3, 0.8, 10, i)
        draw_lichen(pen.moved(float(at[0]), float(at[1])), dice.child(11, i), 0.1 * w, 0.09 * h)
    if wet:
        low = np.concatenate([out[7:13], [(0.3 * w, 0.25 * h), (-0.3 * w, 0.22 * h)]])
        pen.fill(low, rgb(0x1F2A22), 0.62, 0.6)
        _barnacles(pen, dice.child(12), w, h)


def _barnacles(pen: Pen, dice: Dice, w: float, h: float) -> None:
    if not pen.shows(0.012, 0.6):
        return
    rings, pits = [], []
    for i in range(70):
        x = dice.between(-0.42, 0.42, 1, i) * w
        y = (0.22 + 0.13 * dice.unit(2, i) + 0.1 * dice.unit(3, i)) * h
        r = dice.between(0.006, 0.014, 4, i)
        rings.append(ellipse(x, y, r, r * 0.8)[::3])
        pits.append(ellipse(x, y, r * 0.4, r * 0.3)[::4])
    for ring in rings:
        pen.fill(ring, lit(rgb(0xD9D4C4), 0.95), grain=0.3)
    for pit in pits:
        pen.fill(pit, rgb(0x3A3A38))


def draw_mooring(pen: Pen) -> None:
    """A granite post with a hawser that runs down to the water."""
    pen.shade([(0, 0), (1.1, 0.02), (1.1, 0.14), (0, 0.1)], 0.4)
    stone = lit(GRANITE, 1.05)
    pen.fill(
        [(-0.2, 0), (0.2, 0), (0.17, 0.7), (0.1, 0.82), (-0.1, 0.82), (-0.17, 0.7)],
        stone,
        grain=0.5,
    )
    pen.fill(
        [(0.04, 0), (0.2, 0), (0.17, 0.7), (0.1, 0.82), (0.04, 0.8)], shaded(stone, 0.8), grain=0.5
    )
    pen.lines([[(-0.19, 0.3 + 0.07 * i), (0.19, 0.27 + 0.07 * i)] for i in range(4)], 0.065, ROPE)
    pen.line([(-0.18, 0.4), (-0.5, 0.54), (-0.9, 0.7), (-1.15, 0.86)], 0.05, ROPE)


def draw_rope_coil(pen: Pen) -> None:
    """A flat coil of rope."""
    pen.shade(ellipse(0.14, 0.0, 0.5, 0.1), 0.4)
    for i in range(5):
        r = 0.45 - 0.08 * i
        ink = lit(ROPE, 1.02 - 0.05 * (i % 2))
        pen.line(ellipse(0, 0.07 + 0.02 * i, r, r * 0.3), 0.07, ink, closed=True)
        pen.line(ellipse(0.0, 0.05 + 0.02 * i, r, r * 0.3)[12:], 0.02, darker(ROPE, 0.5))
    pen.line([(0.4, 0.02), (0.8, -0.03), (1.1, 0.05)], 0.06, lit(ROPE))


def draw_telescope(pen: Pen) -> None:
    """The telescope that takes a coin."""
    pen.shade([(0, 0), (1.2, 0.03), (1.2, 0.12), (0, 0.06)], 0.4)
    pen.rect(-0.06, 0, 0.06, 1.1, rgb(0x2F5D62))
    pen.rect(-0.16, 0, 0.16, 0.08, rgb(0x2F5D62))
    pen.fill([(-0.5, 1.18), (-0.46, 1.42), (0.36, 1.5), (0.4, 1.26)], lit(rgb(0x3F7F80)))
    pen.fill([(-0.5, 1.18), (-0.49, 1.26), (0.39, 1.34), (0.4, 1.26)], darker(rgb(0x2F5D62), 0.7))
    pen.disc(0.38, 1.38, 0.06, rgb(0x16202A), 0.12)
    pen.rect(-0.1, 0.8, 0.1, 1.0, lit(rgb(0xC9A24B)))


def draw_bottle(pen: Pen) -> None:
    """A bottle with a letter in it, wedged between stones."""
    pen.fill(
        [
            (-0.16, -0.05),
            (0.08, 0.03),
            (0.12, 0.03),
            (0.22, 0.07),
            (0.24, 0.03),
            (0.14, -0.01),
            (0.1, -0.04),
            (-0.13, -0.13),
        ],
        rgb(0x4F8F6B),
    )
    pen.fill([(-0.12, -0.06), (0.05, 0.0), (0.06, -0.04), (-0.1, -0.1)], lit(WHITE))
    pen.fill([(0.21, 0.065), (0.26, 0.085), (0.28, 0.045), (0.235, 0.03)], lit(WOOD))


def draw_crab(pen: Pen) -> None:
    """A crab on its way."""
    ink = lit(rgb(0xB5502F))
    legs = [
        [(s * 0.07, 0.05), (s * 0.15, 0.1 - 0.03 * i), (s * (0.2 - 0.02 * i), 0.0)]
        for s in (-1, 1)
        for i in range(3)
    ]
    pen.lines(legs, 0.018, darker(ink, 0.8))
    pen.disc(0, 0.07, 0.1, ink, 0.065)
    pen.fills([ellipse(-0.18, 0.15, 0.05, 0.035), ellipse(0.18, 0.15, 0.05, 0.035)], ink)
    pen.lines([[(-0.08, 0.1), (-0.16, 0.13)], [(0.08, 0.1), (0.16, 0.13)]], 0.025, ink)
    pen.fills([ellipse(-0.03, 0.14, 0.012, 0.014), ellipse(0.03, 0.14, 0.012, 0.014)], IRON)
