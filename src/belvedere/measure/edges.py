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
IntArray = NDArray[np.intp]

#: Standard deviations of the two blurs that edges are seen through, px.
_FINE_PX, _COARSE_PX = 0.7, 2.0
#: A central difference acts like a box of two pixels: variance 4 / 12.
_DIFFERENCE_PX2 = 1.0 / 3.0
#: Only edges this steep through the coarse blur (grey levels per px): noise has none.
_LEAST_SLOPE = 4.0
_LEAST_EDGES = 200
_MOST_EDGES = 20_000
_MIDDLE_PX = 1400
#: Nothing is looked for so near to the rim, where blurs reach beyond it.
_RIM_PX = 8
#: The sharpest tenth of the edges stands for the frame: the others are soft by nature.
_SHARPEST = 10.0


def edge_blur_px(grey: Pixels) -> float | None:
    """Blur (standard deviation, px) of the sharpest tenth of a frame's clear edges.

    S. Zhuo, T. Sim, "Defocus map estimation from a single image", Pattern Recognition 44(9),
    2011: an edge's slope through two known blurs tells the blur it had before. None where the
    frame (height, width), uint8, has fewer than 200 clear edge points.
    """
    image = _middle(grey).astype(np.float32)
    coarse = _blurred(image, _COARSE_PX)
    row, column = _ridges(*_slopes(coarse))
    if len(row) < _LEAST_EDGES:
        return None
    if len(row) > _MOST_EDGES:
        steepest = np.argsort(-_steepness(coarse, row, column), kind="stable")[:_MOST_EDGES]
        row, column = row[steepest], column[steepest]
    fine = _blurred(image, _FINE_PX)
    ratio2 = np.square(_steepness(fine, row, column) / _steepness(coarse, row, column))
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


def _blurred(image: FloatImage, blur_px: float) -> FloatImage:
    return np.asarray(cv2.GaussianBlur(image, (0, 0), blur_px), dtype=np.float32)


def _slopes(blurred: FloatImage) -> tuple[FloatImage, FloatImage]:
    """Central differences across and down, grey levels per px."""
    across = cv2.Sobel(blurred, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)
    down = cv2.Sobel(blurred, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    return np.asarray(across, dtype=np.float32), np.asarray(down, dtype=np.float32)


def _steepness(blurred: FloatImage, row: IntArray, column: IntArray) -> FloatArray:
    """The same at some inner points (n,): the length of both differences."""
    across = blurred[row, column + 1] - blurred[row, column - 1]
    down = blurred[row + 1, column] - blurred[row - 1, column]
    steepness: FloatArray = np.hypot(across, down, dtype=np.float64) / 2.0
    return steepness


def _ridges(across: FloatImage, down: FloatImage) -> tuple[IntArray, IntArray]:
    """Rows and columns where a clear slope is greatest along its own direction (one of two axes).

    Steep points are few, so only they are compared with what lies beside them.
    """
    slope = np.asarray(cv2.magnitude(across, down), dtype=np.float32)
    steep = slope > _LEAST_SLOPE
    steep[:_RIM_PX] = steep[-_RIM_PX:] = False
    steep[:, :_RIM_PX] = steep[:, -_RIM_PX:] = False
    place = np.flatnonzero(steep)
    level = np.abs(across.ravel()[place]) >= np.abs(down.ravel()[place])
    step = np.where(level, 1, slope.shape[1])
    flat = slope.ravel()
    here = flat[place]
    row, column = np.divmod(
        place[(here > flat[place - step]) & (here >= flat[place + step])], slope.shape[1]
    )
    return row, column
