"""Where every frame points, the lens they share, and the light they were taken in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pointing:
    """A prior for one frame: where the head was told to look, and how far to trust it."""

    file: str
    camera_from_world: FloatArray
    sigma_deg: float


@dataclass(frozen=True, slots=True)
class OrientedFrame:
    """One frame in its true place and light.

    `camera_from_world` (3, 3). `gain` (3,) multiplies the frame's linear RGB to agree with the
    others. `row` and `column` are 0 in a shoot without a grid.
    """

    file: str
    camera_from_world: FloatArray
    gain: FloatArray
    row: int = 0
    column: int = 0


@dataclass(frozen=True, slots=True)
class Orientation:
    """The orientation and balance of a whole shoot."""

    lens: LensModel
    frames: tuple[OrientedFrame, ...]
    residual_px_rms: float
    tie_points: int
