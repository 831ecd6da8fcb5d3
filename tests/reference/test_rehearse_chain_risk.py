"""The shutter chain against the planner: how many shoots lose a frame, and which frames.

The planner's probability is a closed form and a recursion over distributions, the chain lives from
release to release: each is an outside truth for the other.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from belvedere.rehearse.shutter_chain import ChainTraits, Request, run_chain
from belvedere.shoot.missing_frames import BusyTimes, missing_frame_probability
from belvedere.shoot.missing_frames_trial import draw_times_s, lost_frames

MB = 1e6
FRAMES, SHOOTS = 24, 1500


def chain_like(busy: BusyTimes, rate: float = 10.0 * MB) -> ChainTraits:
    """The same camera for the chain, which knows of bytes where the planner knows of seconds."""
    return ChainTraits(
        shutter_lag_s=busy.fixed_s,
        processing_s=busy.processing_s,
        processing_spread=busy.processing_spread,
        write_bytes_per_s=rate,
        buffer_bytes=busy.buffer_s * rate,
        stall_probability=busy.stall_probability,
        stall_s=busy.stall_s,
    )


def losing_share(busy: BusyTimes, gaps_s: np.ndarray, seed: int) -> float:
    """Share of simulated shoots in which the chain loses a frame."""
    rng = np.random.default_rng(seed)
    at_s = np.concatenate([[0.0], np.cumsum(gaps_s)])
    chain = chain_like(busy)
    before, writes = draw_times_s(busy, SHOOTS, len(at_s), rng)
    losing = 0
    for processing, write in zip(before - busy.fixed_s, writes, strict=True):
        requests = [Request(float(at), 0.0, 1) for at in at_s]
        losing += any(one.lost for one in run_chain(chain, requests, processing, write))
    return losing / SHOOTS


@pytest.mark.parametrize("gap_s", [1.9, 2.1, 2.4])
def test_without_a_buffer_as_many_shoots_lose_a_frame_as_the_planner_says(gap_s: float) -> None:
    busy = BusyTimes(0.3, 0.6, 0.2, 0.5, 0.25, 0.004, 1.5)
    gaps_s = np.full(FRAMES - 1, gap_s)
    gaps_s[5::6] += 1.0  # a longer way to the next row
    risk = missing_frame_probability(busy, gaps_s)
    assert 0.02 < risk < 0.98
    error = math.sqrt(risk * (1.0 - risk) / SHOOTS)
    assert losing_share(busy, gaps_s, 1) == pytest.approx(risk, abs=4.0 * error)


@pytest.mark.parametrize("gap_s", [0.8, 1.0])
def test_with_a_buffer_too(gap_s: float) -> None:
    # The planner's lattice errs on the cautious side by a little: up to 0.02 here.
    busy = BusyTimes(0.1, 0.3, 0.2, 0.7, 0.3, 0.01, 2.0, buffer_s=2.0)
    gaps_s = np.full(FRAMES - 1, gap_s)
    risk = missing_frame_probability(busy, gaps_s)
    assert 0.02 < risk < 0.98
    error = math.sqrt(risk * (1.0 - risk) / SHOOTS)
    share = losing_share(busy, gaps_s, 2)
    assert risk - 0.02 - 4.0 * error < share < risk + 4.0 * error


@pytest.mark.parametrize("buffer_s", [0.0, 1.5])
def test_the_same_releases_are_lost_as_in_the_planners_trial(buffer_s: float) -> None:
    busy = BusyTimes(0.3, 0.6, 0.3, 0.6, 0.4, 0.05, 2.0, buffer_s=buffer_s)
    before, writes = draw_times_s(busy, 60, FRAMES, np.random.default_rng(3))
    at_s = 1.4 * np.arange(FRAMES)
    expected = lost_frames(at_s, before, writes, buffer_s)
    assert 0.05 < expected.mean() < 0.6
    for processing, write, lost in zip(before - busy.fixed_s, writes, expected, strict=True):
        requests = [Request(float(at), 0.0, 1) for at in at_s]
        outcomes = run_chain(chain_like(busy), requests, processing, write)
        assert [one.lost is not None for one in outcomes] == lost.tolist()
