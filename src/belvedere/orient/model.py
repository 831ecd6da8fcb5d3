"""Where every frame points, the lens they share, and the light they were taken in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from belvedere.check import Finding
from belvedere.optics import LensModel

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pointing:
    """A prior for one frame: where the head was told to look, and how far to trust it.

    `row` and `column` are handed on to the oriented frame.
    """

    file: str
    camera_from_world: FloatArray
    sigma_deg: float
    row: int = 0
    column: int = 0


@dataclass(frozen=True, slots=True)
class OrientedFrame:
    """One frame in its true place and light.

    `camera_from_world` (3, 3) is its rotation. `gain` (3,) multiplies the frame's linear RGB to
    agree with the others. `row` and `column` are 0 in a shoot without a grid. `bend` (3, 3),
    symmetric and near the identity, is what the camera's travel did to a scene that is nearly
    flat; the identity for a camera that only turned.
    """

    file: str
    camera_from_world: FloatArray
    gain: FloatArray
    row: int = 0
    column: int = 0
    bend: FloatArray = field(default_factory=lambda: np.eye(3))

    @property
    def rays_from_world(self) -> FloatArray:
        """(3, 3): takes world directions to rays for the lens, of any length; no mere rotation."""
        rays: FloatArray = self.bend @ self.camera_from_world
        return rays


@dataclass(frozen=True, slots=True)
class PairResidual:
    """How well two frames fit: over the robust inliers among their tie points, full-size px."""

    file_a: str
    file_b: str
    tie_points: int
    inliers: int
    residual_px_rms: float


@dataclass(frozen=True, slots=True)
class Orientation:
    """The orientation and balance of a whole shoot.

    `residual_px_rms` is over the robust inliers among the tie points, in full-size pixels of one
    frame. `falloff` are the coefficients of the light falloff that all frames share, see
    `light_falloff`. `held` names the lens parameters that the ties could not carry and that were
    left at what was known before. `findings` say what a person should know ("parallax",
    "unconnected", "pointing").
    """

    lens: LensModel
    frames: tuple[OrientedFrame, ...]
    residual_px_rms: float
    tie_points: int
    falloff: tuple[float, ...] = ()
    held: tuple[str, ...] = ()
    pairs: tuple[PairResidual, ...] = ()
    findings: tuple[Finding, ...] = ()


def light_falloff(lens: LensModel, falloff: tuple[float, ...], pixels: FloatArray) -> FloatArray:
    """What is left of the light at `pixels` (..., 2), 1 in the middle; divide linear RGB by it.

    1 + Σ falloff[n] · r^(2n + 2), r from the principal point in half diagonals, so r = 1 in the
    corners of a centred lens.

    Parameters
    ----------
    lens
        The full-size lens, or a `scaled` one for a smaller picture.
    falloff
        Coefficients; empty for a lens without falloff.
    """
    half_diagonal = 0.5 * float(np.hypot(lens.width_px, lens.height_px))
    centre = np.array([lens.centre_x_px, lens.centre_y_px])
    r2 = (((pixels - centre) / half_diagonal) ** 2).sum(axis=-1)
    fall = np.zeros_like(r2)
    for coefficient in reversed(falloff):
        fall = (fall + coefficient) * r2
    left: FloatArray = 1.0 + fall
    return left
