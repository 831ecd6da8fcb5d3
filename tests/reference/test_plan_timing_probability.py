"""The probability of losing a frame against three outside judges.

scipy.stats and scipy.integrate for the closed form; a simulation that lives by the clock (written
without the closed form) for everything; and two theorems: Slepian's inequality (Bell System
Technical Journal 41, 1962; from memory) and the pathwise bound that a buffer can only help.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

from belvedere.shoot.missing_frames import (
    BusyTimes,
    busy_longer_than,
    missing_frame_probability,
)
from belvedere.shoot.missing_frames_trial import draw_times_s, lost_frames, simulated_probability

SHOOTS = 4000
COMPACT = BusyTimes(0.104, 0.6, 0.2, 0.4, 0.25)
DARK = replace(COMPACT, fixed_s=0.1 + 2.0 + 2.0)
STALLING = replace(COMPACT, stall_probability=0.002, stall_s=3.0)
SLOW = BusyTimes(0.104, 0.6, 0.2, 2.5, 0.25)
ALIKE = {"scene_share": 0.9, "scene_memory": 0.95}


def _lognormal(mean: float, spread: float) -> stats.rv_frozen:
    return stats.lognorm(spread, scale=mean * math.exp(-(spread**2) / 2.0))


def _closed(busy: BusyTimes, interval_s: float, frames: int) -> float:
    return missing_frame_probability(busy, np.full(frames - 1, interval_s))


def _simulated(busy: BusyTimes, interval_s: float, frames: int, seed: int = 5) -> float:
    release_s = np.arange(frames)[None, :] * interval_s
    rng = np.random.default_rng(seed)
    return float(simulated_probability(busy, release_s, SHOOTS, rng)[0])


@pytest.mark.parametrize("interval_s", [0.9, 1.2, 1.5, 2.0])
def test_constant_processing_is_a_shifted_log_normal(interval_s: float) -> None:
    busy = replace(COMPACT, processing_spread=0.0)
    frames = 150
    below = _lognormal(0.4, 0.25).cdf(interval_s - 0.104 - 0.6)
    expected = 1.0 - below ** (frames - 1)
    assert _closed(busy, interval_s, frames) == pytest.approx(expected, rel=1e-9, abs=1e-13)


@pytest.mark.parametrize("interval_s", [1.0, 1.3, 1.6, 2.0, 2.4])
@pytest.mark.parametrize("busy", [COMPACT, STALLING, replace(COMPACT, processing_s=0.05)])
def test_the_sum_of_processing_and_writing_by_adaptive_quadrature(
    busy: BusyTimes, interval_s: float
) -> None:
    left = interval_s - busy.fixed_s
    processing = _lognormal(busy.processing_s, busy.processing_spread)
    write = _lognormal(busy.write_s, busy.write_spread)

    def exceeds(limit: float) -> float:
        if limit <= 0.0:
            return 1.0
        inner, _ = integrate.quad(
            lambda t: processing.pdf(t) * write.sf(limit - t), 0.0, limit, epsabs=1e-13, limit=400
        )
        return float(inner + processing.sf(limit))

    stalled = busy.stall_probability
    expected = (1.0 - stalled) * exceeds(left) + stalled * exceeds(left - busy.stall_s)
    # The quadrature's own tolerance.
    assert float(busy_longer_than(busy, interval_s)) == pytest.approx(expected, rel=1e-6, abs=1e-11)


#: Camera, frames, intervals from nearly sure loss to hardly any.
SETTINGS = [
    pytest.param(COMPACT, 200, (1.5, 1.6, 1.7, 1.8, 2.0), id="no buffer"),
    pytest.param(DARK, 100, (5.5, 5.6, 5.8), id="dark frame"),
    pytest.param(STALLING, 200, (1.6, 2.0, 3.5, 4.3, 5.0), id="stalls"),
    pytest.param(replace(COMPACT, processing_spread=0.0), 60, (1.2, 1.4, 1.6), id="constant"),
    pytest.param(replace(SLOW, buffer_s=0.5), 100, (3.5, 4.5, 5.5), id="buffer under a frame"),
    pytest.param(replace(SLOW, buffer_s=5.0), 200, (2.5, 2.6, 2.8, 3.0), id="buffer"),
    pytest.param(replace(SLOW, buffer_s=5.0, **ALIKE), 200, (2.6, 3.0, 3.5, 4.0), id="alike"),
    pytest.param(replace(SLOW, buffer_s=25.0, **ALIKE), 200, (2.6, 3.0, 3.5), id="deep buffer"),
    pytest.param(
        replace(SLOW, buffer_s=10.0, stall_probability=0.01, stall_s=8.0, **ALIKE),
        200,
        (2.6, 3.0, 3.5, 4.0),
        id="buffer, alike, stalls",
    ),
    pytest.param(
        replace(DARK, buffer_s=2.0, **ALIKE), 100, (4.9, 5.1, 5.3), id="busy, not the card"
    ),
]


@pytest.mark.parametrize(("busy", "frames", "intervals"), SETTINGS)
def test_the_simulation_agrees_within_its_sampling_error(
    busy: BusyTimes, frames: int, intervals: tuple[float, ...]
) -> None:
    """4 standard deviations of a binomial: one check in 16,000 would fail by chance."""
    for interval_s in intervals:
        p = _closed(busy, interval_s, frames)
        error = 4.0 * math.sqrt(p * (1.0 - p) / SHOOTS) + 1.0 / SHOOTS
        assert _simulated(busy, interval_s, frames) == pytest.approx(p, abs=error), interval_s


def test_longer_gaps_at_row_ends_count_as_they_are() -> None:
    gaps_s = np.tile([1.6] * 9 + [3.0], 12)
    p = missing_frame_probability(COMPACT, gaps_s)
    release_s = np.concatenate([[0.0], np.cumsum(gaps_s)])[None, :]
    share = simulated_probability(COMPACT, release_s, SHOOTS, np.random.default_rng(8))[0]
    assert share == pytest.approx(p, abs=4.0 * math.sqrt(p * (1.0 - p) / SHOOTS))
    assert p < _closed(COMPACT, 1.6, len(gaps_s) + 1)


@pytest.mark.parametrize("interval_s", [1.5, 1.6, 1.7])
def test_without_a_buffer_independence_is_the_cautious_side(interval_s: float) -> None:
    """Slepian: neighbours that are alike lose frames together, so fewer shoots lose any."""
    alike = replace(COMPACT, **ALIKE)
    independent = _closed(COMPACT, interval_s, 200)
    together = _simulated(alike, interval_s, 200)
    assert together < independent - 4.0 * math.sqrt(independent * (1 - independent) / SHOOTS)


@pytest.mark.parametrize("interval_s", [3.0, 3.5])
def test_with_a_buffer_it_is_not(interval_s: float) -> None:
    """A row of detailed frames fills the buffer: far more shoots lose a frame."""
    buffered = replace(SLOW, buffer_s=10.0)
    alike = replace(buffered, **ALIKE)
    simulated = _simulated(alike, interval_s, 200)
    assert simulated > 3.0 * _simulated(buffered, interval_s, 200)
    assert simulated > 3.0 * _closed(buffered, interval_s, 200)


def test_a_buffer_can_only_help_whatever_the_frames() -> None:
    """Where every frame is written before the next release, no buffer is ever in use."""
    busy = replace(COMPACT, buffer_s=0.8, stall_probability=0.01, stall_s=2.0, **ALIKE)
    before_s, write_s = draw_times_s(busy, 300, 120, np.random.default_rng(2))
    release_s = np.arange(120) * 1.7
    without = lost_frames(release_s, before_s, write_s, 0.0).any(axis=-1)
    with_buffer = lost_frames(release_s, before_s, write_s, 0.8).any(axis=-1)
    assert without.sum() > with_buffer.sum() > 0
    assert not (with_buffer & ~without).any()


def test_what_is_lost_by_hand() -> None:
    """Frames of 1 s before the writing, released every 2 s, worked on paper."""
    release_s = np.arange(6) * 2.0
    # 1.5 s of writing, no buffer: busy for 2.5 s, so every other release is lost.
    none = lost_frames(release_s, np.full(6, 1.0), np.full(6, 1.5), 0.0)
    assert none.tolist() == [False, True, False, True, False, True]
    # 2.5 s of writing, room for 1 s: undone at 2 s are 1.5, lost; at 4 s nothing.
    slower = lost_frames(release_s, np.full(6, 1.0), np.full(6, 2.5), 1.0)
    assert slower.tolist() == [False, True, False, True, False, True]
    # Room for 2 s: undone at 2 s are 1.5; at 4 s 2.0; at 6 s 2.5, lost; at 8 s 0.5; at 10 s 1.0.
    roomy = lost_frames(release_s, np.full(6, 1.0), np.full(6, 2.5), 2.0)
    assert roomy.tolist() == [False, False, False, True, False, False]
