"""Linear light of 8-bit sRGB, CIE L*a*b*, CIEDE2000, and exposure arithmetic."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from belvedere.foundation import linear_from_srgb

FloatArray = NDArray[np.float64]
FloatImage = NDArray[np.float32]

#: Linear sRGB to CIE XYZ, D65 (IEC 61966-2-1:1999, equation F.8 as commonly reprinted).
_XYZ_FROM_RGB = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
_WHITE = _XYZ_FROM_RGB.sum(axis=1)
#: Weights of linear red, green and blue in luminance (ITU-R BT.709).
LUMINANCE = (0.2126, 0.7152, 0.0722)


@cache
def linear_table() -> FloatImage:
    """Linear light (256,) of 8-bit sRGB values."""
    return linear_from_srgb(np.arange(256) / 255.0).astype(np.float32)


def lab_from_linear(rgb: ArrayLike) -> FloatArray:
    """CIE L*a*b* (..., 3) of linear sRGB (..., 3) against the sRGB white, D65 (CIE 15)."""
    xyz = np.asarray(rgb, dtype=np.float64) @ _XYZ_FROM_RGB.T / _WHITE
    bend = 6.0 / 29.0
    f = np.where(xyz > bend**3, np.cbrt(xyz), xyz / (3.0 * bend**2) + 4.0 / 29.0)
    lab: FloatArray = np.stack(
        [
            116.0 * f[..., 1] - 16.0,
            500.0 * (f[..., 0] - f[..., 1]),
            200.0 * (f[..., 1] - f[..., 2]),
        ],
        axis=-1,
    )
    return lab


def ciede2000(lab_1: ArrayLike, lab_2: ArrayLike) -> FloatArray:
    """The CIEDE2000 difference between colours (..., 3) in L*a*b*.

    G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation notes,
    supplementary test data, and mathematical observations", Color Research and Application
    30(1), 2005; weights kL = kC = kH = 1.
    """
    one, two = np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64)
    chroma = (np.hypot(one[..., 1], one[..., 2]) + np.hypot(two[..., 1], two[..., 2])) / 2.0
    stretch = 0.5 * (1.0 - np.sqrt(chroma**7 / (chroma**7 + 25.0**7)))
    c1, h1 = _chroma_hue(one, stretch)
    c2, h2 = _chroma_hue(two, stretch)
    grey = c1 * c2 == 0.0

    turn = np.where(grey, 0.0, (h2 - h1 + 180.0) % 360.0 - 180.0)
    turn = np.where((turn == -180.0) & (h2 > h1), 180.0, turn)
    step_hue = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2.0))
    step_light, step_chroma = two[..., 0] - one[..., 0], c2 - c1

    light, c = (one[..., 0] + two[..., 0]) / 2.0, (c1 + c2) / 2.0
    far = np.abs(h1 - h2) > 180.0
    hue = (h1 + h2) / 2.0 + np.where(far, np.where(h1 + h2 < 360.0, 180.0, -180.0), 0.0)
    hue = np.where(grey, h1 + h2, hue)
    t = (
        1.0
        - 0.17 * np.cos(np.radians(hue - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * hue))
        + 0.32 * np.cos(np.radians(3.0 * hue + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * hue - 63.0))
    )
    weight_light = 1.0 + 0.015 * (light - 50.0) ** 2 / np.sqrt(20.0 + (light - 50.0) ** 2)
    weight_chroma, weight_hue = 1.0 + 0.045 * c, 1.0 + 0.015 * c * t
    rotation = np.radians(60.0 * np.exp(-(((hue - 275.0) / 25.0) ** 2)))
    mixed = -2.0 * np.sqrt(c**7 / (c**7 + 25.0**7)) * np.sin(rotation)
    x, y, z = step_light / weight_light, step_chroma / weight_chroma, step_hue / weight_hue
    difference: FloatArray = np.sqrt(np.maximum(x**2 + y**2 + z**2 + mixed * y * z, 0.0))
    return difference


def _chroma_hue(lab: FloatArray, stretch: FloatArray) -> tuple[FloatArray, FloatArray]:
    a, b = (1.0 + stretch) * lab[..., 1], lab[..., 2]
    return np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360.0


def exposure_value(
    exposure_time_s: float | None, f_number: float | None, iso: float | None
) -> float | None:
    """How little light settings give a picture, in EV: Av + Tv - (Sv - 5); None if time is absent.

    Terms of the additive system of photographic exposure as in Exif 2.3, annex C (the formulae
    from memory): Av = 2 log2 N, Tv = -log2 t, Sv = log2(ISO / 3.125). An absent aperture or
    sensitivity counts as one that does not change.
    """
    if not exposure_time_s or exposure_time_s <= 0.0:
        return None
    value = -np.log2(exposure_time_s)
    if f_number and f_number > 0.0:
        value += 2.0 * np.log2(f_number)
    if iso and iso > 0.0:
        value -= np.log2(iso / 3.125) - 5.0
    return float(value)
