"""The balance put to use: frames brought to one light, by tables.

A frame's values are taken as sRGB (IEC 61966-2-1:1999): decoded to linear light, multiplied by
the frame's gain over the lens' falloff, encoded again. Eight bits go in; what comes out is in
steps of 1/32 grey level, so that a gain leaves no bands that were not in the frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import linear_from_srgb, srgb_from_linear
from belvedere.optics import LensModel
from belvedere.orient import light_falloff

FloatArray = NDArray[np.float64]
Pixels = NDArray[np.uint8]
Corrected = NDArray[np.uint16]

#: Steps per grey level of corrected pixels.
STEPS_PER_LEVEL = 32
#: The falloff is split into this many rings of equal ratio: under 0.3 grey levels each.
_RINGS = 256
#: Rows of a frame that are worked out at a time.
_ROWS = 256


def illumination(
    lens: LensModel, falloff: tuple[float, ...], shrink: int, rows: slice = slice(None)
) -> FloatArray:
    """Light at each pixel against the axis: (height, width), 1 where `falloff` is empty.

    `shrink`: for a frame shrunk so many times (sizes rounded up); `rows`: only these of it.
    """
    x = (np.arange(-(-lens.width_px // shrink)) + 0.5) * shrink - 0.5
    y = (np.arange(-(-lens.height_px // shrink))[rows] + 0.5) * shrink - 0.5
    pixels = np.stack(np.meshgrid(x, y), axis=-1)
    return np.maximum(light_falloff(lens, falloff, pixels), 0.05)


@dataclass(frozen=True, slots=True)
class Rings:
    """The falloff of a lens as numbered rings.

    `ratios` (rings,) are what a pixel of each ring is multiplied by; `number` (height, width)
    uint16 is each pixel's ring times 256, ready to carry an 8-bit value; None without falloff.
    """

    ratios: FloatArray
    number: Corrected | None


def make_rings(lens: LensModel, falloff: tuple[float, ...], shrink: int) -> Rings:
    """The rings of frames shrunk `shrink` times."""
    # It is smooth: every eighth pixel tells how far it reaches, and what is beyond is clipped.
    light = illumination(lens, falloff, 8)
    weakest, strongest = float(light.min()), float(light.max())
    if strongest / weakest < 1.002:
        return Rings(np.ones(1) / light.mean(), None)
    number = np.empty((-(-lens.height_px // shrink), -(-lens.width_px // shrink)), np.uint16)
    for top in range(0, number.shape[0], _ROWS):
        rows = slice(top, top + _ROWS)
        here = np.clip(illumination(lens, falloff, shrink, rows), weakest, strongest)
        place = np.log(strongest / here) / np.log(strongest / weakest)
        number[rows] = np.rint(place * (_RINGS - 1)).astype(np.uint16) << 8
    return Rings(1.0 / np.geomspace(strongest, weakest, _RINGS), number)


def gain_table(gain: FloatArray, ratios: FloatArray) -> Corrected:
    """Corrected value for every ring, 8-bit value and channel: (1, rings · 256, 3) uint16.

    With one ring of ratio 1 and a gain of 1 the table is value times `STEPS_PER_LEVEL`, exactly.
    """
    linear = linear_from_srgb(np.arange(256) / 255.0)
    factor = ratios[:, None, None] * np.asarray(gain, np.float64)
    lit = np.minimum(linear[None, :, None] * factor, 1.0)
    table = np.rint(srgb_from_linear(lit) * 255.0 * STEPS_PER_LEVEL).astype(np.uint16)
    return table.reshape(1, -1, 3)


def correct(rgb: Pixels, table: Corrected, ring_number: Corrected | None) -> Corrected:
    """(height, width, 3) 8-bit pixels in the mosaic's light, in steps of 1/32 grey level.

    `ring_number` is that of the same pixels (see `Rings`).
    """
    places = rgb if ring_number is None else rgb | ring_number[..., None]
    corrected: Corrected = cv2.LUT(places, table)  # type: ignore[assignment]
    return corrected
