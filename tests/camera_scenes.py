"""Scenes that are drawn exactly on any lattice, to look at through the simulated camera."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from belvedere.optics import LensModel
from belvedere.rehearse import CameraTraits

#: A camera without anything that spoils a measurement: no noise worth the name, no falloff.
CLEAN = CameraTraits(
    corner_falloff_ev=0.0,
    full_well_e=1e9,
    read_noise_e=0.0,
    lens_blur_px=0.0,
    dark_current_e_s=0.0,
    hot_pixels_per_mp=0.0,
    bits=16,
)
#: Narrow: the sky is flat on it, and the cos⁴ law takes less than a part in a hundred.
NARROW = LensModel.ideal(320, 240, 3000.0)
#: Many rows across an edge, to average over.
TALL = LensModel.ideal(160, 960, 12_000.0)


class Painted:
    """Light and distance as functions of bearing and elevation, both degrees."""

    def __init__(
        self,
        light: Callable[[np.ndarray, np.ndarray, float, float], np.ndarray],
        distance_m: Callable[[np.ndarray, np.ndarray], np.ndarray] | float = np.inf,
    ) -> None:
        self._light, self._distance_m = light, distance_m

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> np.ndarray:
        bearing = left_deg + (np.arange(width_px) + 0.5) / px_per_deg
        elevation = top_deg - (np.arange(height_px) + 0.5) / px_per_deg
        light = self._light(bearing[None, :], elevation[:, None], px_per_deg, at_s)
        light = np.broadcast_to(
            light, (height_px, width_px, 3) if light.ndim == 3 else (height_px, width_px)
        )
        light = light if light.ndim == 3 else np.repeat(light[:, :, None], 3, axis=2)
        return np.ascontiguousarray(light, dtype=np.float32)

    def distance_m(
        self, bearing_deg: np.ndarray, elevation_deg: np.ndarray, *, at_s: float = 0.0
    ) -> np.ndarray:
        bearing, elevation = np.broadcast_arrays(bearing_deg, elevation_deg)
        if callable(self._distance_m):
            return np.asarray(self._distance_m(bearing, elevation), dtype=np.float64)
        return np.full(bearing.shape, self._distance_m)


def flat(*rgb: float) -> Painted:
    """The same light from everywhere."""
    colour = np.array(rgb if len(rgb) == 3 else rgb * 3)
    return Painted(lambda bearing, elevation, scale, at_s: np.ones((1, 1, 3)) * colour)


def edge(
    distance_m: float = np.inf, low: float = 0.1, high: float = 0.5, slope: float = 0.1
) -> Painted:
    """A slanted edge through the middle, dark on the left; area-sampled across itself."""

    def light(
        bearing: np.ndarray, elevation: np.ndarray, px_per_deg: float, at_s: float
    ) -> np.ndarray:
        across = (bearing - slope * elevation) / np.hypot(1.0, slope) * px_per_deg
        return low + (high - low) * np.clip(across + 0.5, 0.0, 1.0)

    return Painted(light, distance_m)


def dots(
    places_deg: np.ndarray,
    sigma_deg: float,
    distance_m: Callable[[np.ndarray, np.ndarray], np.ndarray] | float = np.inf,
    moving_deg_s: float = 0.0,
) -> Painted:
    """Gaussian dots, which may all move along the bearing."""

    def light(
        bearing: np.ndarray, elevation: np.ndarray, px_per_deg: float, at_s: float
    ) -> np.ndarray:
        total = np.zeros(np.broadcast_shapes(bearing.shape, elevation.shape))
        for at_bearing, at_elevation in places_deg:
            away = (bearing - at_bearing - moving_deg_s * at_s + 180.0) % 360.0 - 180.0
            across = np.exp(-0.5 * (away * np.cos(np.radians(at_elevation)) / sigma_deg) ** 2)
            total = total + across * np.exp(-0.5 * ((elevation - at_elevation) / sigma_deg) ** 2)
        return np.clip(total, 0.0, 1.0)

    return Painted(light, distance_m)


def moments(light: np.ndarray, at: np.ndarray, reach: int) -> tuple[np.ndarray, np.ndarray]:
    """Centroid (2,) and covariance (2, 2) of the light within `reach` px of `at` (x, y)."""
    x0, y0 = (round(float(value)) for value in at)
    window = light[y0 - reach : y0 + reach + 1, x0 - reach : x0 + reach + 1].astype(np.float64)
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].astype(np.float64)
    total = window.sum()
    mean_x, mean_y = (window * x).sum() / total, (window * y).sum() / total
    x, y = x - mean_x, y - mean_y
    xx, yy, xy = ((window * product).sum() / total for product in (x * x, y * y, x * y))
    return np.array([x0 + mean_x, y0 + mean_y]), np.array([[xx, xy], [xy, yy]])
