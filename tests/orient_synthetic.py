"""A sweep with known rotations and ties, for the tests of the orient room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.optics import LensModel
from belvedere.orient.ties import Ties
from belvedere.sphere import camera_from_world


@dataclass(frozen=True)
class Sweep:
    lens: LensModel
    planned_world: NDArray[np.float64]
    true_world: NDArray[np.float64]
    ties: Ties


def sweep(
    rows: int,
    columns: int,
    *,
    seed: int = 0,
    noise_seed: int | None = None,
    noise_px: float = 0.1,
    outliers: float = 0.0,
    pointing_sigma_deg: float = 0.1,
    ties_per_pair: int = 20,
    k1: float = -0.08,
    k2: float = 0.02,
    focal_length_px: float = 1500.0,
    overlap: float = 0.3,
) -> Sweep:
    """Neighbours' ties, projected by the lens model and shaken by `noise_px` per coordinate."""
    random = np.random.default_rng(seed)
    lens = LensModel(1200, 900, focal_length_px, 599.5, 449.5, k1=k1, k2=k2)
    step_x = np.degrees(2 * np.arctan(600 / focal_length_px)) * (1 - overlap)
    step_y = np.degrees(2 * np.arctan(450 / focal_length_px)) * (1 - overlap)
    planned = np.stack(
        [
            camera_from_world((c - (columns - 1) / 2) * step_x, ((rows - 1) / 2 - r) * step_y).T
            for r in range(rows)
            for c in range(columns)
        ]
    )
    wobble = Rotation.from_rotvec(
        np.radians(random.normal(0, pointing_sigma_deg, (len(planned), 3)))
    )
    true = wobble.as_matrix() @ planned
    pairs = [
        (r * columns + c, r2 * columns + c2)
        for r in range(rows)
        for c in range(columns)
        for r2, c2 in ((r, c + 1), (r + 1, c))
        if r2 < rows and c2 < columns
    ]
    first, second, first_px, second_px = [], [], [], []
    for i, j in pairs:
        pixels = random.uniform(0, 1, (4000, 2)) * [1199, 899]
        seen = lens.project(lens.unproject(pixels) @ true[i].T @ true[j])
        inside = ((seen > 0) & (seen < [1199, 899])).all(axis=1)
        pixels, seen = pixels[inside][:ties_per_pair], seen[inside][:ties_per_pair]
        first += [i] * len(pixels)
        second += [j] * len(pixels)
        first_px.append(pixels)
        second_px.append(seen)
    second_all = np.concatenate(second_px)
    if noise_seed is not None:
        random = np.random.default_rng(noise_seed)
    second_all = second_all + random.normal(0, noise_px, second_all.shape)
    wrong = random.uniform(size=len(second_all)) < outliers
    second_all[wrong] += random.uniform(-30, 30, (int(wrong.sum()), 2))
    ties = Ties(np.array(first), np.array(second), np.concatenate(first_px), second_all)
    return Sweep(lens, planned, true, ties)
