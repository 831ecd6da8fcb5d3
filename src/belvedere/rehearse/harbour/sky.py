"""Late-afternoon sky: a smooth gradient and soft clouds that are lit from the left."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .motion import CLOUD_DRIFT_DEG_PER_S
from .noise import F32, F64, Fractal, bands, build
from .paint import Window
from .sheets import Sheets

# Clouds live on a lattice whose heights are compressed towards the horizon, as a flat deck is.
_DECK = Fractal(seed=11, coarse_exp=-3, gain=0.64, finest_deg=0.03, stretch=1.6)
_FINE_PX_DEG = 0.02
_HIDDEN_DEG = -2.5  # below, land and water hide the sky


def paint_sky(
    window: Window, seed: int, sheets: Sheets, at_s: float, hidden: NDArray[np.bool_]
) -> F32:
    """sRGB-coded picture (h, w, 3) of sky alone, the clouds driven to the right by the wind.

    Rows that are ``hidden`` (h,) may be left without clouds.
    """
    bearing, elevation = window.bearings(), window.elevations()
    picture: F32 = sheets.empty((len(elevation), len(bearing), 3), np.float32)
    _gradient(picture, bearing, elevation)
    seen = np.flatnonzero((elevation > -0.6) & ~hidden)
    if seen.size:
        rows = slice(int(seen[0]), int(seen[-1]) + 1)
        drift = CLOUD_DRIFT_DEG_PER_S * at_s
        _clouds(picture[rows], bearing, elevation[rows], drift, seed, 1.0 / window.px_per_deg)
    return picture


def _gradient(picture: F32, bearing: F64, elevation: F64) -> None:
    stops = [-90.0, -1.0, 0.5, 3.0, 7.0, 13.0, 30.0, 90.0]
    channels = (
        ([0.90, 0.90, 0.905, 0.835, 0.715, 0.590, 0.42, 0.30], 0.10),
        ([0.86, 0.86, 0.865, 0.850, 0.795, 0.715, 0.58, 0.46], 0.035),
        ([0.78, 0.78, 0.790, 0.840, 0.855, 0.840, 0.77, 0.68], -0.10),
    )
    away = np.abs((bearing + 95.0 + 180.0) % 360.0 - 180.0)
    glow = np.exp(-((away / 75.0) ** 2)).astype(np.float32)
    low = np.exp(-np.maximum(elevation, 0.0) / 14.0).astype(np.float32)
    above = int(np.count_nonzero(elevation > _HIDDEN_DEG))
    base = [np.interp(elevation, stops, values).astype(np.float32) for values, _ in channels]
    for rows in bands(0, above):
        # Plane by plane, put together at the end: writing every third value is slow.
        planes = [
            _plane(base[c][rows], low[rows] * np.float32(warmth), glow)
            for c, (_, warmth) in enumerate(channels)
        ]
        cv2.merge(planes, picture[rows])
    picture[above:] = 0.0


def _plane(base: F32, warmth: F32, glow: F32) -> F32:
    plane: F32 = warmth[:, None] * glow
    plane += base[:, None]
    return plane


def deck_height(elevation_deg: F64) -> F64:
    """Lattice height of an elevation: about the logarithm of the distance along the deck."""
    return 26.0 * np.log1p(np.maximum(elevation_deg, -0.9) / 5.0)


def _clouds(
    picture: F32, bearing: F64, elevation: F64, drift_deg: float, seed: int, px_deg: float
) -> None:
    deck = bearing - drift_deg
    height = deck_height(elevation)
    step = max(px_deg, _FINE_PX_DEG)
    spec = Fractal(
        _DECK.seed + 97 * seed, _DECK.coarse_exp, _DECK.gain, _DECK.finest_deg, _DECK.stretch
    )
    sun_x, sun_y = -1.1, 0.9
    lattice = build(
        spec,
        np.array([deck[0] + sun_x, deck[-1]]),
        np.array([height[0] + sun_y, height[-1]]),
        step,
    )
    across = lattice.columns(deck), lattice.columns(deck + sun_x)
    away = np.abs((bearing - 30.0 + 180.0) % 360.0 - 180.0)
    clear = np.exp(-((away / 12.0) ** 2))[None, :]
    for rows in bands(0, len(elevation)):
        level = elevation[rows]
        density = lattice.sample_rows(height[rows], across[0])
        toward_sun = lattice.sample_rows(height[rows] + sun_y, across[1])
        hole = clear * np.clip((level - 5.5) / 3.0, 0, 1)[:, None]
        bank = np.exp(-(((level - 5.2) / 3.6) ** 2))[:, None]
        bias = (0.62 * bank + 0.02 - 2.6 * hole).astype(np.float32)
        _shade_clouds(picture[rows], density, toward_sun, bias)


def _shade_clouds(picture: F32, density: F32, toward_sun: F32, bias: F32) -> None:
    d = density * np.float32(0.62) + bias
    if float(d.max()) <= 0.02:
        return
    cover = _smooth(d, 0.02, 0.95) * np.float32(0.93)
    light = (density - toward_sun) * np.float32(0.42) + np.float32(0.62)
    body = np.float32(1.0) - _smooth(d, 0.35, 1.7) * np.float32(0.35)
    tone = np.clip(light, 0.0, 1.0, out=light) * body
    sun = np.array([0.985, 0.935, 0.855], np.float32)
    dim = np.array([0.645, 0.675, 0.735], np.float32)
    for c in range(3):
        cloud = dim[c] + (sun[c] - dim[c]) * tone
        picture[..., c] += (cloud - picture[..., c]) * cover


def _smooth(x: F32, low: float, high: float) -> F32:
    t = np.clip((x - np.float32(low)) / np.float32(high - low), 0.0, 1.0)
    step: F32 = t * t * (np.float32(3.0) - np.float32(2.0) * t)
    return step
