"""Tie points of one overlapping pair, good to a small part of a pixel.

Coarse: the predicted overlap of the two pictures at small size, brought into one geometry, and
their shift by phase correlation. Fine: corners (J. Shi and C. Tomasi, "Good features to track",
CVPR 1994) spread evenly over the overlap at full size; a patch around each is cut from both
frames, the second's resampled into the first's geometry so that neither turn nor perspective is
left, and aligned by Lucas–Kanade (B. D. Lucas and T. Kanade, 1981), forwards and back.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.measure import phase_shift

FloatArray = NDArray[np.float64]
Grey = NDArray[np.uint8]
#: Pixels of the first frame (n, 2) to those of the second (n, 2); nan where it does not see them.
PixelMap = Callable[[FloatArray], FloatArray]

_PATCH_PX = 128
_WINDOW_PX = 25
_LEVELS = 2
_BACK_PX = 0.3
_LEAST_LIKENESS = 0.8
_LEAST_CONTRAST = 1.2  # grey levels; less is noise
_FARTHEST_PX = 40.0
#: Least eigenvalue of a corner, in OpenCV's unit for 8 bits and a block of 7: gradients whose
#: squares sum to about 80. With noise of 1.5 grey levels such a corner is good to 0.25 px; less
#: (a cloud's edge) is led astray by the falloff of the light.
_LEAST_CORNER = 1e-4


@dataclass(frozen=True, slots=True)
class PairMatch:
    """Ties of one pair, (n, 2) full-size pixels each, and the evidence of the coarse step."""

    first_px: FloatArray
    second_px: FloatArray
    response: float = 1.0


def nothing_matched(response: float = 0.0) -> PairMatch:
    """A pair without ties."""
    return PairMatch(np.empty((0, 2)), np.empty((0, 2)), response)


def coarse_shift(
    first: Grey, second: Grey, predicted: PixelMap, size_px: tuple[int, int]
) -> tuple[FloatArray, float]:
    """How far the scene lies from where it is predicted: (2,) full-size px and the response.

    Parameters
    ----------
    first, second
        Small grey pictures of the frames, any size.
    predicted
        Maps full-size pixels of the first to the second.
    size_px
        Width and height of the full-size frames.

    Returns
    -------
    The second frame shows at ``predicted(p + shift)`` what the first shows at ``p``.
    """
    scale = np.array([size_px[0] / first.shape[1], size_px[1] / first.shape[0]])
    shift = np.zeros(2)
    response = 0.0
    for _ in range(2):  # the second pass sees the whole of the overlap
        moved = shift

        def shifted(points: FloatArray, by: FloatArray = moved) -> FloatArray:
            return predicted(points + by)

        box = overlap_box(shifted, size_px)
        if box is None:
            return shift, 0.0
        crop, warped = _same_geometry(first, second, shifted, box, scale)
        if min(crop.shape) < 16 or min(crop.std(), warped.std()) < 0.5:
            return shift, 0.0
        found = phase_shift(crop, warped)
        shift = shift + np.array([found.dx_px, found.dy_px]) * scale
        response = found.response
    return shift, response


def overlap_box(
    second_from_first: PixelMap, size_px: tuple[int, int]
) -> tuple[float, float, float, float] | None:
    """Left, top, right, bottom in the first frame of what the second sees too, full-size px."""
    width, height = size_px
    x = np.linspace(0, width - 1, 33)
    y = np.linspace(0, height - 1, 33)
    lattice = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    seen = second_from_first(lattice)
    inside = within(seen, size_px)
    if not inside.any():
        return None
    left, top = lattice[inside].min(axis=0)
    right, bottom = lattice[inside].max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def within(
    pixels: FloatArray, size_px: tuple[int, int], margin_px: float = 0.0
) -> NDArray[np.bool_]:
    """Which pixels (n, 2) lie in a frame, at least `margin_px` from its edge; nan does not."""
    width, height = size_px
    with np.errstate(invalid="ignore"):
        inside = (
            (pixels[:, 0] >= margin_px)
            & (pixels[:, 1] >= margin_px)
            & (pixels[:, 0] <= width - 1 - margin_px)
            & (pixels[:, 1] <= height - 1 - margin_px)
        )
    return np.asarray(inside, np.bool_)


def fine_ties(first: Grey, second: Grey, second_from_first: PixelMap, count: int = 40) -> PairMatch:
    """Ties near where `second_from_first` says, spread evenly over the overlap.

    Parameters
    ----------
    first, second
        Full-size grey pictures.
    second_from_first
        Good to about 20 px.
    count
        How many parts the overlap is divided into; the best corner of each is tried.
    """
    size = (first.shape[1], first.shape[0])
    box = overlap_box(second_from_first, size)
    if box is None:
        return nothing_matched()
    corners = _spread_corners(first, box, count)
    seen = second_from_first(corners)
    keep = within(seen, (second.shape[1], second.shape[0]), _WINDOW_PX)
    corners, seen = corners[keep], seen[keep]
    if len(corners) == 0:
        return nothing_matched()
    return align_patches(first, second, corners, seen, _slopes(second_from_first, corners))


def align_patches(
    first: Grey, second: Grey, corners: FloatArray, seen: FloatArray, slopes: FloatArray
) -> PairMatch:
    """Align the patches around `corners` (n, 2) with those around `seen` (n, 2).

    `slopes` (n, 2, 2) are the derivatives of the second frame's pixels by the first's.
    """
    identity = np.broadcast_to(np.eye(2), slopes.shape)
    sheet_first, contrast_first = _sheet(first, corners, identity)
    sheet_second, contrast_second = _sheet(second, seen, slopes)
    middle = (_PATCH_PX - 1) / 2.0
    centres = np.column_stack(
        [np.full(len(corners), middle), middle + _PATCH_PX * np.arange(len(corners))]
    ).astype(np.float32)
    there, ok_there = _track(sheet_first, sheet_second, centres, centres)
    back, ok_back = _track(sheet_second, sheet_first, there, centres)
    flow = (there - centres).astype(np.float64)
    found = seen + np.einsum("nij,nj->ni", slopes, flow)
    good = (
        ok_there
        & ok_back
        & (np.linalg.norm(back - centres, axis=1) < _BACK_PX)
        & (np.linalg.norm(flow, axis=1) < _FARTHEST_PX)
        & (np.minimum(contrast_first, contrast_second) > _LEAST_CONTRAST)
        & (_likeness(sheet_first, centres, sheet_second, there) > _LEAST_LIKENESS)
        & within(found, (second.shape[1], second.shape[0]))
    )
    return PairMatch(corners[good], found[good])


def _same_geometry(
    first: Grey,
    second: Grey,
    second_from_first: PixelMap,
    box: tuple[float, float, float, float],
    scale: FloatArray,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """The overlap cut from the small first picture, and the second resampled to lie on it."""
    left, top, right, bottom = box
    x0, y0 = int(left / scale[0]), int(top / scale[1])
    x1 = min(first.shape[1], int(np.ceil(right / scale[0])) + 1)
    y1 = min(first.shape[0], int(np.ceil(bottom / scale[1])) + 1)
    x, y = np.meshgrid(np.linspace(x0, x1 - 1, 9), np.linspace(y0, y1 - 1, 9))
    lattice = np.stack([x, y], axis=-1).reshape(-1, 2)
    target = (second_from_first((lattice + 0.5) * scale - 0.5) + 0.5) / scale - 0.5
    ok = np.isfinite(target).all(axis=1)
    crop = first[y0:y1, x0:x1].astype(np.float32)
    if ok.sum() < 4:
        return crop, np.zeros_like(crop)
    homography, _ = cv2.findHomography(lattice[ok] - [x0, y0], target[ok])
    warped = cv2.warpPerspective(
        second.astype(np.float32),
        homography,
        (crop.shape[1], crop.shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float32)
    return crop, warped


def _spread_corners(grey: Grey, box: tuple[float, float, float, float], count: int) -> FloatArray:
    """The best corner (n, 2) of each of about `count` equal parts of the box, away from its rim."""
    rim = _WINDOW_PX // 2 + 2
    x0, y0 = max(int(box[0]), rim), max(int(box[1]), rim)
    x1 = min(int(box[2]) + 1, grey.shape[1] - rim)
    y1 = min(int(box[3]) + 1, grey.shape[0] - rim)
    width, height = x1 - x0, y1 - y0
    if width < 8 or height < 8:
        return np.empty((0, 2))
    across = max(1, round((count * width / height) ** 0.5))
    down = max(1, round(count / across))
    strength = cv2.cornerMinEigenVal(
        np.ascontiguousarray(grey[y0 - rim : y1 + rim, x0 - rim : x1 + rim]), 7
    )[rim:-rim, rim:-rim]
    corners = []
    for top, bottom in _parts(height, down):
        for left, right in _parts(width, across):
            part = strength[top:bottom, left:right]
            y, x = divmod(int(part.argmax()), part.shape[1])
            if part[y, x] < _LEAST_CORNER:
                continue
            corners.append((x0 + left + x, y0 + top + y))
    return np.array(corners, np.float64).reshape(-1, 2)


def _parts(length: int, count: int) -> list[tuple[int, int]]:
    edges = np.linspace(0, length, min(count, length) + 1).astype(int).tolist()
    return list(pairwise(edges))


def _slopes(second_from_first: PixelMap, points: FloatArray) -> FloatArray:
    """Derivatives (n, 2, 2) of the map at `points`, from differences over a patch."""
    reach = _WINDOW_PX / 2.0
    columns = [
        (second_from_first(points + step) - second_from_first(points - step)) / (2.0 * reach)
        for step in (np.array([reach, 0.0]), np.array([0.0, reach]))
    ]
    slopes: FloatArray = np.stack(columns, axis=2)
    return np.where(np.isfinite(slopes), slopes, np.eye(2))


def _sheet(grey: Grey, centres: FloatArray, slopes: FloatArray) -> tuple[Grey, FloatArray]:
    """One patch per centre, below each other, each brought to the same mean and contrast.

    So a difference in exposure is gone before the alignment. Returns also the contrast each had
    around its middle, in grey levels.
    """
    offset = np.arange(_PATCH_PX, dtype=np.float32) - np.float32((_PATCH_PX - 1) / 2.0)
    x, y = _positions(centres, slopes, offset)
    patches = cv2.remap(grey, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE).reshape(
        -1, _PATCH_PX, _PATCH_PX
    )
    core = patches[:, 32:-32, 32:-32].astype(np.float32)
    mean, contrast = core.mean(axis=(1, 2)), core.std(axis=(1, 2))
    gain = 40.0 / np.maximum(contrast, 1.0)
    levelled = [
        np.clip(patch.astype(np.float32) * g + (128.5 - m * g), 0.0, 255.0).astype(np.uint8)
        for patch, m, g in zip(patches, mean, gain, strict=True)
    ]
    return np.concatenate(levelled), contrast.astype(np.float64)


def _positions(
    centres: FloatArray, slopes: FloatArray, offset: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Where the pixels of the patches lie, below each other: x and y, (n * size, size)."""
    across, down = offset[None, None, :], offset[None, :, None]
    turned = slopes.astype(np.float32)[:, :, :, None, None]
    middle = centres.astype(np.float32)[:, :, None, None]
    x, y = (
        turned[:, axis, 0] * across + turned[:, axis, 1] * down + middle[:, axis] for axis in (0, 1)
    )
    return x.reshape(-1, len(offset)), y.reshape(-1, len(offset))


