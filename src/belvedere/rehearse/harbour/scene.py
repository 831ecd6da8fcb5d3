"""Saltmere, put together: sky, hills, town, water, boats, mole."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import srgb_from_linear

from .depth import distances_m
from .hills import paint_hills, rows_behind_hills, skylines
from .items import Layer, draw
from .layout import after_water, before_water
from .noise import F32, F64, bands
from .paint import Canvas, Window, quantised
from .sheets import Sheets
from .sky import paint_sky
from .stencil import Stencils
from .texture import fields
from .water import Mirror, paint_water

_MARGIN_PX = 12
_AT_A_TIME = 65_536  # pixels that are finished together, in the processor's cache
_MIRROR = Window(-80.0, 15.0, 14.0, 2240, 250)


class HarbourScene:
    """The harbour town of Saltmere, seen from the mole on a late afternoon.

    Parameters
    ----------
    seed : int
        Which Saltmere: houses, people, waves and clouds differ, the places stay.
    crowd : int
        How many people more than usual are about, as on a market day; carts, boats and gulls
        come with them. What is there on other days stays as it is.
    """

    def __init__(self, seed: int, crowd: int = 0) -> None:
        if crowd < 0:
            raise ValueError(f"a crowd of {crowd} people cannot be; 0 is the usual day")
        self._seed = seed
        self._back = Layer.of(before_water(seed, crowd))
        self._front = Layer.of(after_water(seed, crowd))
        self._stencils = Stencils()
        self._sheets = Sheets()
        self._mirror: Mirror | None = None
        self._moment: tuple[float, Layer, Layer] | None = None

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> NDArray[np.float32]:
        """A window of the scene on an equirectangular lattice, ``at_s`` seconds after the start.

        Pixel (i, j) is centred on bearing ``left_deg + (j + 0.5) / px_per_deg`` and elevation
        ``top_deg - (i + 0.5) / px_per_deg``.

        Returns
        -------
        ndarray
            (height, width, 3) linear-light RGB 0..1, float32.
        """
        if not (px_per_deg > 0 and width_px > 0 and height_px > 0):
            raise ValueError(
                f"a patch of {width_px} × {height_px} px at {px_per_deg} px/deg has no pixels; "
                "ask for at least one"
            )
        turns = np.floor((left_deg + 180.0) / 360.0)
        window = Window(left_deg - 360.0 * turns, top_deg, px_per_deg, width_px, height_px)
        return self._render(window.grown(_MARGIN_PX), at_s, water=True)[
            _MARGIN_PX:-_MARGIN_PX, _MARGIN_PX:-_MARGIN_PX
        ]

    def distance_m(self, bearing_deg: F64, elevation_deg: F64, *, at_s: float = 0.0) -> F64:
        """Metres from the lens to what is painted in each direction; infinite for sky.

        Bearings and elevations broadcast against each other. Things are flat and upright, each at
        one distance; water and the ground at our feet are planes. The finer the directions lie,
        the finer are the edges.
        """
        bearing, elevation = np.broadcast_arrays(
            np.asarray(bearing_deg, np.float64), np.asarray(elevation_deg, np.float64)
        )
        if bearing.size == 0:
            return np.zeros(bearing.shape)
        return distances_m(
            bearing, elevation, *self._layers(at_s), self._stencils, self._seed, at_s
        )

    def _layers(self, at_s: float) -> tuple[Layer, Layer]:
        """What stands behind the water's edge, and before it, at a moment."""
        if self._moment is None or self._moment[0] != at_s:
            self._moment = (at_s, self._back.at(at_s), self._front.at(at_s))
        return self._moment[1:]

    def _render(self, window: Window, at_s: float, *, water: bool) -> F32:
        back, front = self._layers(at_s)
        sheets = self._sheets
        relief, grain = fields(window, self._seed, sheets)
        tops = skylines(window, self._seed)
        hidden = rows_behind_hills(window, tops)
        picture = paint_sky(window, self._seed, sheets, at_s, hidden)
        paint_hills(picture, window, relief, grain, tops)
        canvas = Canvas(window, picture, relief, grain, sheets, at_s)
        draw(canvas, back, self._stencils)
        if water:
            paint_water(canvas.pixels, window, self._reflections(), grain, self._seed, at_s)
            draw(canvas, front, self._stencils)
        return _developed(picture, canvas)

    def _reflections(self) -> Mirror:
        if self._mirror is None:
            land = self._render(_MIRROR, 0.0, water=False)
            self._mirror = Mirror(_MIRROR, srgb_from_linear(land))
        return self._mirror


def _developed(picture: F32, canvas: Canvas) -> F32:
    """The finished picture in linear light, in place: the shapes' surfaces get their relief.

    Where nothing was painted the smooth sky stays in full precision.
    """
    height, width = picture.shape[:2]
    for band in bands(0, height, max(8, _AT_A_TIME // width)):
        painted = canvas.pixels[band]
        shapes = cv2.cvtColor(painted, cv2.COLOR_RGBA2RGB)
        before = quantised(picture[band])
        added: F32 = cv2.subtract(shapes, before, dtype=cv2.CV_32F).astype(np.float32, copy=False)
        added *= np.float32(1 / 255)
        added += picture[band]
        part = _linear(added)
        strength = cv2.extractChannel(painted, 3)
        if strength.any():
            bump = np.float32(0.75) * canvas.relief[band]
            bump += np.float32(0.55) * canvas.grain[band]
            bump *= strength * np.float32(1 / 255)
            light_up = np.exp(bump, out=bump)
            part *= cv2.merge((light_up, light_up, light_up))
        _shoulder(part)
        np.clip(part, 0.0, 1.0, out=picture[band])
    return picture


def _shoulder(light: F32) -> None:
    """Roll highlights off instead of clipping them, in place."""
    if float(light.max()) <= 0.62:
        return
    over = light - np.float32(0.62)
    np.maximum(over, 0.0, out=over)
    light -= over
    steep = np.float32(2.7) * over
    steep += np.float32(1.0)
    over /= steep
    light += over


def _linear(coded: F32) -> F32:
    """SRGB to linear light by a cubic fit of the curve (worst error 0.002); ``coded`` is spent."""
    x = np.clip(coded, 0.0, 1.0, out=coded)
    out = x * np.float32(0.305306011)
    out += np.float32(0.682171111)
    out *= x
    out += np.float32(0.012522878)
    out *= x
    return out
