"""One lens and one sensor as a mapping between rays and pixels (Brown–Conrady, as OpenCV has it).

Camera axes: x right, y down, z forward. Pixel coordinates: the centre of the top left pixel is
(0, 0), so the centre of a picture is ((width - 1) / 2, (height - 1) / 2).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LensModel:
    """Focal length, principal point and distortion of upright frames of one size.

    Distortion: D. C. Brown, "Close-range camera calibration", Photogrammetric Engineering 37(8),
    1971; coefficients in the order and sense of OpenCV's ``projectPoints`` (k1, k2, p1, p2, k3).
    """

    width_px: int
    height_px: int
    focal_length_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0

    @classmethod
    def ideal(cls, width_px: int, height_px: int, focal_length_px: float) -> LensModel:
        """A lens without distortion, centred on its sensor."""
        return cls(
            width_px, height_px, focal_length_px, (width_px - 1) / 2.0, (height_px - 1) / 2.0
        )

    def distort(self, xy: FloatArray) -> FloatArray:
        """Ideal to distorted image coordinates, both in focal lengths; (..., 2) to (..., 2)."""
        x, y = xy[..., 0], xy[..., 1]
        r2 = x * x + y * y
        radial = 1.0 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        distorted: FloatArray = np.stack(
            [
                x * radial + 2.0 * self.p1 * x * y + self.p2 * (r2 + 2.0 * x * x),
                y * radial + self.p1 * (r2 + 2.0 * y * y) + 2.0 * self.p2 * x * y,
            ],
            axis=-1,
        )
        return distorted

    def undistort(self, xy: FloatArray, iterations: int = 20) -> FloatArray:
        """Inverse of `distort` by fixed-point iteration; exact to 1e-9 for photographic lenses."""
        ideal = np.array(xy, dtype=np.float64)
        for _ in range(iterations):
            ideal += xy - self.distort(ideal)
        return ideal

    def project(self, rays: FloatArray) -> FloatArray:
        """Rays in camera axes (..., 3) to pixels (..., 2); nan for rays behind the camera.

        Far outside the picture the distortion polynomial may fold back: callers keep to rays
        whose ideal position lies near the picture.
        """
        depth = np.where(rays[..., 2] > 1e-9, rays[..., 2], np.nan)
        xy = self.distort(rays[..., :2] / depth[..., None])
        pixels: FloatArray = self.focal_length_px * xy + np.array(
            [self.centre_x_px, self.centre_y_px]
        )
        return pixels

    def unproject(self, pixels: FloatArray) -> FloatArray:
        """Pixels (..., 2) to unit rays in camera axes (..., 3)."""
        centre = np.array([self.centre_x_px, self.centre_y_px])
        xy = self.undistort((pixels - centre) / self.focal_length_px)
        rays = np.concatenate([xy, np.ones_like(xy[..., :1])], axis=-1)
        unit: FloatArray = rays / np.linalg.norm(rays, axis=-1, keepdims=True)
        return unit

    def scaled(self, width_px: int, height_px: int) -> LensModel:
        """The same lens for pictures resampled to `width_px` × `height_px`.

        Pixel centres are kept: a picture halved by averaging 2 × 2 pixels is the case in mind.
        """
        scale_x = width_px / self.width_px
        scale_y = height_px / self.height_px
        return LensModel(
            width_px,
            height_px,
            self.focal_length_px * (scale_x * scale_y) ** 0.5,
            (self.centre_x_px + 0.5) * scale_x - 0.5,
            (self.centre_y_px + 0.5) * scale_y - 0.5,
            self.k1,
            self.k2,
            self.p1,
            self.p2,
            self.k3,
        )
