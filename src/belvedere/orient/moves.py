"""How a frame may move on the sphere: turn, and, where the camera travelled, bend a little.

A frame is a matrix `world_from_camera`: a rotation, or a rotation with a small stretch. The
stretch is what a camera's travel does to a scene that is nearly flat (the homography of a plane:
R. Hartley and A. Zisserman, "Multiple View Geometry", 2nd ed., 2004, section 13.1). Moves are
small and in world axes, M ← exp(Z) exp([δ]×) M: three numbers δ turn it, five in Z bend it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

FloatArray = NDArray[np.float64]


def _symmetric_generators() -> FloatArray:
    """An orthonormal basis (5, 3, 3) of symmetric matrices without trace."""
    generators = np.zeros((5, 3, 3))
    for n, (row, column) in enumerate(((0, 1), (0, 2), (1, 2))):
        generators[n, row, column] = generators[n, column, row] = np.sqrt(0.5)
    generators[3] = np.diag([1.0, -1.0, 0.0]) * np.sqrt(0.5)
    generators[4] = np.diag([1.0, 1.0, -2.0]) * np.sqrt(1.0 / 6.0)
    return generators


_BENDS = _symmetric_generators()


def cross_matrices(vectors: FloatArray) -> FloatArray:
    """(n, 3, 3) matrices [v]× with [v]× w = v × w, of vectors (n, 3)."""
    crosses = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    crosses[:, 0, 1], crosses[:, 0, 2] = -z, y
    crosses[:, 1, 0], crosses[:, 1, 2] = z, -x
    crosses[:, 2, 0], crosses[:, 2, 1] = -y, x
    return crosses


def moved_vectors(vectors: FloatArray, bending: bool) -> FloatArray:
    """Slopes (n, 3, 3 or 8) of world vectors (n, 3) by the moves."""
    turns = -cross_matrices(vectors)
    if not bending:
        return turns
    bends = np.einsum("gij,nj->nig", _BENDS, vectors)
    return np.concatenate([turns, bends], axis=2)


def moved_frames(world_from_camera: FloatArray, moves: FloatArray) -> FloatArray:
    """Frames (n, 3, 3) after moves (n, 3 or 8)."""
    turned: FloatArray = Rotation.from_rotvec(moves[:, :3]).as_matrix() @ world_from_camera
    if moves.shape[1] == 3:
        return turned
    lengths, axes = np.linalg.eigh(np.tensordot(moves[:, 3:], _BENDS, axes=1))
    bent: FloatArray = axes @ (np.exp(lengths)[:, :, None] * np.swapaxes(axes, 1, 2)) @ turned
    return bent


def rotations_and_bends(world_from_camera: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Frames (n, 3, 3) taken apart into rotations and the stretch before them: M = R exp(S).

    Returns R and exp(S), (n, 3, 3) each.
    """
    u, stretch, vt = np.linalg.svd(world_from_camera)
    rotations: FloatArray = u @ vt
    bends: FloatArray = np.swapaxes(vt, 1, 2) @ (stretch[:, :, None] * vt)
    return rotations, bends


def bend_sizes(world_from_camera: FloatArray) -> FloatArray:
    """How far frames are from rotations: (n, 5) in the generators of bends, world axes."""
    u, stretch, _ = np.linalg.svd(world_from_camera)
    logs = u @ (np.log(stretch)[:, :, None] * np.swapaxes(u, 1, 2))
    sizes: FloatArray = np.einsum("gij,nij->ng", _BENDS, logs)
    return sizes


def turns_between(from_world: FloatArray, to_world: FloatArray) -> FloatArray:
    """Rotation vectors (n, 3), world axes, from the first to the second frames' rotations."""
    rotations, _ = rotations_and_bends(to_world)
    vectors: FloatArray = Rotation.from_matrix(
        rotations @ np.swapaxes(from_world, 1, 2)
    ).as_rotvec()
    return vectors


def turn_slopes(turns: FloatArray) -> FloatArray:
    """Slope of log(exp(δ) exp(turn)) by δ at 0, (n, 3, 3): SO(3)'s inverse left Jacobian."""
    angle = np.linalg.norm(turns, axis=1)
    small = angle < 1e-4
    safe = np.where(small, 1.0, angle)
    factor = np.where(
        small, 1.0 / 12.0, 1.0 / safe**2 - (1.0 + np.cos(safe)) / (2.0 * safe * np.sin(safe))
    )
    crosses = cross_matrices(turns)
    slopes: FloatArray = np.eye(3) - 0.5 * crosses + factor[:, None, None] * (crosses @ crosses)
    return slopes
