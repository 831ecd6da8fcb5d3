"""What makes a picture less than sharp: the lens, defocus, and motion during the exposure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LinearImage = NDArray[np.float32]

#: Samples per pixel and axis of a large disc; the deviation from which a disc is large.
_FINE, _LARGE_PX = 8, 4.0
_LEAST_PX = 0.01  # nothing shows of smaller ones
#: Cycles per pixel at which a small disc's contrast is made right.
_FREQUENCIES = np.linspace(0.0, 0.5, 13)


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

    A uniform disc of radius R has the variance R²/4 along each axis and the contrast
    ``2 J1(2π R f) / (2π R f)``. Small ones get the taps, none of them negative, that come nearest
    to this contrast; large ones are drawn, and gathered over pixels.
    """
    if sigma_px < _LEAST_PX:
        return np.ones((1, 1), dtype=np.float32)
    if sigma_px < _LARGE_PX:
        return _small_disc(2.0 * sigma_px)
    # Gathering over pixels adds 1/12 px² to the variance along each axis.
    return _drawn_disc(float(np.sqrt(4.0 * sigma_px**2 - 1.0 / 3.0)))


def _small_disc(radius_px: float) -> LinearImage:
    from scipy.optimize import nnls
    from scipy.special import j1

    half = int(np.ceil(radius_px))
    y, x = np.mgrid[-half : half + 1, -half : half + 1]
    # Taps that are mirror images of each other are one unknown.
    farther, nearer = np.maximum(abs(x), abs(y)), np.minimum(abs(x), abs(y))
    _, which = np.unique(farther * (half + 1) + nearer, return_inverse=True)
    which = which.reshape(x.shape)
    across, down = np.meshgrid(_FREQUENCIES, _FREQUENCIES)
    across, down = across[across >= down], down[across >= down]
    waves = np.cos(2.0 * np.pi * across[:, None, None] * x)
    waves *= np.cos(2.0 * np.pi * down[:, None, None] * y)
    matrix = np.stack([waves[:, which == i].sum(axis=1) for i in range(which.max() + 1)], axis=1)
    arguments = 2.0 * np.pi * radius_px * np.maximum(np.hypot(across, down), 1e-9)
    weight = np.where((across == 0.0) & (down == 0.0), 100.0, 1.0)  # the sum is to be 1
    taps, _ = nnls(matrix * weight[:, None], 2.0 * j1(arguments) / arguments * weight)
    kernel = taps[which]
    return np.asarray(kernel / kernel.sum(), dtype=np.float32)


def _drawn_disc(radius_px: float) -> LinearImage:
    half = max(0, int(np.ceil(radius_px - 0.5)))
    size = 2 * half + 1
    at = (np.arange(size * _FINE) + 0.5) / _FINE - half - 0.5
    edge = (radius_px - np.hypot(at[None, :], at[:, None])) * _FINE + 0.5
    kernel = np.clip(edge, 0.0, 1.0).reshape(size, _FINE, size, _FINE).mean(axis=(1, 3))
    return np.asarray(kernel / kernel.sum(), dtype=np.float32)


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
