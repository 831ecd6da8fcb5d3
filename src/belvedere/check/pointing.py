"""Where the camera really pointed at each frame, from how far the pictures are moved.

Every frame's rotation is that of the plan and a turn of its own. Pairs of frames that show the same
part of the scene say how far their turns differ; from frame to frame in time the turn changes
little, except where something was knocked or slipped. Both are weighed with Cauchy's weight, which
lets a few be wrong altogether, and the weights are sharpened step by step so that the start does
not matter (graduated non-convexity: A. Blake and A. Zisserman, "Visual Reconstruction", 1987).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.linalg import splu
from scipy.spatial.transform import Rotation

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

#: Scales are this much wider at first, and shrink by so much each round.
_WIDEST, _SHRINKING = 32.0, 0.75
_ROUNDS = 60
_SETTLED_RAD = 1e-5
#: A turn of the whole is free; this loose prior (radians) only keeps it near the plan.
_LOOSE_RAD = 0.35
#: A sudden turn must be worth so many pairs of frames that agree on it.
_SUDDEN_PAIRS = 2.0


@dataclass(frozen=True, slots=True)
class Pairs:
    """Measured displacements between frames.

    `ends` (m, 2) are frame numbers; `shift_px` (m, 2) is where the content at the middle of both
    frames moved from the first to the second; `weight` (m,) is 1, less for what is doubtful.
    """

    ends: IntArray
    shift_px: FloatArray
    weight: FloatArray


@dataclass(frozen=True, slots=True)
class Pointing:
    """Rotations (n, 3, 3) from world to camera, and the turns (n, 3), radians, that they add.

    A turn is a rotation vector in world axes, 0 where the frame points as most frames do.
    `residual_px` (m,) is by how far each pair disagrees.
    """

    rotations: FloatArray
    turn_rad: FloatArray
    residual_px: FloatArray


def solve_pointing(
    planned: FloatArray, focal_px: float, pairs: Pairs, spread_px: float
) -> Pointing:
    """Rotations of all frames, given in the order taken.

    Parameters
    ----------
    planned
        (n, 3, 3) rotations by the plan.
    focal_px
        Focal length in pixels, the unit of the displacements.
    pairs
        What was measured.
    spread_px
        Standard deviation of a measured displacement, and of what a head adds to a single move.
    """
    turn = np.zeros((len(planned), 3))
    rotations = planned
    residual = np.zeros((len(pairs.ends), 2))
    for number in range(_ROUNDS):
        scale = max(1.0, _WIDEST * _SHRINKING**number)
        jacobians, residual = _linearised(rotations, focal_px, pairs)
        step = _step(turn, jacobians, residual, pairs, scale, spread_px, spread_px / focal_px)
        turn = turn + step
        rotations = planned @ Rotation.from_rotvec(turn).as_matrix()
        if scale == 1.0 and np.abs(step).max(initial=0.0) < _SETTLED_RAD:
            break
    usual = Rotation.from_rotvec(np.median(turn, axis=0))
    return Pointing(
        rotations @ usual.inv().as_matrix(),
        (Rotation.from_rotvec(turn) * usual.inv()).as_rotvec(),
        np.linalg.norm(residual, axis=1),
    )


def displacement_px(
    rotations: FloatArray, first: IntArray, second: IntArray, focal_px: float
) -> FloatArray:
    """Displacements (m, 2) of the content midway between two frames, nan behind a camera."""
    middle = _between(rotations, first, second)
    there = _image(rotations[second], middle, focal_px)
    moved: FloatArray = there - _image(rotations[first], middle, focal_px)
    return moved


def _between(rotations: FloatArray, first: IntArray, second: IntArray) -> FloatArray:
    """Directions (m, 3) in the middle between the axes of two frames."""
    middle = rotations[first, 2] + rotations[second, 2]
    direction: FloatArray = middle / np.linalg.norm(middle, axis=1, keepdims=True)
    return direction


def _image(rotations: FloatArray, directions: FloatArray, focal_px: float) -> FloatArray:
    rays = np.einsum("nij,nj->ni", rotations, directions)
    depth = np.where(rays[:, 2] > 0.1, rays[:, 2], np.nan)
    image: FloatArray = focal_px * rays[:, :2] / depth[:, None]
    return image


def _linearised(
    rotations: FloatArray, focal_px: float, pairs: Pairs
) -> tuple[tuple[FloatArray, FloatArray], FloatArray]:
    """Derivatives (m, 2, 3) of each displacement by either turn, and what is left of it (m, 2)."""
    first, second = pairs.ends.T
    middle = _between(rotations, first, second)
    there = _by_turn(rotations[second], middle, focal_px)
    here = _by_turn(rotations[first], middle, focal_px)
    residual = pairs.shift_px - displacement_px(rotations, first, second, focal_px)
    return (-here, there), np.nan_to_num(residual, nan=1e6)


def _by_turn(rotations: FloatArray, directions: FloatArray, focal_px: float) -> FloatArray:
    """How the image (px) of world directions moves as the camera's turn grows, (m, 2, 3)."""
    rays = np.einsum("nij,nj->ni", rotations, directions)
    depth = np.maximum(rays[:, 2], 0.1)
    projecting = np.zeros((len(rays), 2, 3))
    projecting[:, 0, 0] = projecting[:, 1, 1] = focal_px / depth
    projecting[:, :, 2] = -focal_px * rays[:, :2] / depth[:, None] ** 2
    # A small turn w moves a direction d by w x d, which is -[d]x w.
    derivative: FloatArray = -projecting @ rotations @ _crossing(directions)
    return derivative


