"""Odd frames, jumps that stay and drift are told apart."""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.check.judge_tone import find_steps


def _kinds(values: list[float], jump: float = 0.17) -> list[int]:
    series = np.array(values)[:, None]
    broken = np.abs(np.diff(series[:, 0])) > 0.1
    return find_steps(series, broken, np.arange(len(values)), jump).kind.tolist()


def test_one_odd_frame_stands_out_alone() -> None:
    assert _kinds([0.0, 0.0, 0.01, 0.4, 0.0, -0.01, 0.0]) == [0, 0, 0, 1, 0, 0, 0]


def test_of_two_groups_the_smaller_departs() -> None:
    assert _kinds([0.0] * 7 + [0.5] * 3) == [0] * 7 + [1] * 3
    assert _kinds([0.0] * 3 + [0.5] * 7) == [1] * 3 + [0] * 7


def test_frames_that_come_back_belong_to_their_old_class() -> None:
    assert _kinds([0.0, 0.0, 0.5, 0.5, 0.01, 0.0, 0.0, 0.52, 0.0]) == [0, 0, 1, 1, 0, 0, 0, 1, 0]


def test_a_drift_is_no_step() -> None:
    values = list(np.linspace(0.0, 1.2, 13))
    assert _kinds(values) == [0] * 13


def test_an_odd_frame_is_found_on_a_drift() -> None:
    values = list(np.linspace(0.0, 1.2, 13))
    values[6] += 0.6
    kinds = _kinds(values)
    assert kinds[6] == 1
    assert sum(kinds) == 1


def test_offset_is_the_departure_without_the_drift() -> None:
    values = np.linspace(0.0, 0.6, 13)[:, None]
    values[9:] += 0.5
    runs = find_steps(values, np.diff(values[:, 0]) > 0.3, np.arange(13), 0.17)
    np.testing.assert_allclose(runs.offset[9:, 0], 0.5, atol=1e-9)
    np.testing.assert_allclose(runs.offset[:9, 0], 0.0, atol=1e-9)


def test_where_the_tie_holds_nothing_jumps() -> None:
    series = np.array([0.0, 0.0, 0.4, 0.0])[:, None]
    unsure = find_steps(series, np.zeros(3, dtype=bool), np.arange(4), 0.17)
    assert unsure.kind.tolist() == [0, 0, 0, 0]
    sure = find_steps(series, np.array([False, True, True]), np.arange(4), 0.17)
    assert sure.kind.tolist() == [0, 0, 1, 0]


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_colour_steps_have_two_coordinates(sign: float) -> None:
    series = np.zeros((9, 2))
    series[4] = [0.0, 5.0 * sign]
    series[7] = [5.0 * sign, 0.0]
    runs = find_steps(series, np.ones(8, dtype=bool), np.arange(9), 2.6)
    assert runs.kind[4] != runs.kind[7]
    assert np.count_nonzero(runs.kind) == 2
