"""What photographers say of the rhythm of a shoot, as ranges. All: common practice, no source.

The camera is a compact of 10 megapixels on a small head, everything else left to the planner,
except as said. docs/timing.md has the figures and says where an anchor does not come out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.conditions import CardWish, Conditions, Cycle
from belvedere.shoot.missing_frames_trial import draw_times_s, lost_frames
from belvedere.shoot.timing import camera_cycle, timing_facts, vibration_left

COMPACT = Camera(7.44, 5.58, 3648, 2736)
DAY_S = 1 / 250


def _plan(interval_s: float | None = None, **conditions: object) -> Plan:
    """100 frames, 5 rows of 20."""
    wish = GridWish(10.0, -10.0, -60.0, 60.0, 0.2, 0.2, rows=5, columns=20)
    return make_plan(
        Shoot(
            "",
            COMPACT,
            Lens(30.5),
            wish,
            Sweep(interval_s=interval_s),
            Conditions(**conditions),  # type: ignore[arg-type]
        )
    )


@pytest.mark.parametrize("file_mb", [3.0, 4.0, 5.0])
def test_three_seconds_outdoors_is_usually_enough(file_mb: float) -> None:
    facts, _ = timing_facts(_plan(3.0, card=CardWish(file_mb=file_mb)), DAY_S)
    assert 2.0 <= facts.recommended_interval_s <= 3.0
    assert facts.head_s < 3.0
    assert facts.missing_frame_probability < 0.001


def test_three_seconds_is_not_enough_for_a_slow_card_or_one_that_pauses() -> None:
    slow, _ = timing_facts(_plan(3.0, card=CardWish(speed_class="C4")), DAY_S)
    assert slow.missing_frame_probability > 0.01
    pausing, _ = timing_facts(_plan(3.0, card=CardWish(stall_probability=0.01, stall_s=3.0)), DAY_S)
    assert pausing.missing_frame_probability > 0.5


def test_two_seconds_with_a_dark_frame_become_four_and_the_write_eight_to_nine_in_all() -> None:
    night = Cycle(self_timer_s=2.0, dark_frame_from_s=1.0)
    facts, _ = timing_facts(_plan(cycle=night), 2.0)
    seconds = {part.reason: part.seconds for part in facts.parts}
    assert seconds["exposure"] + seconds["dark frame"] == pytest.approx(4.0)
    assert 8.0 <= facts.recommended_interval_s <= 9.0


def test_without_the_self_timer_that_anchor_is_two_seconds_too_long() -> None:
    facts, _ = timing_facts(_plan(cycle=Cycle(dark_frame_from_s=1.0)), 2.0)
    assert 6.0 <= facts.recommended_interval_s <= 7.0


def test_a_hundred_frames_at_three_seconds_take_some_five_minutes() -> None:
    facts, _ = timing_facts(_plan(3.0), DAY_S)
    assert len(facts.release_s) == 100
    assert 4.5 * 60.0 <= facts.duration_s <= 6.0 * 60.0


def test_a_self_timer_of_two_seconds_lets_vibration_die() -> None:
    """Against the equation of motion of a damped oscillator, x'' + 2 ζ ω x' + ω² x = 0."""
    omega, zeta = 2.0 * np.pi * 8.0, 0.03

    def motion(_: float, state: np.ndarray) -> list[float]:
        return [state[1], -2.0 * zeta * omega * state[1] - omega**2 * state[0]]

    times = np.linspace(0.0, 3.2, 6400)
    path = solve_ivp(motion, (0.0, 3.2), [1.0, 0.0], t_eval=times, rtol=1e-9, atol=1e-12).y[0]
    for still_s in (1.0, 3.0):
        swing = np.abs(path[(times >= still_s) & (times < still_s + 0.15)]).max()
        # The greatest swing falls within a quarter of a period of the moment asked for.
        assert vibration_left(still_s) == pytest.approx(swing, rel=0.06)
    # A tenth is left within two seconds; settling and timer together leave hardly a hundredth.
    assert vibration_left(2.0) < 0.1
    assert vibration_left(1.0) > 0.15
    assert vibration_left(3.0) < 0.02


@pytest.mark.parametrize("buffer_frames", [0, 3])
def test_the_frames_that_follow_the_most_detailed_ones_vanish(buffer_frames: int) -> None:
    """Sizes alike between neighbours: what is lost comes after the largest files."""
    card = CardWish(write_mb_s=2.0)
    busy, _, _ = camera_cycle(COMPACT, Cycle(buffer_frames=buffer_frames), card, DAY_S)
    busy = replace(busy, scene_share=0.9, scene_memory=0.95)
    before_s, write_s = draw_times_s(busy, 400, 200, np.random.default_rng(11))
    interval_s = 4.0 if buffer_frames == 0 else 3.0
    lost = lost_frames(np.arange(200) * interval_s, before_s, write_s, busy.buffer_s)
    assert lost.any()
    follows = write_s[:, :-1][lost[:, 1:]]
    large = np.quantile(write_s, 0.8)
    # By chance one lost frame in five would follow one of the largest fifth.
    assert (follows >= large).mean() > 0.9
    assert (follows >= np.median(write_s)).mean() > 0.99
