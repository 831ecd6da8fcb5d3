"""How sharp a single frame is by itself: the blur of its sharpest edges.

Without a neighbour to compare with this is all there is. It says something only where the scene
has hard edges, so it serves for frames that stand alone and for a shoot that is soft as a whole.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.measure.source import Pixels

FloatArray = NDArray[np.float64]
FloatImage = NDArray[np.float32]

#: Standard deviations of the two blurs that edges are seen through, px.
_FINE_PX, _COARSE_PX = 0.7, 2.0
#: A central difference acts like a box of two pixels: variance 4 / 12.
_DIFFERENCE_PX2 = 1.0 / 3.0
#: Only edges this steep through the coarse blur (grey levels per px): noise has none.
_LEAST_SLOPE = 4.0
_LEAST_EDGES = 200
_MOST_EDGES = 20_000
_MIDDLE_PX = 2000
#: The sharpest tenth of the edges stands for the frame: the others are soft by nature.
_SHARPEST = 10.0


def edge_blur_px(grey: Pixels) -> float | None:
    """Blur (standard deviation, px) of the sharpest tenth of a frame's clear edges.

    S. Zhuo, T. Sim, "Defocus map estimation from a single image", Pattern Recognition 44(9),
    2011: an edge's slope through two known blurs tells the blur it had before. None where the
    frame (height, width), uint8, has fewer than 200 clear edge points.
    """
    image = _middle(grey).astype(np.float32)
    fine_x, fine_y = _slopes(image, _FINE_PX)
    coarse_x, coarse_y = _slopes(image, _COARSE_PX)
    slope = np.hypot(fine_x, fine_y)
    coarse = np.hypot(coarse_x, coarse_y)
    row, column = np.nonzero(_ridges(coarse, coarse_x, coarse_y) & (coarse > _LEAST_SLOPE))
    if len(row) < _LEAST_EDGES:
        return None
    if len(row) > _MOST_EDGES:
        steepest = np.argsort(-coarse[row, column], kind="stable")[:_MOST_EDGES]
        row, column = row[steepest], column[steepest]
    ratio2 = np.square(slope[row, column] / coarse[row, column]).astype(np.float64)
    fine2, coarse2 = _FINE_PX**2 + _DIFFERENCE_PX2, _COARSE_PX**2 + _DIFFERENCE_PX2
    clear = ratio2 > 1.0 + 1e-3
    if clear.sum() < _LEAST_EDGES // 2:
        return float(_COARSE_PX * 10.0)
    blur2 = (coarse2 - ratio2[clear] * fine2) / (ratio2[clear] - 1.0)
    return float(np.sqrt(max(0.0, float(np.percentile(blur2, _SHARPEST)))))


def _middle(grey: Pixels) -> Pixels:
    """The middle of a large frame: enough edges, and where a lens is sharpest."""
    height, width = grey.shape
    top, left = max(0, (height - _MIDDLE_PX) // 2), max(0, (width - _MIDDLE_PX) // 2)
    return grey[top : top + _MIDDLE_PX, left : left + _MIDDLE_PX]


def _slopes(image: FloatImage, blur_px: float) -> tuple[FloatImage, FloatImage]:
    blurred = cv2.GaussianBlur(image, (0, 0), blur_px)
    across = cv2.Sobel(blurred, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)
    down = cv2.Sobel(blurred, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    return across.astype(np.float32, copy=False), down.astype(np.float32, copy=False)


def _ridges(slope: FloatImage, across: FloatImage, down: FloatImage) -> NDArray[np.bool_]:
    """Where the slope is greatest along its own direction (one of two axes)."""
    left, right = np.roll(slope, 1, axis=1), np.roll(slope, -1, axis=1)
    above, below = np.roll(slope, 1, axis=0), np.roll(slope, -1, axis=0)
    level = np.abs(across) >= np.abs(down)
    ridge: NDArray[np.bool_] = np.where(
        level, (slope > left) & (slope >= right), (slope > above) & (slope >= below)
    )
    edge = 8
    ridge[:edge] = ridge[-edge:] = False
    ridge[:, :edge] = ridge[:, -edge:] = False
    return ridge
