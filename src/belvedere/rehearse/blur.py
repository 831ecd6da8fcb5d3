"""What makes a picture less than sharp: the lens, defocus, and motion during the exposure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LinearImage = NDArray[np.float32]

#: Samples per pixel and axis of a disc; deviation from which on pixels hardly count.
_FINE, _LARGE_PX = 8, 4.0
_HALVINGS = 16


@dataclass(frozen=True, slots=True)
class Blur:
    """Faults of sharpness of one frame.

    Attributes
    ----------
    defocus_px
        Standard deviation, along any one axis, of the blur disc of a lens out of focus; the
        disc's radius is twice that.
    motion_px
        Length of the streak that a point leaves.
    motion_direction_deg
        Direction of the streak: 0 along the rows, 90 along the columns.
    """

    defocus_px: float = 0.0
    motion_px: float = 0.0
    motion_direction_deg: float = 0.0


def disc_kernel(sigma_px: float) -> LinearImage:
    """A uniform disc with standard deviation `sigma_px` along each axis, sum 1, odd size.

    A uniform disc of radius R has the variance R²/4 along each axis. Pixels gather over their
    area, which adds to it (1/12 px² for a large disc): the disc is drawn as much smaller as keeps
    the variance.
    """
    if sigma_px <= 0.0:
        return np.ones((1, 1), dtype=np.float32)
    low, high = 0.0, 2.0 * sigma_px + 1.0
    for _ in range(_HALVINGS if sigma_px < _LARGE_PX else 0):
        radius = 0.5 * (low + high)
        if _variance(_disc(radius)) < sigma_px**2:
            low = radius
        else:
            high = radius
    if sigma_px >= _LARGE_PX:
        high = float(np.sqrt(4.0 * sigma_px**2 - 1.0 / 3.0))
    kernel: LinearImage = _disc(high).astype(np.float32)
    return kernel


def _disc(radius_px: float) -> NDArray[np.float64]:
    """A disc gathered over pixels, sum 1."""
    half = max(0, int(np.ceil(radius_px - 0.5)))
    size = 2 * half + 1
    at = (np.arange(size * _FINE) + 0.5) / _FINE - half - 0.5
    edge = (radius_px - np.hypot(at[None, :], at[:, None])) * _FINE + 0.5
    kernel = np.clip(edge, 0.0, 1.0).reshape(size, _FINE, size, _FINE).mean(axis=(1, 3))
    return np.asarray(kernel / kernel.sum())


def _variance(kernel: NDArray[np.float64]) -> float:
    at = np.arange(kernel.shape[0]) - kernel.shape[0] // 2
    return float((kernel.sum(axis=0) * at * at).sum())


def streak_kernel(length_px: float, direction_deg: float) -> LinearImage:
    """A straight, evenly exposed streak, sum 1, odd size, shared out bilinearly."""
    half = int(np.ceil(length_px / 2.0)) + 1
    along = (np.arange(256) + 0.5) / 256.0 * length_px - length_px / 2.0
    x = half + along * np.cos(np.radians(direction_deg))
    y = half + along * np.sin(np.radians(direction_deg))
    kernel = np.zeros((2 * half + 1, 2 * half + 1))
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    right, low = x - left, y - top
    np.add.at(kernel, (top, left), (1 - right) * (1 - low))
    np.add.at(kernel, (top, left + 1), right * (1 - low))
    np.add.at(kernel, (top + 1, left), (1 - right) * low)
    np.add.at(kernel, (top + 1, left + 1), right * low)
    normal: LinearImage = (kernel / kernel.sum()).astype(np.float32)
    return normal