def _crossing(vectors: FloatArray) -> FloatArray:
    """Matrices (m, 3, 3) that multiply as the cross product does."""
    x, y, z = vectors.T
    none = np.zeros_like(x)
    matrices: FloatArray = np.stack(
        [
            np.stack([none, -z, y], axis=1),
            np.stack([z, none, -x], axis=1),
            np.stack([-y, x, none], axis=1),
        ],
        axis=1,
    )
    return matrices


def _step(
    turn: FloatArray,
    jacobians: tuple[FloatArray, FloatArray],
    residual: FloatArray,
    pairs: Pairs,
    scale: float,
    spread_px: float,
    walk_rad: float,
) -> FloatArray:
    """One Gauss-Newton step (n, 3) of the reweighted least squares."""
    count = len(turn)
    weight = pairs.weight * _cauchy(residual, scale * spread_px) / spread_px**2
    change = np.diff(turn, axis=0)
    walk = _SUDDEN_PAIRS * _cauchy(change, scale * walk_rad) / walk_rad**2
    before, after = np.arange(count - 1), np.arange(1, count)

    right = -turn / _LOOSE_RAD**2
    blocks = [
        (np.arange(count), np.arange(count), np.tile(np.eye(3) / _LOOSE_RAD**2, (count, 1, 1)))
    ]
    ends = pairs.ends.T
    for i in (0, 1):
        np.add.at(right, ends[i], np.einsum("n,nki,nk->ni", weight, jacobians[i], residual))
        for j in (0, 1):
            product = np.einsum("n,nki,nkj->nij", weight, jacobians[i], jacobians[j])
            blocks.append((ends[i], ends[j], product))
    stiff = walk[:, None, None] * np.eye(3)
    blocks += [(before, before, stiff), (after, after, stiff)]
    blocks += [(before, after, -stiff), (after, before, -stiff)]
    right[after] -= walk[:, None] * change
    right[before] += walk[:, None] * change
    # Symmetric and positive: an order that heeds it leaves far fewer values to work with.
    factors = splu(
        _assembled(blocks, count).tocsc(),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    solved: FloatArray = factors.solve(right.ravel())
    return solved.reshape(count, 3)


def _cauchy(residual: FloatArray, scale: float) -> FloatArray:
    weight: FloatArray = 1.0 / (1.0 + np.square(residual / scale).sum(axis=1))
    return weight


def _assembled(blocks: list[tuple[IntArray, IntArray, FloatArray]], count: int) -> coo_array:
    """A sparse matrix (3 count, 3 count) of blocks (m, 3, 3) at rows and columns of blocks."""
    inner = np.arange(3)
    rows, columns, values = [], [], []
    for row, column, block in blocks:
        rows.append(np.broadcast_to(3 * row[:, None, None] + inner[:, None], block.shape).ravel())
        columns.append(np.broadcast_to(3 * column[:, None, None] + inner, block.shape).ravel())
        values.append(block.ravel())
    size = (3 * count, 3 * count)
    return coo_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), size
    )
