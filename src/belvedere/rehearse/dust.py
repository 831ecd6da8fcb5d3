"""Grains of dust in front of a sensor, and drops of water on the front of a lens.

Where they lie is the camera's; a grain's shadow is that of an opaque disc in the cone of light
that the aperture sends to each pixel, so it is small and dark at f/22, wide and faint at f/4.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.rehearse.camera_model import Optic

LinearImage = NDArray[np.float32]

#: From the glass that dust lies on to the pixels, over its refractive index (a usual size; common
#: practice, no source), and the grains' diameters: smallest and largest, even in their logarithm.
GLASS_UM = 1000.0
_GRAIN_UM = (8.0, 50.0)
#: A drop's patch, as a share of the picture's width; the share of its light that goes astray,
#: and how far (deviation, as a share of the width). Our choice, by eye.
_DROP_SIZE, _DROP_SHARE, _ASTRAY = (0.06, 0.16), (0.5, 0.9), 0.004
_DROP_PASSES = 0.9  # of the light that goes astray
_UNSEEN = 1e-4
_STRIP_ROWS = 256
_GRAINS, _DROPS = 21, 22  # random streams of the camera's seed


@dataclass(frozen=True, slots=True)
class Grain:
    """A grain's place, as shares of the picture's width and height, and its diameter."""

    across: float
    down: float
    diameter_um: float


def grains(camera_seed: int, count: int) -> tuple[Grain, ...]:
    """The first so many grains of a camera: more of them leave the others where they are."""
    rng = np.random.default_rng([camera_seed, _GRAINS])
    low, high = np.log(_GRAIN_UM)
    draws = rng.random((count, 3))
    return tuple(
        Grain(float(x), float(y), float(np.exp(low + (high - low) * size))) for x, y, size in draws
    )


def dust_shadow(
    lying: tuple[Grain, ...], width_px: int, height_px: int, optic: Optic, f_number: float
) -> LinearImage:
    """The share of the light that passes the grains, (height, width).

    A pixel sees the aperture as a disc of ``glass / N`` on the dust's level: the shadow is the
    overlap of that disc with the grain's.
    """
    passes = np.ones((height_px, width_px), dtype=np.float32)
    for grain in lying:
        spot = _shadow(grain, optic, f_number)
        half = spot.shape[0] // 2
        _multiply(
            passes,
            spot,
            round(grain.across * width_px - 0.5) - half,
            round(grain.down * height_px - 0.5) - half,
        )
    return passes


def behind_drops(light: LinearImage, camera_seed: int, drops: int, margin: int) -> None:
    """Soften the light behind so many drops on the lens: patches, a little darker at their hearts.

    `light` (height + 2 margin, width + 2 margin, 3) is changed where it stands, strip by strip.
    """
    width, height = light.shape[1] - 2 * margin, light.shape[0] - 2 * margin
    astray = _softened(light, max(1.0, _ASTRAY * width))
    places = np.random.default_rng([camera_seed, _DROPS]).random((drops, 4))
    x = np.arange(light.shape[1], dtype=np.float32) - margin
    for top in range(0, light.shape[0], _STRIP_ROWS):
        strip = light[top : top + _STRIP_ROWS]
        y = np.arange(top, top + strip.shape[0], dtype=np.float32) - margin
        share = np.zeros(strip.shape[:2], dtype=np.float32)
        for across, down, size, strength in places:
            radius = width * (_DROP_SIZE[0] + (_DROP_SIZE[1] - _DROP_SIZE[0]) * size)
            peak = _DROP_SHARE[0] + (_DROP_SHARE[1] - _DROP_SHARE[0]) * strength
            away_x, away_y = (x - across * width) / radius, (y - down * height) / radius
            r2 = (away_x * away_x)[None, :] + (away_y * away_y)[:, None]
            share = np.maximum(share, (peak * np.exp(-r2 * r2)).astype(np.float32))
        if share.max() > _UNSEEN:
            soft = _enlarged(astray, light.shape, top, strip.shape[0])
            strip += share[:, :, None] * (soft * np.float32(_DROP_PASSES) - strip)


def _softened(light: LinearImage, sigma_px: float) -> LinearImage:
    """A wide Gaussian blur, left small."""
    shrink = max(1, int(sigma_px / 2.0))
    height, width = light.shape[:2]
    size = (max(width // shrink, 1), max(height // shrink, 1))
    small = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    return _floats(cv2.GaussianBlur(small, (0, 0), sigma_px / shrink))


def _enlarged(small: LinearImage, shape: tuple[int, ...], top: int, rows: int) -> LinearImage:
    """Some rows of a small picture brought to (height, width), bilinear."""
    down, across = small.shape[0] / shape[0], small.shape[1] / shape[1]
    turn = np.array([[across, 0.0, 0.5 * across - 0.5], [0.0, down, (top + 0.5) * down - 0.5]])
    return _floats(
        cv2.warpAffine(
            small,
            turn,
            (shape[1], rows),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
    )


def _shadow(grain: Grain, optic: Optic, f_number: float) -> LinearImage:
    """The share that passes around the middle of one grain: odd size, square."""
    cone_px = GLASS_UM / f_number / optic.pixel_pitch_um
    grain_px = grain.diameter_um / optic.pixel_pitch_um
    half = int(np.ceil((cone_px + grain_px) / 2.0)) + 1
    apart = np.hypot(*np.meshgrid(*[np.arange(-half, half + 1, dtype=np.float64)] * 2))
    covered = _lens_area(apart, cone_px / 2.0, grain_px / 2.0) / (np.pi * cone_px**2 / 4.0)
    return (1.0 - covered).astype(np.float32)


def _lens_area(apart: NDArray[np.float64], first: float, second: float) -> NDArray[np.float64]:
    """The area that two discs of these radii share, their middles so far apart.

    Two circular segments on the common chord (elementary geometry).
    """
    small, large = min(first, second), max(first, second)
    d = np.clip(apart, large - small + 1e-9, large + small)
    to_small = np.clip((d * d + small**2 - large**2) / (2.0 * d * small), -1.0, 1.0)
    to_large = np.clip((d * d + large**2 - small**2) / (2.0 * d * large), -1.0, 1.0)
    area = small**2 * (np.arccos(to_small) - to_small * np.sqrt(1.0 - to_small**2))
    area += large**2 * (np.arccos(to_large) - to_large * np.sqrt(1.0 - to_large**2))
    return np.where(apart <= large - small, np.pi * small**2, area)


def _multiply(picture: LinearImage, spot: LinearImage, left: int, top: int) -> None:
    """Multiply the part of `picture` under `spot`, whose corner is at (left, top)."""
    height, width = picture.shape
    rows = slice(max(top, 0), min(top + spot.shape[0], height))
    columns = slice(max(left, 0), min(left + spot.shape[1], width))
    picture[rows, columns] *= spot[
        rows.start - top : max(rows.stop - top, 0),
        columns.start - left : max(columns.stop - left, 0),
    ]


def _floats(image: NDArray[Any]) -> LinearImage:
    return image.astype(np.float32, copy=False)
