"""What the ties teach about the head: its base, how far its steps are off, its spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.sphere import bearing_elevation

FloatArray = NDArray[np.float64]

_LEAST_FRAMES = 6
_LEAST_SPREAD_RAD = 1e-4


@dataclass(frozen=True, slots=True)
class HeadFit:
    """Corrected pointings: `world_from_camera` (frames, 3, 3), and their spread."""

    world_from_camera: FloatArray
    sigma_rad: float
    bearing_scale: float
    elevation_scale: float


def fit_head(
    planned_world: FloatArray,
    found_world: FloatArray,
    tied: NDArray[np.bool_],
    sigma_rad: float,
    scale_sigma: float,
) -> HeadFit:
    """Learn from the tied frames where the head really looked, for those without ties.

    The turn from planned to found is modelled as one turn of the base plus an error in
    proportion to bearing and to elevation; least squares, outliers weighed down. A head's steps
    are believed where the pictures do not clearly contradict them: a focal length a little too
    long looks like steps a little too short, and a motor counts better than pictures measure.

    Parameters
    ----------
    planned_world, found_world
        (frames, 3, 3) `world_from_camera`.
    tied
        (frames,) whose found rotation rests on ties.
    sigma_rad
        Spread to assume where there are too few frames to learn from.
    scale_sigma
        How far the found rotations' scale may be off, as a share.
    """
    turns = Rotation.from_matrix(found_world @ np.swapaxes(planned_world, 1, 2)).as_rotvec()
    columns = _columns(planned_world)
    if tied.sum() < _LEAST_FRAMES:
        return HeadFit(planned_world, sigma_rad, 1.0, 1.0)
    slopes, measured = columns[tied].reshape(-1, 5), turns[tied].ravel()
    # steps are known to a few per cent at worst; the base may stand anyhow
    prior = np.diag([0.0, 0.0, 0.0, 1 / 0.05**2, 1 / 0.05**2]) * sigma_rad**2
    weights = np.ones(len(measured))
    for _ in range(10):
        weighted = slopes * weights[:, None]
        fitted = np.linalg.solve(
            weighted.T @ slopes + prior + 1e-12 * np.eye(5), weighted.T @ measured
        )
        left = (measured - slopes @ fitted).reshape(-1, 3)
        squared = (left**2).sum(axis=1)
        spread = max(float(np.median(squared)), 1e-16)
        weights = np.repeat(1.0 / (1.0 + squared / (4.0 * spread)), 3)
    # median of a squared length in three dimensions: 2.366 variances
    learnt = max(float(np.sqrt(spread / 2.366)), _LEAST_SPREAD_RAD)
    contradicted = np.abs(fitted[3:]) > 3.0 * scale_sigma
    fitted[3:] = np.where(contradicted, fitted[3:], 0.0)
    corrected = Rotation.from_rotvec(columns @ fitted).as_matrix() @ planned_world
    return HeadFit(corrected, learnt, 1.0 + float(fitted[3]), 1.0 + float(fitted[4]))


def _columns(planned_world: FloatArray) -> FloatArray:
    """Slopes (frames, 3, 5) of a frame's turn by: the base, bearing scale, elevation scale."""
    bearing_deg, elevation_deg = bearing_elevation(planned_world[:, :, 2])
    # unwrapped about the first frame, so that a sweep across ±180° stays in one piece
    bearing_deg = (bearing_deg - bearing_deg[0] + 180.0) % 360.0 - 180.0
    columns = np.zeros((len(planned_world), 3, 5))
    columns[:, :, :3] = np.eye(3)
    columns[:, 1, 3] = np.radians(bearing_deg - np.median(bearing_deg))
    columns[:, :, 4] = planned_world[:, :, 0] * np.radians(elevation_deg)[:, None]
    return columns
