"""The shutter chain against tables worked out by hand: which releases are obeyed, and when."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from belvedere.rehearse.shutter_chain import (
    ChainTraits,
    Request,
    chain_of,
    drawn_times_s,
    run_chain,
)
from belvedere.shoot import CardWish, Cycle, make_plan, parse_shoot

MB = 1_000_000
SLOW = ChainTraits(
    self_timer_s=2.0,
    shutter_lag_s=0.1,
    dark_frame_from_s=1.0,
    processing_s=0.5,
    review_s=0.4,
    write_bytes_per_s=2.0 * MB,
)


def constant(traits: ChainTraits, requests: list[Request]) -> tuple[list[float], list[float]]:
    """Processing and writing without luck."""
    return (
        [traits.processing_s] * len(requests),
        [request.size_bytes / traits.write_bytes_per_s for request in requests],
    )


def lost(traits: ChainTraits, requests: list[Request]) -> list[str | None]:
    return [outcome.lost for outcome in run_chain(traits, requests, *constant(traits, requests))]


def test_every_stage_takes_its_time() -> None:
    # By hand: contact 10; 2 s timer, 0.3 s focus and 0.1 s lag: opens 12.4; closes 13.9; as much
    # again for the dark frame 15.4; 0.5 s processing and 0.4 s review 16.3; 4 MB at 2 MB/s 18.3.
    requests = [Request(10.0, 1.5, 4 * MB, focus_s=0.3)]
    (outcome,) = run_chain(SLOW, requests, *constant(SLOW, requests))
    assert outcome.lost is None
    assert outcome.opens_at_s == pytest.approx(12.4)
    assert outcome.closes_at_s == pytest.approx(13.9)
    assert outcome.processed_at_s == pytest.approx(16.3)
    assert outcome.write_begins_s == pytest.approx(16.3)
    assert outcome.written_at_s == pytest.approx(18.3)
    assert outcome.kept == 1.0


def test_a_short_exposure_needs_no_dark_frame() -> None:
    # By hand: opens 2.1, closes 3.0, processed 3.9 (no dark frame below 1 s), written 4.9.
    requests = [Request(0.0, 0.9, 2 * MB)]
    (outcome,) = run_chain(SLOW, requests, *constant(SLOW, requests))
    assert outcome.written_at_s == pytest.approx(4.9)


def test_without_a_buffer_a_release_before_the_file_is_written_is_lost() -> None:
    # By hand, 0.5 s processing, 1 MB/s, no other times, every 2 s:
    #   at 0: 1.4 MB written at 1.9, free for the one at 2;
    #   at 2: 1.6 MB written at 4.1, the one at 4 is lost;
    #   at 6: 3.6 MB written at 10.1, those at 8 and 10 are lost; at 12 it is free.
    camera = ChainTraits(processing_s=0.5, write_bytes_per_s=1.0 * MB)
    sizes = [1.4, 1.6, 0.1, 3.6, 0.1, 0.1, 1.0]
    requests = [Request(2.0 * i, 0.0, round(size * MB)) for i, size in enumerate(sizes)]
    assert lost(camera, requests) == [None, None, "busy", None, "busy", "busy", None]


def test_a_buffer_puts_off_the_writing_until_it_is_full() -> None:
    # By hand, 2 s for each file of 2 MB, a release every second, 3 MB of buffer, so 3 s of work:
    #   release at 0 1 2 3 4 5
    #   written at 2 4 6 – 8 –     (the file's end if obeyed)
    #   left at release: 0 1 2 3 → obeyed (3 s is no more than 3) …
    camera = ChainTraits(write_bytes_per_s=1.0 * MB, buffer_bytes=3.0 * MB)
    requests = [Request(float(at), 0.0, 2 * MB) for at in range(7)]
    # Left: at 0: 0; 1: 1; 2: 2; 3: 3 (obeyed, written at 8); 4: 4 lost; 5: 3 (written at 10); 6: 4.
    assert lost(camera, requests) == [None, None, None, None, "buffer full", None, "buffer full"]


def test_a_camera_that_slept_loses_the_release_that_wakes_it() -> None:
    # Idle from 1.0 on (0.5 s processing, 0.5 s writing): 61 s later it has slept, 59 s later not.
    camera = ChainTraits(processing_s=0.5, write_bytes_per_s=1.0 * MB, sleeps_after_s=60.0)
    for gap_s, expected in ((60.0, None), (62.0, "asleep")):
        requests = [Request(at, 0.0, MB // 2) for at in (0.0, gap_s, gap_s + 3.0)]
        assert lost(camera, requests) == [None, expected, None]
    # It takes 1.5 s to wake: a second release within them is lost too.
    requests = [Request(at, 0.0, MB // 2) for at in (0.0, 62.0, 63.0, 64.0)]
    assert lost(camera, requests) == [None, "asleep", "asleep", None]


def test_a_full_card_takes_nothing_more_even_if_it_would_fit() -> None:
    camera = ChainTraits(free_bytes=5 * MB)
    sizes = [2, 2, 2, 1]
    requests = [Request(float(i), 0.0, size * MB) for i, size in enumerate(sizes)]
    assert lost(camera, requests) == [None, None, "card full", "card full"]


def test_an_empty_battery_ends_the_shoot() -> None:
    camera = ChainTraits(battery_frames=2)
    requests = [Request(float(i), 0.0, MB) for i in range(4)]
    assert lost(camera, requests) == [None, None, "battery empty", "battery empty"]


def test_power_pulled_leaves_a_part_of_the_file_and_no_other() -> None:
    camera = ChainTraits(write_bytes_per_s=1.0 * MB)
    requests = [Request(3.0 * i, 0.0, 2 * MB) for i in range(4)]
    requests[1] = replace(requests[1], trouble="power pulled", kept=0.25)
    outcomes = run_chain(camera, requests, *constant(camera, requests))
    assert [one.lost for one in outcomes] == [None, None, "power pulled", "power pulled"]
    assert [one.kept for one in outcomes[:2]] == [1.0, 0.25]
    assert outcomes[1].written_at_s == pytest.approx(3.0 + 0.25 * 2.0)


def test_as_it_stands_no_interval_is_too_short() -> None:
    requests = [Request(0.01 * i, 0.0025, 50 * MB) for i in range(200)]
    assert lost(ChainTraits(), requests) == [None] * 200


def test_drawn_times_have_the_mean_and_spread_asked() -> None:
    # The moments of a log-normal with mean m and log-deviation s: m and m² (exp(s²) - 1).
    traits = ChainTraits(
        processing_s=0.6, processing_spread=0.3, write_bytes_per_s=10.0 * MB,
        stall_probability=0.1, stall_s=2.0,
    )  # fmt: skip
    processing_s, write_s = drawn_times_s(traits, [5 * MB] * 40_000, np.random.default_rng(1))
    deviation = 0.6 * math.sqrt(math.expm1(0.3**2))
    assert processing_s.mean() == pytest.approx(0.6, abs=4.0 * deviation / 200.0)
    assert processing_s.std() == pytest.approx(deviation, rel=0.05)
    # 40,000 draws of a chance of 0.1: four standard errors are 0.006.
    assert np.mean(write_s > 1.0) == pytest.approx(0.1, abs=0.006)
    assert set(np.round(write_s, 9)) == {0.5, 2.5}


SHOOT = """
[camera]
sensor_width_mm = 7.44
image_width_px = 4000
image_height_px = 3000
[lens]
focal_length_mm = 30.5
[grid]
left_deg = -20.0
right_deg = 20.0
top_deg = 10.0
bottom_deg = -10.0
overlap = 0.3
"""


def test_the_camera_is_the_one_of_the_shoot_file() -> None:
    silent = make_plan(parse_shoot(SHOOT)).shoot
    assert chain_of(silent) == ChainTraits()
    says = SHOOT + "[cycle]\nbuffer_frames = 2\nprocessing_s = 0.8\n[card]\nspeed_class = 'C6'\n"
    shoot = make_plan(parse_shoot(says)).shoot
    assert shoot.conditions.cycle == Cycle(buffer_frames=2, processing_s=0.8)
    assert shoot.conditions.card == CardWish(speed_class="C6")
    chain = chain_of(shoot)
    assert chain.write_bytes_per_s == 6.0 * MB  # the class C6 promises 6 MB/s
    assert chain.processing_s == 0.8
    # What is left out is what the planner assumes: 0.1 s of lag, 0.4 MB a megapixel.
    assert chain.shutter_lag_s == 0.1
    assert chain.buffer_bytes == pytest.approx(2 * 0.4 * 12 * MB)
