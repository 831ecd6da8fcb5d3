"""What the timetable is made of, and what is said of what was assumed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.conditions import CardWish, Conditions, Cycle, Head
from belvedere.shoot.timing import release_times_s, timing_facts

CAMERA = Camera(36.0, 24.0, 6000, 4000)
HEAD = Head(pan_speed_deg_s=10.0, tilt_speed_deg_s=10.0, settle_s=1.0)
CYCLE = Cycle(shutter_lag_s=0.1, processing_s=0.5, processing_spread=0.1)
CARD = CardWish(file_mb=10.0, write_mb_s=20.0, file_spread=0.2)


def _plan(grid: GridWish | None = None, sweep: Sweep | None = None, **conditions: object) -> Plan:
    wish = grid or GridWish(40.0, -20.0, -90.0, 90.0, 0.25, 0.25)
    given = {"head": HEAD, "cycle": CYCLE, "card": CARD} | conditions
    return make_plan(
        Shoot("", CAMERA, Lens(50.0), wish, sweep or Sweep(), Conditions(**given))  # type: ignore[arg-type]
    )


def _seconds(plan: Plan, exposure_s: float) -> dict[str, float]:
    return {part.reason: part.seconds for part in timing_facts(plan, exposure_s)[0].parts}


def test_every_second_has_its_reason() -> None:
    cycle = replace(CYCLE, self_timer_s=2.0, dark_frame_from_s=1.0, review_s=0.3)
    plan = _plan(cycle=cycle, card=replace(CARD, stall_probability=0.1, stall_s=2.0))
    step_deg = plan.column_steps_deg[0]
    expected = {
        "move": step_deg / 10.0 + 0.2,
        "settle": 1.0,
        "self-timer": 2.0,
        "shutter lag": 0.1,
        "exposure": 4.0,
        "dark frame": 4.0,
        "processing": 0.5,
        "write": 10.0 / 20.0 + 0.1 * 2.0,
        "review": 0.3,
    }
    assert _seconds(plan, 4.0) == pytest.approx(expected)
    facts, _ = timing_facts(plan, 4.0)
    assert facts.head_s == pytest.approx(2.0 + 0.1 + 4.0 + expected["move"] + 1.0)
    assert facts.camera_s == pytest.approx(2.0 + 0.1 + 4.0 + 4.0 + 0.5 + 0.7 + 0.3)


@pytest.mark.parametrize(("exposure_s", "dark"), [(0.5, False), (1.0, True), (30.0, True)])
def test_a_dark_frame_from_its_threshold_on(exposure_s: float, dark: bool) -> None:
    plan = _plan(cycle=replace(CYCLE, dark_frame_from_s=1.0))
    assert _seconds(plan, exposure_s).get("dark frame") == (exposure_s if dark else None)
    assert "dark frame" not in _seconds(_plan(), exposure_s)


def test_a_long_exposure_without_a_word_on_dark_frames_is_pointed_out() -> None:
    _, said = timing_facts(_plan(), 2.0)
    assert any("dark_frame_from_s" in line and "2 s longer" in line for line in said)
    assert timing_facts(_plan(), 0.5)[1] == ()
    told = _plan(cycle=replace(CYCLE, dark_frame_from_s=60.0))
    assert timing_facts(told, 2.0)[1] == ()


def test_what_is_left_out_is_assumed_and_said() -> None:
    _, said = timing_facts(_plan(head=Head(), cycle=Cycle(), card=CardWish()), 1 / 100)
    for key in (
        "pan_speed_deg_s",
        "tilt_speed_deg_s",
        "settle_s",
        "shutter_lag_s",
        "processing_s",
        "processing_spread",
        "file_mb",
        "write_mb_s",
        "file_spread",
    ):
        assert sum(line.startswith(f"no {key} in [") for line in said) == 1, key
    assert any("0.4 MB per megapixel, 9.6 MB a file" in line for line in said)
    assert len(said) == 9


def test_a_settling_time_of_nothing_is_taken_at_its_word() -> None:
    assert "settle" not in _seconds(_plan(head=replace(HEAD, settle_s=0.0)), 1 / 100)


def test_the_way_back_to_a_row_takes_longer_and_a_serpentine_saves_it() -> None:
    plan = _plan()
    columns, rows, step = plan.columns_per_row[0], plan.rows, plan.column_steps_deg[0]
    gaps = np.diff(release_times_s(plan, 5.0))
    assert np.sort(gaps)[: (columns - 1) * rows] == pytest.approx(5.0)
    back_s = (columns - 2) * step / 10.0  # the way back less a step, at 10° a second
    assert gaps[columns - 1 :: columns] == pytest.approx(5.0 + back_s)
    serpentine = np.diff(release_times_s(_plan(sweep=Sweep(serpentine=True)), 5.0))
    assert serpentine.max() < 5.0 + 0.1


def test_a_full_turn_goes_on_instead_of_returning() -> None:
    turn = GridWish(40.0, -20.0, None, None, 0.25, 0.25, full_turn=True)
    gaps = np.diff(release_times_s(_plan(turn), 5.0))
    assert gaps.max() < 5.0 + 0.1


def test_a_buffer_hides_the_shorter_of_two() -> None:
    slow_card = replace(CARD, write_mb_s=5.0)
    plan = _plan(cycle=replace(CYCLE, buffer_frames=5), card=slow_card)
    assert timing_facts(plan, 0.1)[0].camera_s == pytest.approx(2.0)  # the write alone
    assert timing_facts(plan, 3.0)[0].camera_s == pytest.approx(3.6)  # all but the write
    without, _ = timing_facts(_plan(card=slow_card), 0.1)
    assert timing_facts(plan, 0.1)[0].recommended_interval_s <= without.recommended_interval_s


def test_an_interval_of_the_shoot_file_stands_and_its_risk_is_told() -> None:
    hasty, _ = timing_facts(_plan(sweep=Sweep(interval_s=1.2)), 1 / 100)
    assert hasty.interval_s == 1.2
    assert hasty.recommended_interval_s > 1.2
    assert hasty.missing_frame_probability > 0.5
    assert hasty.head_s > hasty.interval_s


def test_a_single_frame_cannot_be_lost() -> None:
    one = _plan(GridWish(1.0, -1.0, -1.0, 1.0, 0.25, 0.25))
    facts, _ = timing_facts(one, 1 / 100)
    assert facts.release_s == (0.0,)
    assert (facts.duration_s, facts.missing_frame_probability) == (0.0, 0.0)
    assert {point.probability for point in facts.curve} == {0.0}


def test_the_same_plan_gives_the_same_curve() -> None:
    first, second = timing_facts(_plan(), 1 / 100)[0], timing_facts(_plan(), 1 / 100)[0]
    assert first == second
    assert all(point.simulated is not None for point in first.curve)


def test_a_huge_sweep_is_not_simulated() -> None:
    huge = make_plan(
        Shoot(
            "",
            CAMERA,
            Lens(900.0),
            GridWish(40.0, -40.0, -60.0, 60.0, 0.3, 0.3),
            Sweep(),
            Conditions(head=HEAD, cycle=CYCLE, card=CARD),
        )
    )
    assert len(huge.cells) > 4000
    facts, _ = timing_facts(huge, 1 / 100)
    assert {point.simulated for point in facts.curve} == {None}


@pytest.mark.parametrize("exposure_s", [0.0, -1.0, float("inf"), float("nan")])
def test_an_exposure_that_is_none_is_refused(exposure_s: float) -> None:
    with pytest.raises(PlanError, match="exposure"):
        timing_facts(_plan(), exposure_s)


def test_a_card_that_does_not_write_is_refused() -> None:
    with pytest.raises(PlanError, match="write_mb_s = 0 in"):
        timing_facts(_plan(card=replace(CARD, write_mb_s=0.0)), 1 / 100)
