"""What makes a picture less than sharp: the lens, defocus, and motion during the exposure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

LinearImage = NDArray[np.float32]


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


def blur_margin_px(blur: Blur, lens_blur_px: float) -> int:
    """How many pixels beyond the picture's edge its blur reaches."""
    reach = 3.0 * lens_blur_px + 2.0 * blur.defocus_px + blur.motion_px / 2.0
    return int(np.ceil(reach)) + 1


def blurred(light: LinearImage, blur: Blur, lens_blur_px: float, margin: int) -> LinearImage:
    """`light` blurred, with `margin` pixels cut off on each side."""
    if lens_blur_px > 0.0:
        light = _floats(cv2.GaussianBlur(light, (0, 0), lens_blur_px))
    if blur.defocus_px > 0.0:
        light = _floats(cv2.filter2D(light, -1, disc_kernel(blur.defocus_px)))
    if blur.motion_px > 0.0:
        kernel = streak_kernel(blur.motion_px, blur.motion_direction_deg)
        light = _floats(cv2.filter2D(light, -1, kernel))
    return np.ascontiguousarray(light[margin:-margin, margin:-margin])


def disc_kernel(sigma_px: float) -> LinearImage:
    """A uniform disc with standard deviation `sigma_px` along each axis, sum 1, odd size.

    A uniform disc of radius R has the variance R²/4 along each axis.
    """
    radius, fine = 2.0 * sigma_px, 8
    half = int(np.ceil(radius))
    at = (np.arange((2 * half + 1) * fine) + 0.5) / fine - half - 0.5
    inside = (at[None, :] ** 2 + at[:, None] ** 2 <= radius**2).astype(np.float32)
    size = 2 * half + 1
    kernel = inside.reshape(size, fine, size, fine).mean(axis=(1, 3))
    normal: LinearImage = (kernel / kernel.sum()).astype(np.float32)
    return normal


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


def _floats(image: NDArray[Any]) -> LinearImage:
    return image.astype(np.float32, copy=False)
