"""Roofs: slopes of tiles, ridges, chimneys, dormers, antennas, gulls."""

from __future__ import annotations

import numpy as np

from .animals import draw_gull
from .dice import Dice
from .noise import F64
from .palette import GLASS, IRON, STONE, WHITE, Rgb, darker, lit, mix, rgb, shaded
from .pen import Pen

Corner = tuple[float, float]
Quad = tuple[Corner, Corner, Corner, Corner]  # lower left, lower right, upper right, upper left


def on_quad(quad: Quad, u: F64, v: F64) -> F64:
    """Points of a quad at shares ``u`` to the right and ``v`` up; shape of u plus (2,)."""
    q = np.array(quad)
    u, v = np.asarray(u)[..., None], np.asarray(v)[..., None]
    below = q[0] + (q[1] - q[0]) * u
    above = q[3] + (q[2] - q[3]) * u
    out: F64 = below + (above - below) * v
    return out


def draw_slope(pen: Pen, dice: Dice, quad: Quad, clay: Rgb, length: float, rise: float) -> None:
    """A tiled slope; ``length`` along the eaves and ``rise`` along the slope in metres."""
    pen.fill(quad, clay, grain=0.22)
    rows = max(2, round(rise / 0.34))
    cols = max(3, round(length / 0.27))
    if pen.shows(0.27, 0.7):
        _odd_tiles(pen, dice, quad, clay, rows, cols)
    if pen.shows(0.27, 1.6):
        _rolls(pen, quad, clay, rows, cols)
    elif pen.shows(0.34, 1.5):
        v = np.arange(1, rows) / rows
        lines = [on_quad(quad, np.array([0.0, 1.0]), np.full(2, t)) for t in v]
        pen.lines(lines, 0.06, darker(clay, 0.72), 0.6)


