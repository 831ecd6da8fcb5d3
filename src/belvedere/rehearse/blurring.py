"""Everything that blurs one frame, put to work strip by strip, and summed up in a few numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.rehearse.blur import Blur, disc_kernel, streak_kernel
from belvedere.rehearse.camera_model import KernelSummary
from belvedere.rehearse.lens_blur import DepthLayers, out_of_focus

LinearImage = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Blurring:
    """All that blurs one frame, in the order of its light.

    Attributes
    ----------
    gaussian_px
        Deviation of a Gaussian; 0 for none.
    kernels
        What all of the picture shares beside it: odd, square.
    layers
        Blur that goes with the depth of the scene.
    """

    gaussian_px: float
    kernels: tuple[LinearImage, ...] = ()
    layers: DepthLayers | None = None

    @property
    def reach_px(self) -> int:
        """How many pixels beyond the picture's edge its blur reaches."""
        reach = int(np.ceil(4.0 * self.gaussian_px)) + 1
        reach += sum(int(kernel.shape[0]) // 2 for kernel in self.kernels)
        return reach + (self.layers.reach_px if self.layers else 0)


def fault_kernels(faults: Blur) -> tuple[LinearImage, ...]:
    """The kernels of blur that is given in pixels."""
    found = []
    if faults.defocus_px > 0.0:
        found.append(disc_kernel(faults.defocus_px))
    if faults.motion_px > 0.0:
        found.append(streak_kernel(faults.motion_px, faults.motion_direction_deg))
    return tuple(found)


def blurred_rows(light: LinearImage, blurring: Blurring, top: int, rows: int) -> LinearImage:
    """`rows` rows of the picture from `top` on, blurred.

    `light` is (height + 2 reach, width + 2 reach, 3), reach that of `blurring`.
    """
    reach = blurring.reach_px
    height, width = light.shape[0] - 2 * reach, light.shape[1] - 2 * reach
    strip = light[top : top + rows + 2 * reach]
    if blurring.gaussian_px > 0.0:
        strip = _floats(cv2.GaussianBlur(strip, (0, 0), blurring.gaussian_px))
    for kernel in blurring.kernels:
        # filter2D correlates; turned about, the kernel puts light where the motion takes it.
        strip = _floats(cv2.filter2D(strip, -1, np.ascontiguousarray(kernel[::-1, ::-1])))
    if blurring.layers is not None:
        return out_of_focus(strip, reach, blurring.layers, top, height, width)
    return strip[reach : reach + rows, reach : reach + width]


def kernel_summary(blurring: Blurring) -> KernelSummary:
    """The second moments of what all of the picture shares; those of kernels in a row add."""
    total = np.eye(2) * blurring.gaussian_px**2
    for kernel in blurring.kernels:
        total += _second_moments(kernel)
    variances, axes = np.linalg.eigh(total)
    direction = float(np.degrees(np.arctan2(axes[1, 1], axes[0, 1]))) % 180.0
    across, along = np.sqrt(np.maximum(variances, 0.0))
    return KernelSummary(float(along), float(across), direction)


def _second_moments(kernel: LinearImage) -> NDArray[np.float64]:
    """Covariance (2, 2) of x and y under a kernel."""
    half = kernel.shape[0] // 2
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float64)
    weight = kernel.astype(np.float64) / float(kernel.sum(dtype=np.float64))
    x, y = x - float((weight * x).sum()), y - float((weight * y).sum())
    xx, yy, xy = (float((weight * product).sum()) for product in (x * x, y * y, x * y))
    return np.array([[xx, xy], [xy, yy]])


def _floats(image: NDArray[Any]) -> LinearImage:
    return image.astype(np.float32, copy=False)
