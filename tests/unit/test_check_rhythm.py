"""What the clock says of the cells between two frames."""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.check.rhythm import heard_rhythm, seconds
from check_synthetic import Shot, frames_of

NO_TURN = np.array([0])


def rhythm(times: list[float], planned: float | None, *, whole: bool = True):  # type: ignore[no-untyped-def]
    frames = frames_of([Shot(0, t) for t in times], whole_seconds=whole)
    return heard_rhythm(frames, planned, 8)


def test_interval_is_heard_through_whole_seconds() -> None:
    times = [100.4 + 3.3 * k for k in range(40)]
    heard = rhythm(times, None)
    assert heard.interval_s == pytest.approx(3.3, abs=0.15)


def test_gap_of_two_intervals_means_one_cell_without_a_frame() -> None:
    heard = rhythm([3.0 * k for k in range(20)], 3.0)
    two = [float(heard.ratio(6.0, n, NO_TURN)[0]) for n in (1, 2, 3)]
    assert two[1] > two[0] + 3.0
    assert two[1] > two[2] + 3.0


def test_plan_is_not_believed_against_the_clock() -> None:
    heard = rhythm([5.0 * k for k in range(20)], 3.0)
    assert heard.interval_s == pytest.approx(5.0, abs=0.05)


def test_plan_decides_where_the_clock_leaves_it_open() -> None:
    """Few frames, whole seconds, a gap: the plan's 2 s hold."""
    assert rhythm([0.0, 2.9, 4.0, 8.1], 2.0).interval_s == 2.0


def test_too_early_is_hardly_a_step_and_rather_a_second_release() -> None:
    heard = rhythm([3.0 * k for k in range(20)], 3.0)
    assert heard.ratio(1.2, 1, NO_TURN)[0] < -5.0
    assert heard.repeat_ratio(1.2) > 0.0


def test_pause_costs_little() -> None:
    heard = rhythm([3.0 * k for k in range(20)], 3.0)
    assert -4.5 < heard.ratio(90.0, 1, NO_TURN)[0] < -2.0


def test_silent_clock_says_nothing() -> None:
    frames = frames_of([Shot(0, 0.0)])
    frames = [type(frames[0])("PIC_0001.JPG", "x", 1, 4, 3)] * 5
    assert np.isnan(seconds(frames)).all()
    assert heard_rhythm(frames, None, 8) is None
