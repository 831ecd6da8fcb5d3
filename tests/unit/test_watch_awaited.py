"""What a running sweep owes: the arithmetic of its rhythm, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.check.awaited import Pace, Timetable, due_s, over, overdue, pace

NAN = float("nan")
#: Three lines of four cells; the way to the next line takes 2 s more.
LINE = np.repeat([0, 1, 2], 4)
EXTRA_S = np.where(np.arange(12) % 4 == 0, 2.0, 0.0) * (np.arange(12) > 0)
GRID = Timetable(EXTRA_S, LINE)


def test_a_steady_way_is_not_late() -> None:
    known = pace(GRID, [0, 1, 2, 3], [10.0, 13.0, 16.0, 19.0], 3.0)
    assert known == Pace(3.0, 0.0, None)


def test_the_interval_is_learnt_where_nobody_states_it() -> None:
    times_s = [10.0, 12.5, 15.1, 17.5]
    assert pace(GRID, [0, 1, 2], times_s[:3], None) is None
    known = pace(GRID, [0, 1, 2, 3], times_s, None)
    assert known is not None
    assert known.interval_s == pytest.approx(2.5)


def test_a_left_out_cell_is_no_longer_interval() -> None:
    known = pace(GRID, [0, 1, 3], [10.0, 13.0, 19.0], 3.0)
    assert known == Pace(3.0, 0.0, None)


def test_frames_that_were_there_before_tell_no_pace() -> None:
    assert pace(GRID, [0, 1, 2, 3], [NAN, NAN, NAN, NAN], 3.0) is None
    assert pace(GRID, [0, 1, 2, 3], [NAN, NAN, 16.0, 19.0], 3.0) is None


def test_one_pause_is_a_persons_what_happens_twice_is_the_ways() -> None:
    once = pace(GRID, [0, 1, 2, 3], [0.0, 3.0, 63.0, 66.0], 3.0)
    assert once is not None
    assert once.late_s == 0.0
    wide = Timetable(np.zeros(20), np.zeros(20, dtype=np.int64))
    slow = pace(wide, list(range(8)), [0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0], 3.0)
    assert slow is not None
    assert slow.late_s == pytest.approx(2.0)


def test_when_files_are_due() -> None:
    known = Pace(3.0, 0.5, 1.0)
    # Cells 3, then the turn (2 s by plan, 1 s more as learnt) to 4, then 5.
    assert due_s(GRID, known, 2, 100.0)[:3] == pytest.approx([103.5, 109.5, 112.5])
    # Before a turn was seen it may take two intervals more, or three times the plan's own.
    assert due_s(GRID, Pace(3.0, 0.5, None), 3, 100.0)[0] == pytest.approx(100.5 + 3.0 + 2.0 + 6.0)


def test_overdue_after_half_an_interval() -> None:
    known = Pace(3.0, 0.0, 0.0)
    assert overdue(GRID, known, 0, 100.0, 104.4) == ()
    assert overdue(GRID, known, 0, 100.0, 104.6) == (1,)
    assert overdue(GRID, known, 0, 100.0, 107.6) == (1, 2)
    assert overdue(GRID, known, 11, 100.0, 1e6) == ()


def test_over_five_intervals_after_the_last_cell() -> None:
    known = Pace(3.0, 0.0, 0.0)
    assert not over(GRID, known, 11, 100.0, 114.9)
    assert over(GRID, known, 11, 100.0, 115.1)
    # The last cell owes its frame: somebody may have paused the head for five minutes.
    assert not over(GRID, known, 10, 100.0, 399.9)
    assert over(GRID, known, 10, 100.0, 400.1)
    # From the first cell, one every 30 s: 11 moves, two of them turns.
    slow = Pace(30.0, 0.0, 0.0)
    assert not over(GRID, slow, 0, 0.0, 11 * 30.0 + 4.0 + 149.9)
    assert over(GRID, slow, 0, 0.0, 11 * 30.0 + 4.0 + 150.1)


@given(
    st.floats(0.5, 8.0),
    st.lists(st.floats(0.0, 0.2), min_size=24, max_size=24),
    st.sets(st.integers(4, 22), max_size=3),
)
def test_named_within_two_intervals_and_nothing_good_before(
    interval_s: float, jitter: list[float], lost: set[int]
) -> None:
    """A sweep of one line with jitter of up to a fifth of the interval, and some frames lost."""
    line = Timetable(np.zeros(24), np.zeros(24, dtype=np.int64))
    times_s = [(k + jitter[k]) * interval_s for k in range(24)]
    kept = [k for k in range(24) if k not in lost]
    for place, last in enumerate(kept[:-1]):
        if place < 3:
            continue
        so_far = kept[: place + 1]
        known = pace(line, so_far, [times_s[k] for k in so_far], interval_s)
        assert known is not None
        following = kept[place + 1]
        just_before_s = times_s[following] - 1e-6
        named = overdue(line, known, last, times_s[last], just_before_s)
        good = [k for k in named if k not in lost]
        assert not good
        if last + 1 in lost:
            two_later_s = (last + 1 + 2.0) * interval_s
            assert last + 1 in overdue(line, known, last, times_s[last], two_later_s)
