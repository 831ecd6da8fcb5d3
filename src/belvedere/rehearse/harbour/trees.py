"""Trees, bushes and climbing plants: crowns of blobs whose edge and light come from noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from math import sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

from .dice import Dice
from .noise import F32, bands
from .paint import Canvas, Pixels
from .palette import DARK_WOOD, FOLIAGE, HAZE, WOOD, Rgb, darker, lit, mix, rgb
from .pen import Pen

Blob = tuple[float, float, float, float]  # x, y, half-width, half-height in metres
_AT_A_TIME = 65_536  # pixels
_SLACK = 0.01  # of a blob's height: more than rounding makes


def foliage(
    pen: Pen, blobs: Sequence[Blob], leaf: Rgb, *, ragged: float = 0.42, sparse: float = 0.0
) -> None:
    """Paint a crown: lit from the left and above, ragged down to the pixel."""
    size_m = float(np.mean([b[2] + b[3] for b in blobs])) / 2
    crown = _Crown(tuple(blobs), size_m, leaf, ragged, sparse)
    pen.brush(partial(_paint_crown, crown=crown))


@dataclass(frozen=True, slots=True)
class _Crown:
    """A heap of blobs of some mean size, how ragged its edge is and how much of it is air."""

    blobs: tuple[Blob, ...]
    size_m: float
    leaf: Rgb
    ragged: float
    sparse: float


def _paint_crown(pen: Pen, canvas: Canvas, crown: _Crown) -> None:
    blobs = crown.blobs
    left = min(b[0] - b[2] for b in blobs)
    right = max(b[0] + b[2] for b in blobs)
    bottom = min(b[1] - b[3] for b in blobs)
    top = max(b[1] + b[3] for b in blobs)
    grow = 0.12 * (right - left)
    box = pen.degrees([(left - grow, bottom - grow), (right + grow, top + grow)])
    area = canvas.rows_cols(
        float(box[:, 0].min()), float(box[0, 1]), float(box[:, 0].max()), float(box[1, 1])
    )
    if area is None:
        return
    x, y = pen.metres(canvas, area)
    # Large crowns in strips that stay in the processor's cache; most strips miss most blobs.
    few = max(64, _AT_A_TIME // len(x))
    for strip in bands(area[0].start, area[0].stop, few):
        rows = slice(strip.start - area[0].start, strip.stop - area[0].start)
        _paint_rows(pen, canvas, crown, (strip, area[1]), x, y[rows])


def _paint_rows(
    pen: Pen, canvas: Canvas, crown: _Crown, area: tuple[slice, slice], x: F32, y: F32
) -> None:
    """Some rows of a crown; x and y are the local metres of the area's columns and rows."""
    grain, relief = canvas.grain[area], canvas.relief[area]
    noise = grain * np.float32(0.7)
    noise += relief * np.float32(0.35)
    noise *= np.float32(crown.ragged)
    sharp = max(pen.px_per_m * crown.size_m * 0.55, 0.8)
    # Below this height there are no leaves, however the noise falls.
    least = crown.sparse - float(noise.max()) - 0.5 / sharp - _SLACK
    best = np.full(grain.shape, -9.0, np.float32)
    tilt = np.zeros(grain.shape, np.float32)
    for blob in crown.blobs:
        _raise_blob(best, tilt, blob, x, y, pen.sunward, least)
    if crown.sparse:
        best -= np.float32(crown.sparse)
    best += noise
    best *= np.float32(sharp)
    best += np.float32(0.5)
    cover = np.clip(best, 0.0, 1.0, out=best)
    part = _box_of(cover)
    if part is None:
        return
    grain, relief, cover = grain[part], relief[part], cover[part]
    light = tilt[part]
    light *= np.float32(0.34)
    light += np.float32(0.40)
    light += relief * np.float32(0.26)
    light += grain * np.float32(0.12)
    np.clip(light, np.float32(0.0), np.float32(1.0), out=light)
    inked = _leaf_colours(light, crown.leaf, pen.haze, 0.22 * (1 - pen.haze))
    rows, columns = area[0].start, area[1].start
    inside = (
        slice(rows + part[0].start, rows + part[0].stop),
        slice(columns + part[1].start, columns + part[1].stop),
    )
    canvas.lay_over(inside, inked, cover)


