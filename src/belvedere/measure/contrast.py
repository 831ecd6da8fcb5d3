"""Where a small picture shows hard detail: houses, rocks and masts, not clouds, haze or waves."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]

#: Side of the squares that are said to have hard detail or not, px of the small picture.
HARD_SQUARE_PX = 8


def hard_detail(grey: Grey, least_levels: float) -> NDArray[np.bool_]:
    """Squares (rows, columns) whose local contrast is `least_levels` (of 255) or more.

    Local contrast is the standard deviation of what a Gaussian of 4 px takes away, within a
    square. What is left over at the right and lower edges is not looked at.
    """
    rows, columns = (size // HARD_SQUARE_PX for size in grey.shape)
    if not rows or not columns:
        return np.zeros((rows, columns), dtype=np.bool_)
    picture = grey[: rows * HARD_SQUARE_PX, : columns * HARD_SQUARE_PX].astype(np.float32)
    fine = cv2.subtract(
        cv2.GaussianBlur(picture, (0, 0), 0.8), cv2.GaussianBlur(picture, (0, 0), 4.0)
    )
    power = cv2.resize(np.square(fine), (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(power, dtype=np.float32) >= least_levels**2
