"""The head: steps, play, scale, slips, knocks, restarts and pauses, against angles by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.rehearse import (
    Asleep,
    Bumped,
    CardFull,
    HeadTraits,
    LostRow,
    Paused,
    PowerPulled,
    Rehearsal,
    Restarted,
    Slipped,
    Slipping,
    Soft,
    card_path,
    parse_fault,
    recorded,
    releases,
    shots,
    truth_document,
)
from belvedere.rehearse.faults import (
    BatteryEmpty,
    Dust,
    Fault,
    Flickering,
    FocusWrong,
    WetLens,
)
from belvedere.rehearse.head import Slip, driven_deg, sweep_times_s
from belvedere.shoot import Plan, make_plan, parse_shoot
from belvedere.shoot.timing import release_times_s
from belvedere.sphere import bearing_elevation_roll
from small_shoot import SMALL_SHOOT

EXACT = HeadTraits(pointing_error_deg=0.0, base_tilt_deg=0.0, interval_jitter_s=0.0)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(parse_shoot(SMALL_SHOOT))


def planned(plan: Plan) -> np.ndarray:
    return np.array([(cell.bearing_deg, cell.elevation_deg) for cell in plan.cells])


def looks(rehearsal: Rehearsal) -> np.ndarray:
    """Bearing and elevation of each frame."""
    return np.array([bearing_elevation_roll(s.camera_from_world)[:2] for s in shots(rehearsal)])


def test_an_exact_head_stops_where_it_is_sent(plan: Plan) -> None:
    assert driven_deg(EXACT, plan, plan.cells) == pytest.approx(planned(plan), abs=1e-12)


def test_moves_are_whole_steps_from_the_first_cell(plan: Plan) -> None:
    head = replace(EXACT, pan_step_deg=0.9, tilt_step_deg=0.45)
    driven = driven_deg(head, plan, plan.cells)
    steps = (driven - driven[0]) / [0.9, 0.45]
    assert steps == pytest.approx(np.round(steps), abs=1e-9)
    # Rounding is off by half a step at the most.
    assert np.abs(driven - planned(plan)).max(axis=0)[0] <= 0.45 + 1e-9
    assert np.abs(driven - planned(plan)).max(axis=0)[1] <= 0.225 + 1e-9


def test_play_shows_where_the_direction_changes(plan: Plan) -> None:
    """Half the play behind when coming from the left, half beyond when coming from the right."""
    driven = driven_deg(replace(EXACT, backlash_deg=0.2), plan, plan.cells)
    off = (driven - planned(plan))[:, 0].reshape(4, 5)
    assert off[0] == pytest.approx([-0.1] * 5)  # the first cell, too, is come to from the left
    for row in off[1:]:
        # The way back to the first column goes to the left, all others to the right.
        assert row == pytest.approx([0.1, -0.1, -0.1, -0.1, -0.1])


def test_serpentine_rows_come_from_either_side() -> None:
    plan = make_plan(parse_shoot(SMALL_SHOOT + "serpentine = true\n"))
    driven = driven_deg(replace(EXACT, backlash_deg=0.2), plan, plan.cells)
    off = (driven - planned(plan))[:, 0].reshape(4, 5)
    # A row begins where the last one ended: that cell keeps the side it was come to from.
    assert off[0] == pytest.approx([-0.1] * 5)
    assert off[1] == pytest.approx([-0.1, 0.1, 0.1, 0.1, 0.1])
    assert off[2] == pytest.approx([0.1, -0.1, -0.1, -0.1, -0.1])


def test_both_axes_have_a_scale_of_their_own(plan: Plan) -> None:
    head = replace(EXACT, step_scale_error=0.01, tilt_scale_error=-0.02)
    ideal = planned(plan)
    expected = ideal[0] + (ideal - ideal[0]) * [1.01, 0.98]
    assert driven_deg(head, plan, plan.cells) == pytest.approx(expected)


def test_one_slip_stays_to_the_end(plan: Plan) -> None:
    # Cell 2,3 is the eighth visit; the head comes from the left, so it stops to the left.
    rehearsal = Rehearsal(plan, head=EXACT, faults=(Slipped((2, 3), 0.7),))
    off = looks(rehearsal) - planned(plan)
    assert off[:7] == pytest.approx(np.zeros((7, 2)), abs=1e-9)
    assert off[7:] == pytest.approx(np.tile([-0.7, 0.0], (13, 1)), abs=1e-9)


def test_a_slipping_head_falls_behind_with_every_move(plan: Plan) -> None:
    rehearsal = Rehearsal(plan, head=EXACT, faults=(Slipping((1, 3), 0.05),))
    off = (looks(rehearsal) - planned(plan))[:, 0]
    step = plan.column_steps_deg[0]
    # By hand: 5 % of each step from the second on; the way back, as long, takes it off again.
    assert off[:5] == pytest.approx(np.array([0.0, 0.0, -0.05, -0.10, -0.15]) * step, abs=1e-9)
    assert off[5] == pytest.approx((-0.15 + 0.05 * 4) * step, abs=1e-9)


def test_a_frame_belongs_to_the_cell_that_it_shows(plan: Plan) -> None:
    step = plan.column_steps_deg[0]
    taken = shots(Rehearsal(plan, head=EXACT, faults=(Slipped((2, 3), 0.9 * step),)))
    by_sent = {shot.sent_to: shot.cell for shot in taken}
    assert by_sent[2, 2] == (2, 2)
    assert by_sent[2, 3] == (2, 2)
    assert by_sent[2, 5] == (2, 4)
    assert by_sent[3, 1] is None or by_sent[3, 1] == (3, 1)


def test_a_knock_turns_the_base_for_good_and_by_the_angle_asked(plan: Plan) -> None:
    sound = shots(Rehearsal(plan))
    knocked = shots(Rehearsal(plan, faults=(Bumped((3, 2), 1.5),)))
    turns = [
        before.camera_from_world.T @ after.camera_from_world
        for before, after in zip(sound, knocked, strict=True)
    ]
    angles = np.degrees(np.arccos(np.clip([(np.trace(t) - 1.0) / 2.0 for t in turns], -1, 1)))
    assert angles[:11] == pytest.approx(np.zeros(11), abs=1e-5)
    assert angles[11:] == pytest.approx([1.5] * 9, abs=1e-6)


def test_after_a_restart_the_sweep_is_whole(plan: Plan) -> None:
    taken = shots(Rehearsal(plan, faults=(Restarted((2, 3)), Soft((1, 2)))))
    assert [shot.role for shot in taken] == ["given up"] * 7 + ["sweep"] * 20
    assert [shot.cell for shot in taken[7:]] == [(c.row, c.column) for c in plan.cells]
    gap_s = (taken[7].asked_at - taken[6].asked_at).total_seconds()
    assert 25.0 < gap_s < 65.0
    # What was asked for 1,2 happens in the sweep that counts.
    soft = [shot.exposure.blur.defocus_px > 0.0 for shot in taken if shot.cell == (1, 2)]
    assert soft == [False, True]


def test_a_pause_takes_its_minutes_and_nothing_else(plan: Plan) -> None:
    sound = shots(Rehearsal(plan))
    paused = shots(Rehearsal(plan, faults=(Paused((2, 1), 4.0),)))
    late = [
        (after.taken_at - before.taken_at).total_seconds()
        for before, after in zip(sound, paused, strict=True)
    ]
    assert late == pytest.approx([0.0] * 5 + [240.0] * 15, abs=1e-5)
    assert all(
        np.array_equal(a.camera_from_world, b.camera_from_world)
        for a, b in zip(sound, paused, strict=True)
    )


def test_a_full_turn_goes_the_shorter_way_round_as_the_planner_says() -> None:
    text = SMALL_SHOOT.replace("left_deg = -25.0\nright_deg = 25.0", "full_turn = true")
    plan = make_plan(parse_shoot(text.replace("columns = 5\n", "")))
    times = sweep_times_s(EXACT, plan, plan.cells, np.random.default_rng(1))
    assert times == pytest.approx(release_times_s(plan, 3.0))
    driven = driven_deg(EXACT, plan, plan.cells)
    # The first column of the next row lies one step ahead of the last one: no way back.
    moves = np.diff(driven[:, 0])
    assert np.abs(moves).max() < 1.5 * plan.column_steps_deg[0]
    assert (driven - planned(plan))[:, 0] % 360.0 == pytest.approx(0.0, abs=1e-9)


def test_slips_on_the_axis_that_moves() -> None:
    plan = make_plan(parse_shoot(SMALL_SHOOT + 'order = "columns"\n'))
    driven = driven_deg(EXACT, plan, plan.cells, (Slip(1, by_deg=0.5),))
    # Down a column only the tilt moves, downwards: it stays half a degree too high.
    assert (driven - planned(plan))[1:] == pytest.approx(np.tile([0.0, 0.5], (19, 1)))


def happened(plan: Plan, *faults: Fault) -> dict[tuple[int, int], tuple[str, list[str]]]:
    rehearsal = Rehearsal(plan, faults=faults)
    card = recorded(rehearsal, releases(rehearsal), {})
    numbers = [s.number for s in card.shots] + [card.empty_entry or 0]
    document = truth_document(rehearsal, card, {n: card_path(n) for n in numbers if n}, "none #1")
    return {(c["row"], c["column"]): (c["state"], c["happened"]) for c in document["cells"]}


def test_the_truth_says_why_a_cell_has_no_file(plan: Plan) -> None:
    asleep = happened(plan, Asleep((2, 2)))
    assert asleep[2, 2] == ("missing", ["asleep"])
    row = happened(plan, LostRow(3))
    assert [row[3, c] for c in range(1, 6)] == [("missing", ["lost row"])] * 5
    full = happened(plan, CardFull((4, 3)))
    assert [full[4, c] for c in (2, 3, 4)] == [
        ("good", []), ("missing", ["card full"]), ("missing", ["card full"]),
    ]  # fmt: skip
    pulled = happened(plan, PowerPulled((4, 3), 0.3))
    # Of the second there is an entry without content: a damaged file, not none.
    assert [pulled[4, c] for c in (2, 3, 4, 5)] == [
        ("good", []), ("corrupt", ["power pulled"]), ("corrupt", ["power pulled"]),
        ("missing", ["power pulled"]),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        ("missing@3,7", parse_fault("missing 3,7")),
        ("exposure@3,7 -0.7 onwards", parse_fault("exposure 3,7 -0.7 onwards")),
        ("lost row 3", LostRow(3)),
        ("lost-row@3", LostRow(3)),
        ("bumped 3,7 1.5°", Bumped((3, 7), 1.5)),
        ("slipped 3,7", Slipped((3, 7))),
        ("slipping 3,7 2%", Slipping((3, 7), 0.02)),
        ("restart 3,7", Restarted((3, 7))),
        ("pause 3,7 5 min", None),
        ("pause 3,7 5min", Paused((3, 7), 5.0)),
        ("asleep 3,7", Asleep((3, 7))),
        ("card full 3,7", CardFull((3, 7))),
        ("battery-empty@3,7", BatteryEmpty((3, 7))),
        ("power pulled 3,7 50", PowerPulled((3, 7), 0.5)),
        ("autofocus 3,7 4m", FocusWrong((3, 7), 4.0)),
        ("flicker 3,7 0.3 onwards", Flickering((3, 7), 0.3, onwards=True)),
        ("wet lens 3,7 2", WetLens((3, 7), 2)),
        ("dust", Dust()),
        ("dust 20", Dust(20)),
        ("lost row", None),
        ("bumped 3,7 40", None),
        ("card full", None),
    ],
)
def test_new_faults_as_people_say_them(words: str, fault: Fault | None) -> None:
    if fault is None:
        with pytest.raises(PlanError, match="Say it like"):
            parse_fault(words)
    else:
        assert parse_fault(words) == fault


@pytest.mark.parametrize(
    ("faults", "says"),
    [
        ((LostRow(9),), "not sent to row 9"),
        ((Restarted((1, 1)),), "nothing to restart"),
        ((Restarted((1, 2)), Restarted((2, 2))), "restarted only once"),
        ((CardFull((2, 2)), Soft((3, 3))), "no frame that could have soft"),
        ((LostRow(2), Soft((2, 3))), "no frame that could have soft"),
        ((Asleep((2, 2)), Soft((2, 2))), "no frame that could have soft"),
    ],
)
def test_what_cannot_go_wrong_is_refused(plan: Plan, faults: tuple[Fault, ...], says: str) -> None:
    with pytest.raises(PlanError, match=says):
        releases(Rehearsal(plan, faults=faults))