def _raise_blob(
    best: F32, tilt: F32, blob: Blob, x: F32, y: F32, sunward: float, least: float
) -> None:
    """Where a blob stands out from the others, and above ``least``: its height and its tilt."""
    bx, by, rx, ry = blob
    room = 1.0 - least  # of the squares of u and v
    rows = _within(y, by, ry * sqrt(max(room, 0.0)))
    if rows is None:
        return
    v = (y[rows] - np.float32(by)) / np.float32(ry)
    down = v * v
    columns = _within(x, bx, rx * sqrt(max(room - float(down.min()), 0.0)))
    if columns is None:
        return
    u = (x[columns] - np.float32(bx)) / np.float32(rx)
    height = (1.0 - u * u) - down[:, None]
    toward_sun = sunward * -0.75 * u + (0.62 * v)[:, None]
    standing, leaning = best[rows, columns], tilt[rows, columns]
    better = cv2.compare(height, standing, cv2.CMP_GT)
    cv2.copyTo(height, better, standing)
    cv2.copyTo(toward_sun, better, leaning)


def _within(at: F32, middle: float, reach: float) -> slice | None:
    """Which of evenly spaced places lie so near to the middle, and perhaps one or two more."""
    count = len(at)
    first = float(at[0])
    step = (float(at[-1]) - first) / max(count - 1, 1)
    if step == 0.0:
        return slice(0, count)
    one, other = (middle - reach - first) / step, (middle + reach - first) / step
    start, stop = max(int(min(one, other)) - 1, 0), min(int(max(one, other)) + 3, count)
    return slice(start, stop) if start < stop else None


def _box_of(cover: F32) -> tuple[slice, slice] | None:
    """The rows and columns in which anything is covered."""
    left, top, width, height = cv2.boundingRect((cover > 0.0).view(np.uint8))
    if width == 0:
        return None
    return slice(top, top + height), slice(left, left + width)


def _leaf_colours(light: F32, leaf: Rgb, haze: float, grain: float) -> Pixels:
    """Light from shade, 0, to sun, 1, seen through the air: (h, w, 4), as a canvas has them."""
    steps = cv2.convertScaleAbs(light, alpha=255.0).astype(np.uint8, copy=False)
    return np.take(_leaf_table(leaf, haze, grain), steps).view(np.uint8).reshape(*light.shape, 4)


@lru_cache(maxsize=512)
def _leaf_table(leaf: Rgb, haze: float, grain: float) -> NDArray[np.uint32]:
    """The colours of 256 steps of light, each four bytes in one number."""
    dark = mix(darker(leaf, 0.36), (0.10, 0.16, 0.20), 0.35)
    sunny = lit(mix(leaf, rgb(0xC9C070), 0.30), 1.12)
    light = np.linspace(0.0, 2.0, 256)[:, None]
    low, high = np.minimum(light, 1.0), np.maximum(light - 1.0, 0.0)
    middle = np.multiply(leaf, 0.88)
    tone = dark + (middle - dark) * low + (np.array(sunny) - middle) * high
    tone += (np.array(HAZE) - tone) * haze
    coded = np.rint(255.0 * np.clip(tone, 0.0, 1.0)).astype(np.uint8)
    grained = np.full((256, 1), round(255.0 * grain), np.uint8)
    table: NDArray[np.uint32] = np.ascontiguousarray(np.hstack((coded, grained))).view(np.uint32)
    return table[:, 0]


def draw_tree(pen: Pen, dice: Dice, height: float) -> None:
    """A round-headed tree with its trunk and its shade on the ground."""
    leaf = dice.choice(FOLIAGE, 1)
    trunk = darker(DARK_WOOD, 0.85)
    h = height
    pen.shade([(0, 0), (h * 0.2, -0.12), (h * 0.75, 0.05), (h * 0.3, 0.16)], 0.35)
    pen.fill([(-0.045 * h, 0), (0.05 * h, 0), (0.025 * h, 0.5 * h), (-0.02 * h, 0.5 * h)], trunk)
    pen.line([(0, 0.35 * h), (-0.14 * h, 0.62 * h)], 0.03 * h, trunk)
    pen.line([(0, 0.38 * h), (0.15 * h, 0.6 * h)], 0.028 * h, trunk)
    blobs: list[Blob] = [(0.0, 0.66 * h, 0.26 * h, 0.24 * h)]
    for i in range(6):
        r = dice.between(0.11, 0.19, 2, i) * h
        blobs.append(
            (
                dice.between(-0.27, 0.27, 3, i) * h,
                dice.between(0.47, 0.85, 4, i) * h,
                r * 1.15,
                r,
            )
        )
    foliage(pen, blobs, leaf)


