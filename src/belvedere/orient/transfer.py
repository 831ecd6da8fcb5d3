"""From a pixel of one frame to the pixel of another that sees the same direction.

Both frames share a Brown–Conrady lens whose focal length, principal point, k1 and k2 are to be
found. Derivatives are analytic; those of the inverse distortion follow from the implicit function
theorem.

Frames move in world axes (see `moves`): to first order the transfer from i to j then depends on
the difference of their moves alone, so its slope by j's move is the negative of that by i's, and
all ties of a pair collapse into one small block.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.orient.moves import moved_vectors

FloatArray = NDArray[np.float64]

#: The lens parameters that the adjustment may free, in the order of their derivatives. The
#: focal length enters by its logarithm, the principal point in px.
LENS_PARAMETERS = ("focal_length", "centre_x", "centre_y", "k1", "k2")

#: The iteration gains a digit a round even in the corners of a wide lens.
_UNDISTORT_ROUNDS = 12


def folds(lens: LensModel) -> bool:
    """Whether the distortion turns back within the frame: then pixels have no one direction."""
    corner = 0.5 * float(np.hypot(lens.width_px, lens.height_px)) / lens.focal_length_px
    r = np.linspace(0.0, 2.0 * corner, 81)
    bent = r * (1.0 + r**2 * (lens.k1 + r**2 * (lens.k2 + r**2 * lens.k3)))
    reached = np.flatnonzero(bent >= corner)
    return len(reached) == 0 or bool((np.diff(bent[: reached[0] + 1]) <= 0).any())


@dataclass(frozen=True, slots=True)
class Transfer:
    """Where the second frame is expected to see each tie, with derivatives.

    `pixels` (n, 2); `by_move` (n, 2, 3 or 8) by the first frame's move (by the second's: the
    negative); `by_lens` (n, 2, 5) by `LENS_PARAMETERS`. Rows of a tie that would lie behind the
    second frame are nan in `pixels` and zero in the derivatives.
    """

    pixels: FloatArray
    by_move: FloatArray
    by_lens: FloatArray


def lens_vector(lens: LensModel) -> FloatArray:
    """The `LENS_PARAMETERS` (5,) of a lens."""
    return np.array(
        [np.log(lens.focal_length_px), lens.centre_x_px, lens.centre_y_px, lens.k1, lens.k2]
    )


def with_lens_vector(lens: LensModel, vector: FloatArray) -> LensModel:
    """The lens with its `LENS_PARAMETERS` replaced."""
    return replace(
        lens,
        focal_length_px=float(np.exp(vector[0])),
        centre_x_px=float(vector[1]),
        centre_y_px=float(vector[2]),
        k1=float(vector[3]),
        k2=float(vector[4]),
    )


def expected_pixels(
    first_px: FloatArray,
    world_from_first: FloatArray,
    second_from_world: FloatArray,
    lens: LensModel,
) -> FloatArray:
    """The `pixels` of `transfer` alone."""
    seen = _seen(first_px, world_from_first, second_from_world, lens)
    ahead = seen[:, 2] > 1e-6
    depth = np.where(ahead, seen[:, 2], 1.0)[:, None]
    centre = np.array([lens.centre_x_px, lens.centre_y_px])
    pixels = lens.focal_length_px * lens.distort(seen[:, :2] / depth) + centre
    return np.where(ahead[:, None], pixels, np.nan)


def _seen(
    first_px: FloatArray,
    world_from_first: FloatArray,
    second_from_world: FloatArray,
    lens: LensModel,
) -> FloatArray:
    """Rays (n, 3) of the ties in the second cameras' axes."""
    centre = np.array([lens.centre_x_px, lens.centre_y_px])
    ideal = lens.undistort((first_px - centre) / lens.focal_length_px, _UNDISTORT_ROUNDS)
    ray = np.concatenate([ideal, np.ones_like(ideal[:, :1])], axis=1)
    world = world_from_first @ ray[:, :, None]
    seen: FloatArray = (second_from_world @ world)[:, :, 0]
    return seen


