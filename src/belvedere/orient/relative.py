"""The rotation between two frames from their ties, robustly."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel

FloatArray = NDArray[np.float64]

_TRIALS = 200


def best_rotation(a: FloatArray, b: FloatArray, weights: FloatArray | None = None) -> FloatArray:
    """The rotation (3, 3) with the least squares of ``b − R a`` over vectors (n, 3).

    W. Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta
    Crystallographica A32, 1976. Also for stacks (..., n, 3).
    """
    weighted = a if weights is None else a * weights[..., None]
    u, _, vt = np.linalg.svd(np.swapaxes(b, -1, -2) @ weighted)
    mirrored = np.linalg.det(u @ vt) < 0
    u[..., :, 2] = np.where(mirrored[..., None], -u[..., :, 2], u[..., :, 2])
    rotation: FloatArray = u @ vt
    return rotation


def refined_rotation(a: FloatArray, b: FloatArray, rounds: int = 6) -> FloatArray:
    """`best_rotation` of unit rays with outliers weighed down by the Cauchy function."""
    rotation = best_rotation(a, b)
    for _ in range(rounds):
        squared = ((b - a @ rotation.T) ** 2).sum(axis=1)
        scale = max(float(np.median(squared)), 1e-14)
        rotation = best_rotation(a, b, 1.0 / (1.0 + squared / (4.0 * scale)))
    return rotation


def agreeing(
    a_px: FloatArray, b_px: FloatArray, lens: LensModel, least_px: float
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Rotation b from a that most ties agree on, and which of them do.

    Least median of squares over pairs of ties (P. J. Rousseeuw, 1984), then refined. A tie agrees
    within 2.5 robust sigmas, or `least_px` where that is more.
    """
    a, b = lens.unproject(a_px), lens.unproject(b_px)
    picks = _two_of(len(a))
    candidates = best_rotation(a[picks], b[picks])
    errors = np.linalg.norm(b[None] - a[None] @ np.swapaxes(candidates, 1, 2), axis=2)
    best = errors[np.median(errors, axis=1).argmin()]
    rotation = np.eye(3)
    for _ in range(3):
        limit = max(2.5 * 1.4826 * float(np.median(best)), least_px / lens.focal_length_px)
        keep = best <= limit
        rotation = best_rotation(a[keep], b[keep])
        best = np.linalg.norm(b - a @ rotation.T, axis=1)
    return rotation, np.asarray(best <= limit, np.bool_)


def _two_of(count: int) -> NDArray[np.intp]:
    """Pairs of indices (m, 2): all where few, else an even selection, widely apart."""
    if count <= 20:
        return np.array(list(combinations(range(count), 2)), np.intp)
    random = np.random.default_rng(count)
    first = random.integers(0, count, _TRIALS)
    second = (first + random.integers(1, count, _TRIALS)) % count
    return np.stack([first, second], axis=1).astype(np.intp)