def _track(
    start_sheet: Grey,
    end_sheet: Grey,
    points: NDArray[np.float32],
    guess: NDArray[np.float32],
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    found, status, _ = cv2.calcOpticalFlowPyrLK(
        start_sheet,
        end_sheet,
        points,
        guess.copy(),
        winSize=(_WINDOW_PX, _WINDOW_PX),
        maxLevel=_LEVELS,
        criteria=(cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 0.003),
        flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        minEigThreshold=1e-4,
    )
    return np.asarray(found, np.float32).reshape(-1, 2), status.ravel().astype(np.bool_)


def _likeness(
    sheet_first: Grey,
    centres: NDArray[np.float32],
    sheet_second: Grey,
    found: NDArray[np.float32],
) -> FloatArray:
    """Correlation coefficient of the windows around each pair of points."""
    offset = np.arange(_WINDOW_PX, dtype=np.float32) - (_WINDOW_PX - 1) / 2.0
    upright = np.broadcast_to(np.eye(2), (len(centres), 2, 2))
    windows = []
    for sheet, points in ((sheet_first, centres), (sheet_second, found)):
        x, y = _positions(points.astype(np.float64), upright, offset)
        window = cv2.remap(sheet, x, y, cv2.INTER_LINEAR)
        flat = window.reshape(len(points), -1).astype(np.float32)
        flat -= flat.mean(axis=1, keepdims=True)
        windows.append(flat / np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), 1e-9))
    likeness: FloatArray = (windows[0] * windows[1]).sum(axis=1).astype(np.float64)
    return likeness
