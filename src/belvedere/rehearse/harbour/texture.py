"""The two fields that give every surface its texture."""

from __future__ import annotations

import numpy as np

from .noise import F32, Fractal, build
from .paint import Window
from .sheets import Sheets

_RELIEF = Fractal(seed=21, coarse_exp=-2, gain=0.5)
_GRAIN = Fractal(seed=22, coarse_exp=-2, gain=0.9)


def fields(window: Window, seed: int, sheets: Sheets) -> tuple[F32, F32]:
    """The relief (surfaces lit from the left) and the grain of everything, about unit variance."""
    bearing, elevation = window.bearings(), window.elevations()
    px_deg = 1.0 / window.px_per_deg
    bumpy = build(_with_seed(_RELIEF, seed), bearing, elevation, px_deg)
    shape = window.height_px, window.width_px
    slope = bumpy.sample(bearing, elevation, slope=True, out=sheets.empty(shape, np.float32))
    slope *= np.float32(2.0**-_RELIEF.coarse_exp / bumpy.spacing_deg / 4.0)
    rough = build(_with_seed(_GRAIN, seed), bearing, elevation, px_deg)
    grain = rough.sample(bearing, elevation, out=sheets.empty(shape, np.float32))
    grain *= np.float32(0.42)
    return slope, grain


def _with_seed(spec: Fractal, seed: int) -> Fractal:
    return Fractal(spec.seed + 101 * seed, spec.coarse_exp, spec.gain)
