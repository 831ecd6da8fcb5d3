"""A lens brighter on one side adds up along each row; light that changes with time is no lens."""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.judge_tone import along_the_sweep, solve_tones
from belvedere.check.thresholds import DRIFTING_EV, LOPSIDED_TONE
from belvedere.check.tone_walk import Ties, walk_along
from belvedere.measure import ToneDifference

ROWS, COLUMNS = 6, 20


def swept(per_column_ev: float, per_frame_ev: float, jump_at: int = 10**6) -> list[PairEvidence]:
    """Overlaps of a sweep by rows, always left to right.

    Each neighbour to the right comes out brighter by `per_column_ev`, each frame in time by
    `per_frame_ev`, all from `jump_at` on by half an EV.
    """
    rng = np.random.default_rng(3)
    pairs = []
    for a in range(ROWS * COLUMNS):
        row, column = divmod(a, COLUMNS)
        for down, right in ((0, 1), (1, 0), (1, 1)):
            if row + down >= ROWS or column + right >= COLUMNS:
                continue
            b = a + down * COLUMNS + right
            ev = right * per_column_ev + (b - a) * per_frame_ev + 0.5 * (a < jump_at <= b)
            samples = ev + rng.normal(0.0, 0.02, 60)
            radius = np.full(60, 0.5)
            tone = ToneDifference(samples, np.zeros((0, 2)), radius, radius, False)
            shift = np.array([700.0 * right, 500.0 * down])
            pairs.append(PairEvidence(a, b, True, 0.5, shift, (0.3, 0.9), 0.1, 40, None, tone))
    return pairs


def levels(pairs: list[PairEvidence]) -> np.ndarray:
    count = ROWS * COLUMNS
    _, between = along_the_sweep(solve_tones(count, pairs).light, np.arange(count))
    ties = Ties(np.zeros((count - 1, 1)), np.full(count - 1, DRIFTING_EV))
    return walk_along(count, between, ties, LOPSIDED_TONE).value[:, 0].reshape(ROWS, COLUMNS)


def test_rows_do_not_climb_with_a_lopsided_lens() -> None:
    found = levels(swept(per_column_ev=0.013, per_frame_ev=0.0))
    # Unmended, the ends of a row would lie 19 x 0.013 = 0.25 EV apart.
    assert np.ptp(found) < 0.05


@pytest.mark.parametrize("lopsided", [0.0, 0.01])
def test_the_evening_goes_on_getting_darker(lopsided: float) -> None:
    found = levels(swept(per_column_ev=lopsided, per_frame_ev=-0.01)).ravel()
    slope = np.polyfit(np.arange(len(found)), found, 1)[0]
    assert slope == pytest.approx(-0.01, abs=0.001)


def test_a_jump_stays_a_jump() -> None:
    found = levels(swept(per_column_ev=0.013, per_frame_ev=0.0, jump_at=70)).ravel()
    assert found[70:].mean() - found[:70].mean() == pytest.approx(0.5, abs=0.03)
    assert np.ptp(found[:70]) < 0.06