def _odd_tiles(pen: Pen, dice: Dice, quad: Quad, clay: Rgb, rows: int, cols: int) -> None:
    tones = (
        darker(clay, 0.80),
        mix(clay, rgb(0xE2B48C), 0.45),
        darker(clay, 0.90),
        mix(clay, rgb(0x7C8450), 0.4),
    )
    per_tone = max(2, rows * cols // 18)
    for k, tone in enumerate(tones):
        spots = {
            (dice.whole(0, cols // 2, 11, k, i) * 2, dice.whole(0, rows - 1, 12, k, i))
            for i in range(per_tone)
        }
        cell = np.array(sorted(spots), np.float64)
        u0, v0 = cell[:, :1] / cols, cell[:, 1:] / rows
        u1 = np.minimum(u0 + 2 / cols, 1.0)
        u = np.concatenate([np.minimum(u0, 1.0), u1, u1, np.minimum(u0, 1.0)], axis=1)
        v = np.concatenate([v0, v0, v0 + 1 / rows, v0 + 1 / rows], axis=1)
        pen.fills(on_quad(quad, u, v), tone, grain=0.22)


def _rolls(pen: Pen, quad: Quad, clay: Rgb, rows: int, cols: int) -> None:
    """Half-round tiles: lit on the left of each roll, dark in the channel, scalloped rows."""
    u = np.arange(cols) / cols
    ends = np.array([0.0, 1.0])
    up = np.broadcast_to(ends, (cols, 2))
    bright = on_quad(quad, np.repeat((u + 0.28 / cols)[:, None], 2, axis=1), up)
    dark = on_quad(quad, np.repeat((u + 0.86 / cols)[:, None], 2, axis=1), up)
    pen.lines(bright, 0.075, mix(clay, rgb(0xFFE0B8), 0.42), 0.55)
    pen.lines(dark, 0.085, darker(clay, 0.5), 0.7)
    steps = 4
    wave = np.tile(np.array([0.0, -0.16, -0.22, -0.16]), cols)
    along = np.arange(cols * steps) / (cols * steps)
    courses = []
    for j in range(rows):
        v = np.clip((j + 0.22 + wave) / rows, 0.0, 1.0)
        courses.append(on_quad(quad, along, v))
    pen.lines(courses, 0.05, darker(clay, 0.42), 0.75)


def draw_ridge(pen: Pen, a: Corner, b: Corner, clay: Rgb) -> None:
    """Cap tiles along a ridge."""
    pen.line([a, b], 0.22, lit(mix(clay, rgb(0xE9C9A4), 0.25), 1.02))
    if pen.shows(0.2, 1.2):
        n = max(2, int(np.hypot(b[0] - a[0], b[1] - a[1]) / 0.4))
        joints = [
            [
                (a[0] + (b[0] - a[0]) * i / n, a[1] + (b[1] - a[1]) * i / n - 0.1),
                (a[0] + (b[0] - a[0]) * i / n, a[1] + (b[1] - a[1]) * i / n + 0.11),
            ]
            for i in range(1, n)
        ]
        pen.lines(joints, 0.04, darker(clay, 0.6), 0.8)


def draw_chimney(pen: Pen, dice: Dice, x: float, y: float) -> None:
    """A stack with pots; its shadow falls to the right over the roof."""
    w, h = dice.between(0.5, 0.8, 1), dice.between(0.9, 1.7, 2)
    body = dice.choice((rgb(0xA5694E), rgb(0xD8CBB4), rgb(0xB98A6B)), 3)
    pen.shade(
        [(x + w, y - 0.3), (x + w + 1.1, y - 0.7), (x + w + 1.3, y - 0.1), (x + w, y + 0.6)], 0.4
    )
    pen.rect(x, y - 0.5, x + w, y + h, lit(body, 0.9))
    pen.rect(x, y - 0.5, x + 0.45 * w, y + h, lit(body, 1.08))
    pen.rect(x + 0.8 * w, y - 0.5, x + w, y + h, shaded(body, 0.8))
    if pen.shows(0.09, 1.3) and body[0] < 0.8:
        rows = np.arange(y - 0.4, y + h - 0.05, 0.09)
        pen.lines([[(x, v), (x + w, v)] for v in rows], 0.02, rgb(0xCDBBA2), 0.6)
    pen.rect(x - 0.08, y + h - 0.12, x + w + 0.08, y + h, lit(STONE))
    for i in range(dice.whole(1, 2, 4)):
        px = x + 0.1 + i * 0.34
        pen.fill(
            [(px, y + h), (px + 0.22, y + h), (px + 0.19, y + h + 0.42), (px + 0.03, y + h + 0.42)],
            lit(rgb(0xB4633F)),
        )
        pen.rect(px + 0.14, y + h, px + 0.2, y + h + 0.42, darker(rgb(0xB4633F), 0.6))
    if dice.chance(0.13, 5):
        draw_gull(pen.moved(x + 0.5 * w, y + h + 0.4), dice)


def draw_antenna(pen: Pen, dice: Dice, x: float, y: float) -> None:
    """A roof antenna."""
    h = dice.between(1.4, 2.4, 1)
    pen.line([(x, y), (x, y + h)], 0.04, IRON)
    for i in range(5):
        r = 0.42 - 0.05 * i
        t = y + h - 0.05 - 0.16 * i
        pen.line([(x - r, t + 0.05), (x + r, t - 0.05)], 0.022, IRON)


def draw_dormer(pen: Pen, x: float, y: float, wall: Rgb, clay: Rgb) -> None:
    """A dormer window with its own little gable."""
    pen.shade([(x + 1.3, y), (x + 2.0, y - 0.15), (x + 1.9, y + 0.7), (x + 1.3, y + 1.3)], 0.4)
    pen.fill(
        [(x, y), (x + 1.3, y), (x + 1.3, y + 1.1), (x + 0.65, y + 1.6), (x, y + 1.1)],
        lit(wall, 1.02),
    )
    pen.line(
        [(x - 0.18, y + 1.0), (x + 0.65, y + 1.68), (x + 1.48, y + 1.0)], 0.17, lit(clay, 0.95)
    )
    pen.rect(x + 0.3, y + 0.2, x + 1.0, y + 1.0, darker(GLASS, 0.75))
    pen.lines(
        [
            [(x + 0.65, y + 0.2), (x + 0.65, y + 1.0)],
            [(x + 0.3, y + 0.6), (x + 1.0, y + 0.6)],
            [
                (x + 0.3, y + 0.2),
                (x + 1.0, y + 0.2),
                (x + 1.0, y + 1.0),
                (x + 0.3, y + 1.0),
                (x + 0.3, y + 0.2),
            ],
        ],
        0.05,
        lit(WHITE, 0.93),
    )


def draw_skylight(pen: Pen, x: float, y: float) -> None:
    """A roof window that mirrors the sky."""
    pen.fill([(x, y), (x + 0.8, y), (x + 0.9, y + 0.7), (x + 0.1, y + 0.7)], IRON)
    pen.fill(
        [(x + 0.07, y + 0.06), (x + 0.76, y + 0.06), (x + 0.84, y + 0.64), (x + 0.16, y + 0.64)],
        rgb(0x9DB4C2),
    )
