"""Gains and falloff from samples of known light."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.orient import light_falloff
from belvedere.orient.balance import Samples, fit_balance

FloatArray = NDArray[np.float64]

TRUE_FALLOFF = (-0.08, -0.22, 0.06)  # 0.4 EV less in the corners


def left_of(r2: FloatArray) -> FloatArray:
    return 1.0 + sum(c * r2 ** (n + 1) for n, c in enumerate(TRUE_FALLOFF))


def samples(
    gains: FloatArray,
    pairs: list[tuple[int, int]],
    noise: float = 0.01,
    moving: float = 0.0,
    falloff: bool = True,
) -> Samples:
    random = np.random.default_rng(1)
    each = 120
    first = np.repeat([i for i, _ in pairs], each)
    second = np.repeat([j for _, j in pairs], each)
    r2 = random.uniform(0.05, 0.95, (2, len(first)))
    fall = np.log(left_of(r2[0])) - np.log(left_of(r2[1])) if falloff else np.zeros(len(first))
    difference = fall[:, None] - np.log(gains[first]) + np.log(gains[second])
    difference = difference + random.normal(0, noise, difference.shape)
    moved = random.uniform(size=len(first)) < moving
    difference[moved] += random.normal(0.5, 0.3, (int(moved.sum()), 1))
    return Samples(first, second, r2[0], r2[1], difference)


def grid_pairs(rows: int, columns: int) -> list[tuple[int, int]]:
    return [
        (r * columns + c, r2 * columns + c2)
        for r in range(rows)
        for c in range(columns)
        for r2, c2 in ((r, c + 1), (r + 1, c))
        if r2 < rows and c2 < columns
    ]


def true_gains(frames: int, spread: float) -> FloatArray:
    random = np.random.default_rng(2)
    gains = np.exp(random.normal(0, spread, (frames, 3)))
    return np.asarray(gains / np.exp(np.log(gains).mean(axis=0)))


@pytest.mark.parametrize("moving", [0.0, 0.2])
def test_gains_and_falloff_are_recovered(moving: float) -> None:
    """Also where a fifth of the samples are moving subjects. 0.4 % is one grey level of 255."""
    gains = true_gains(20, 0.1)
    found = fit_balance(samples(gains, grid_pairs(4, 5), moving=moving), np.zeros(20))
    assert np.abs(found.gains / gains - 1.0).max() < 0.008
    r2 = np.linspace(0, 1, 11)
    lens = LensModel.ideal(801, 601, 1000.0)
    diagonal = np.stack([400 + 400 * np.sqrt(r2), 300 + 300 * np.sqrt(r2)], axis=-1)
    there = light_falloff(lens, found.falloff, diagonal)
    assert there == pytest.approx(
        left_of(
            np.asarray((diagonal - [400, 300])[:, 0] ** 2 + (diagonal - [400, 300])[:, 1] ** 2)
            / (0.25 * (801**2 + 601**2))
        ),
        abs=0.01,
    )


def test_equal_frames_keep_their_light() -> None:
    found = fit_balance(samples(np.ones((12, 3)), grid_pairs(3, 4), falloff=False), np.zeros(12))
    assert found.gains == pytest.approx(1.0, abs=0.005)
    corner = 1.0 + sum(found.falloff)
    assert corner == pytest.approx(1.0, abs=0.01)


def test_a_frame_without_samples_has_the_gain_its_exposure_states() -> None:
    gains = true_gains(12, 0.05)
    pairs = [pair for pair in grid_pairs(3, 4) if 5 not in pair]
    stated = np.zeros(12)
    stated[5] = np.log(1.5)
    found = fit_balance(samples(gains, pairs), stated)
    others = np.delete(np.log(found.gains), 5, axis=0).mean(axis=0)
    assert np.exp(np.log(found.gains[5]) - others) == pytest.approx(1.5, rel=0.02)


def test_a_gradient_of_the_evening_is_not_flattened_by_the_mean() -> None:
    """Light that falls by a third over the row: the overlaps say so, the gains undo just that."""
    gains = np.repeat(np.geomspace(0.8, 1.25, 8)[:, None], 3, axis=1)
    found = fit_balance(samples(gains, grid_pairs(1, 8)), np.zeros(8))
    assert found.gains == pytest.approx(gains, rel=0.03)


def test_too_few_samples_change_nothing() -> None:
    few = samples(np.array([[2.0] * 3, [0.5] * 3]), [(0, 1)])
    short = Samples(
        few.first[:5], few.second[:5], few.r2_first[:5], few.r2_second[:5], few.difference[:5]
    )
    found = fit_balance(short, np.zeros(2))
    assert found.gains == pytest.approx(1.0)
    assert found.falloff == ()