def draw_cypress(pen: Pen, dice: Dice, height: float) -> None:
    """A dark flame."""
    leaf = mix(rgb(0x3C5138), dice.choice(FOLIAGE, 1), 0.25)
    h, r = height, height * dice.between(0.085, 0.12, 2)
    pen.rect(-0.03 * h, 0, 0.03 * h, 0.12 * h, DARK_WOOD)
    foliage(
        pen,
        [
            (0, 0.36 * h, r, 0.3 * h),
            (0, 0.6 * h, r * 0.8, 0.32 * h),
            (0, 0.78 * h, r * 0.45, 0.24 * h),
        ],
        leaf,
        ragged=0.3,
    )


def draw_pine(pen: Pen, dice: Dice, height: float) -> None:
    """An umbrella pine: a bent trunk under flat clouds of needles."""
    h = height
    lean = dice.between(-0.12, 0.12, 1) * h
    bark = rgb(0x7A5A45)
    pen.line([(0, 0), (lean * 0.35, 0.4 * h), (lean, 0.75 * h)], 0.045 * h, bark)
    pen.line([(lean * 0.5, 0.5 * h), (lean - 0.2 * h, 0.78 * h)], 0.025 * h, bark)
    pen.line([(lean * 0.6, 0.55 * h), (lean + 0.22 * h, 0.76 * h)], 0.025 * h, bark)
    blobs = [
        (lean - 0.2 * h, 0.82 * h, 0.2 * h, 0.09 * h),
        (lean + 0.2 * h, 0.80 * h, 0.22 * h, 0.09 * h),
        (lean, 0.90 * h, 0.25 * h, 0.11 * h),
    ]
    foliage(pen, blobs, mix(rgb(0x4B6238), dice.choice(FOLIAGE, 2), 0.3), ragged=0.45)


def draw_palm(pen: Pen, dice: Dice, height: float) -> None:
    """A palm with arched fronds."""
    h = height
    bend = dice.between(-0.1, 0.1, 1) * h
    pen.line([(0, 0), (bend * 0.3, 0.45 * h), (bend, 0.82 * h)], 0.05 * h, rgb(0x86725A))
    leaf = rgb(0x66793F)
    for i in range(15):
        turn = -1.25 + 2.5 * i / 14
        reach = dice.between(0.3, 0.4, 2, i) * h
        tip = (bend + np.sin(turn * 1.35) * reach, 0.82 * h + np.cos(turn * 1.35) * reach * 0.62)
        mid = (bend + np.sin(turn) * reach * 0.55, 0.86 * h + np.cos(turn) * reach * 0.5)
        ink = lit(leaf, 1.1) if turn < 0.2 else darker(leaf, 0.68)
        ink = mix(ink, darker(leaf, 0.5), 0.4 * dice.unit(3, i))
        pen.fill([(bend, 0.82 * h), mid, tip, (mid[0] + 0.02 * h, mid[1] - 0.055 * h)], ink)


def draw_bush(pen: Pen, dice: Dice, width: float, *, flowers: Rgb | None = None) -> None:
    """A low bush, perhaps in flower."""
    blobs: list[Blob] = [
        (
            dice.between(-0.32, 0.32, 1, i) * width,
            dice.between(0.14, 0.3, 2, i) * width,
            0.26 * width,
            0.2 * width,
        )
        for i in range(4)
    ]
    foliage(pen, blobs, dice.choice(FOLIAGE, 3))
    if flowers is not None and pen.shows(0.09, 1.0):
        dots = [
            (dice.between(-0.45, 0.45, 4, i) * width, dice.between(0.05, 0.42, 5, i) * width)
            for i in range(int(14 * width))
        ]
        for k, tone in enumerate((1.0, 0.82, 1.15)):
            pen.fills(
                [
                    [(x - 0.06, y), (x, y - 0.05), (x + 0.06, y), (x, y + 0.06)]
                    for x, y in dots[k::3]
                ],
                darker(flowers, tone),
            )


def draw_ivy(pen: Pen, dice: Dice, width: float, height: float) -> None:
    """A climber on a wall, from its foot up."""
    blobs: list[Blob] = []
    for i in range(9):
        y = height * (i + 0.5) / 9
        spread = width * (0.25 + 0.3 * dice.unit(1, i)) * (1.1 - 0.5 * i / 9)
        blobs.append((dice.between(-0.3, 0.3, 2, i) * width, y, spread, height / 11))
    foliage(pen, blobs, dice.choice(FOLIAGE, 3), ragged=0.55, sparse=0.1)
    if pen.shows(0.05, 0.8):
        pen.line([(0, 0), (0.06, height * 0.4), (-0.04, height * 0.8)], 0.05, WOOD)
