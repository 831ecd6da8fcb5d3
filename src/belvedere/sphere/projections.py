"""Projections of the sphere onto a plane: forward and inverse, on a sphere of radius 1.

Names, formulas and the letters λ (here the bearing, growing to the right) and φ (the elevation)
follow J. P. Snyder, "Map Projections: A Working Manual", USGS Professional Paper 1395, 1987.
Plane x grows to the right, plane y upwards; both are in radii, so at the centre one unit is one
radian. A camera that looks out sees east to its right, so the bearing is x as it stands.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
PlaneMap = Callable[[ArrayLike, ArrayLike], tuple[FloatArray, FloatArray]]


@dataclass(frozen=True, slots=True)
class Projection:
    """A projection by name.

    `forward` takes bearing and elevation in degrees to plane x, y; `inverse` takes them back.
    Both broadcast. `highest_deg` is the elevation beyond which (up and down) the projection has
    no use: there a plane grows without bound or away from what is in the picture.
    """

    name: str
    forward: PlaneMap
    inverse: PlaneMap
    highest_deg: float


def equirectangular_forward(
    bearing_deg: ArrayLike, elevation_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Equirectangular: x = λ, y = φ (Snyder, p. 90, equator as standard parallel; PROJ: eqc)."""
    return _radians(bearing_deg, elevation_deg)


def equirectangular_inverse(x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """λ = x, φ = y, in degrees."""
    return _degrees(x, y)


def cylindrical_forward(
    bearing_deg: ArrayLike, elevation_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Central cylindrical: x = λ, y = tan φ (PROJ: cc).

    What a turning camera with a slit would draw: upright lines stay upright and straight. It has
    no poles and stretches what is high: by 1/cos² φ upwards, by 1/cos φ across.
    """
    bearing, elevation = _radians(bearing_deg, elevation_deg)
    return bearing, np.tan(elevation)


def cylindrical_inverse(x: ArrayLike, y: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """λ = x, φ = atan y, in degrees."""
    return _degrees(x, np.arctan(y))


def _radians(a: ArrayLike, b: ArrayLike) -> tuple[FloatArray, FloatArray]:
    return np.radians(np.asarray(a, np.float64)), np.radians(np.asarray(b, np.float64))


def _degrees(a: ArrayLike, b: ArrayLike) -> tuple[FloatArray, FloatArray]:
    return np.degrees(np.asarray(a, np.float64)), np.degrees(np.asarray(b, np.float64))


#: Every projection a mosaic can have. The central cylindrical one is held to 75°, where it
#: already stretches upwards fifteen-fold.
PROJECTIONS: dict[str, Projection] = {
    "equirectangular": Projection(
        "equirectangular", equirectangular_forward, equirectangular_inverse, 90.0
    ),
    "cylindrical": Projection("cylindrical", cylindrical_forward, cylindrical_inverse, 75.0),
}