def transfer(
    first_px: FloatArray,
    world_from_first: FloatArray,
    second_from_world: FloatArray,
    lens: LensModel,
    bending: bool = False,
) -> Transfer:
    """Transfer pixels of first frames into second frames.

    Parameters
    ----------
    first_px
        (n, 2) pixels.
    world_from_first, second_from_world
        (n, 3, 3) of each tie's two frames.
    lens
        Shared by all frames; tangential terms are taken as they are.
    bending
        Whether the frames may bend as well as turn.
    """
    focal = lens.focal_length_px
    centre = np.array([lens.centre_x_px, lens.centre_y_px])
    distorted = (first_px - centre) / focal
    ideal = lens.undistort(distorted, _UNDISTORT_ROUNDS)
    ideal_by_lens = _ideal_by_lens(ideal, distorted, lens)

    ray = np.concatenate([ideal, np.ones_like(ideal[:, :1])], axis=1)
    second_from_first = second_from_world @ world_from_first
    seen = (second_from_first @ ray[:, :, None])[:, :, 0]
    ahead = seen[:, 2] > 1e-6
    depth = np.where(ahead, seen[:, 2], 1.0)[:, None]
    image = seen[:, :2] / depth
    # d(x/z, y/z) by the ray in the second camera
    perspective = np.zeros((len(seen), 2, 3))
    perspective[:, 0, 0] = perspective[:, 1, 1] = 1.0
    perspective[:, :, 2] = -image
    perspective /= depth[:, :, None]
    by_image, image_by_k = _distortion_derivatives(image, lens)
    bent = lens.distort(image)
    by_seen = focal * by_image @ perspective

    world_ray = (world_from_first @ ray[:, :, None])[:, :, 0]
    by_move = by_seen @ second_from_world @ moved_vectors(world_ray, bending)
    by_lens = by_seen @ second_from_first[:, :, :2] @ ideal_by_lens
    by_lens[:, :, 0] += focal * bent
    by_lens[:, :, 1:3] += np.eye(2)
    by_lens[:, :, 3:] += focal * image_by_k

    pixels = np.where(ahead[:, None], focal * bent + centre, np.nan)
    by_move[~ahead] = 0.0
    by_lens[~ahead] = 0.0
    return Transfer(pixels, by_move, by_lens)


def _distortion_derivatives(xy: FloatArray, lens: LensModel) -> tuple[FloatArray, FloatArray]:
    """Of `lens.distort`: by position (n, 2, 2), and by k1 and k2 (n, 2, 2)."""
    x, y = xy[:, 0], xy[:, 1]
    r2 = x * x + y * y
    radial = 1.0 + r2 * (lens.k1 + r2 * (lens.k2 + r2 * lens.k3))
    slope = 2.0 * (lens.k1 + r2 * (2.0 * lens.k2 + r2 * 3.0 * lens.k3))
    by_xy = np.empty((len(xy), 2, 2))
    by_xy[:, 0, 0] = radial + slope * x * x + 2.0 * lens.p1 * y + 6.0 * lens.p2 * x
    by_xy[:, 0, 1] = slope * x * y + 2.0 * lens.p1 * x + 2.0 * lens.p2 * y
    by_xy[:, 1, 0] = by_xy[:, 0, 1]
    by_xy[:, 1, 1] = radial + slope * y * y + 6.0 * lens.p1 * y + 2.0 * lens.p2 * x
    by_k = np.stack([xy * r2[:, None], xy * (r2 * r2)[:, None]], axis=2)
    return by_xy, by_k


def _ideal_by_lens(ideal: FloatArray, distorted: FloatArray, lens: LensModel) -> FloatArray:
    """Of the undistorted position by the lens (n, 2, 5): D(ideal; k) = (pixel − c) / f."""
    by_xy, by_k = _distortion_derivatives(ideal, lens)
    by_centre = np.broadcast_to(-np.eye(2) / lens.focal_length_px, by_xy.shape)
    right = np.concatenate([-distorted[:, :, None], by_centre, -by_k], axis=2)
    determinant = by_xy[:, 0, 0] * by_xy[:, 1, 1] - by_xy[:, 0, 1] * by_xy[:, 1, 0]
    adjugate = np.empty_like(by_xy)
    adjugate[:, 0, 0], adjugate[:, 1, 1] = by_xy[:, 1, 1], by_xy[:, 0, 0]
    adjugate[:, 0, 1], adjugate[:, 1, 0] = -by_xy[:, 0, 1], -by_xy[:, 1, 0]
    derivative: FloatArray = adjugate @ right / determinant[:, None, None]
    return derivative
