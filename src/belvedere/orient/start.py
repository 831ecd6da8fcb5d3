"""Where to begin without a plan: focal length, first rotations, the horizon."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from belvedere.optics import LensModel
from belvedere.orient.moves import rotations_and_bends
from belvedere.orient.relative import refined_rotation
from belvedere.orient.ties import Ties
from belvedere.shoot import Settings

FloatArray = NDArray[np.float64]

#: Diagonal of the 36 × 24 mm frame, to which the EXIF tag 41989 refers (CIPA DCG-001).
_DIAGONAL_35MM_MM = 43.2666
_TRIED = 32
_TIES_PER_PAIR = 40
_UPRIGHT = 0.64  # 50°


def focal_from_exif(settings: Sequence[Settings], width_px: int, height_px: int) -> float | None:
    """Focal length in px that the frames state (35 mm equivalent), their median; None if none."""
    stated = [s.focal_length_35mm_mm for s in settings if s.focal_length_35mm_mm]
    if not stated:
        return None
    return float(np.median(stated)) / _DIAGONAL_35MM_MM * float(np.hypot(width_px, height_px))


def focal_from_ties(ties: Ties, width_px: int, height_px: int, stated_px: float | None) -> float:
    """The focal length under which pure rotations explain the pairs best.

    Focal lengths from 0.35 to 14 times the long side are tried; the stated one stands where
    none explains the ties clearly better.
    """
    long_side = max(width_px, height_px)
    tried = long_side * np.geomspace(0.35, 14.0, _TRIED)
    centre = np.array([(width_px - 1) / 2.0, (height_px - 1) / 2.0])
    costs = [_misfit(ties, centre, f) for f in tried]
    best = int(np.argmin(costs))
    if stated_px is not None and _misfit(ties, centre, stated_px) <= 1.5 * costs[best]:
        return stated_px
    return float(tried[best])


def _misfit(ties: Ties, centre: FloatArray, focal_px: float) -> float:
    """Quadratic mean over the pairs of their median error in px, after their best rotation."""
    starts = ties.pair_starts()
    errors = []
    for begin, end in zip(starts, [*starts[1:], len(ties)], strict=True):
        step = max(1, (end - begin) // _TIES_PER_PAIR)
        a = _ideal_rays((ties.first_px[begin:end:step] - centre) / focal_px)
        b = _ideal_rays((ties.second_px[begin:end:step] - centre) / focal_px)
        turned = a @ refined_rotation(a, b, rounds=3).T
        away = turned[:, :2] / turned[:, 2:] - b[:, :2] / b[:, 2:]
        errors.append(focal_px * float(np.median(np.linalg.norm(away, axis=1))))
    return float(np.sqrt(np.mean(np.square(errors)))) if errors else np.inf


def _ideal_rays(xy: FloatArray) -> FloatArray:
    rays = np.c_[xy, np.ones(len(xy))]
    unit: FloatArray = rays / np.linalg.norm(rays, axis=1, keepdims=True)
    return unit


def components(frames: int, ties: Ties) -> NDArray[np.intp]:
    """The number (frames,) of the connected part each frame belongs to."""
    ones = np.ones(len(ties))
    graph = coo_matrix((ones, (ties.first, ties.second)), shape=(frames, frames))
    _, labels = connected_components(graph, directed=False)
    return np.asarray(labels, np.intp)


def chained_rotations(frames: int, ties: Ties, lens: LensModel) -> tuple[FloatArray, int]:
    """First rotations `world_from_camera` (frames, 3, 3) along the best-tied pairs.

    The frame with the most ties begins, with the identity; frames that no chain reaches keep the
    identity too. Returns that frame's index as well.
    """
    starts = ties.pair_starts()
    ends = [*starts[1:], len(ties)]
    tied = np.bincount(np.concatenate([ties.first, ties.second]), minlength=frames)
    root = int(tied.argmax())
    world = np.broadcast_to(np.eye(3), (frames, 3, 3)).copy()
    reached = {root}
    by_strength = sorted(zip(starts, ends, strict=True), key=lambda run: run[0] - run[1])
    while True:
        for begin, end in by_strength:
            i, j = int(ties.first[begin]), int(ties.second[begin])
            if (i in reached) == (j in reached):
                continue
            a = lens.unproject(ties.first_px[begin:end])
            b = lens.unproject(ties.second_px[begin:end])
            second_from_first = refined_rotation(a, b)
            if i in reached:
                world[j] = world[i] @ second_from_first.T
                reached.add(j)
            else:
                world[i] = world[j] @ second_from_first
                reached.add(i)
            break
        else:
            return world, root


def straightened(world_from_camera: FloatArray) -> FloatArray:
    """Frames turned together so that the horizon is level and the middle at bearing 0.

    Photographers hold the camera level across, so the cameras' x axes lie in the horizon's
    plane (M. Brown and D. G. Lowe, IJCV 74(1), 2007, section 5). Where all x axes agree, as in
    a column of frames, the cameras' mean upright decides what they leave open.
    """
    rotations, _ = rotations_and_bends(world_from_camera)
    sideways = rotations[:, :, 0]
    upright = -rotations[:, :, 1]
    mean_up = _unit(upright.sum(axis=0))
    spread = sideways.T @ sideways / len(sideways)
    # the x axes decide once they fan out over more than a few degrees (0.03 rad squared)
    lean = 0.0008 * (np.eye(3) - np.outer(mean_up, mean_up))
    _, vectors = np.linalg.eigh(spread + lean)
    up = vectors[:, 0] * np.sign(vectors[:, 0] @ mean_up or 1.0)
    if up @ mean_up < _UPRIGHT:
        # frames rolled about their view, as from a camera that looks down: no horizon in them
        up = mean_up
    forward = rotations[:, :, 2].sum(axis=0)
    ahead = forward - up * (forward @ up)
    if np.linalg.norm(ahead) < 1e-6 * len(sideways):
        ahead = rotations[0, :, 2] - up * (rotations[0, :, 2] @ up)
    ahead = _unit(ahead)
    level = np.stack([np.cross(-up, ahead), -up, ahead])
    turned: FloatArray = level @ world_from_camera
    return turned


def _unit(vector: FloatArray) -> FloatArray:
    unit: FloatArray = vector / np.linalg.norm(vector)
    return unit
