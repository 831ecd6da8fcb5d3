"""What is decided before a picture is taken: pointing, times, numbers, and each fault."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.rehearse import (
    ColourJump,
    ExposureJump,
    HeadTraits,
    Missing,
    Rehearsal,
    Repeated,
    Shaken,
    Shot,
    Soft,
    Stuck,
    TrialPictures,
    Truncated,
    card_path,
    frame_states,
    parse_fault,
    parse_places,
    random_faults,
    recorded,
    releases,
    shots,
    truth_document,
)
from belvedere.rehearse.stated import card_number
from belvedere.shoot import Plan, make_plan, parse_shoot
from belvedere.sphere import bearing_elevation_roll, camera_from_world, direction, separation_deg
from small_shoot import SMALL_SHOOT


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(parse_shoot(SMALL_SHOOT))


def places(taken: tuple[Shot, ...]) -> list[tuple[int, int] | None]:
    return [shot.cell for shot in taken]


def test_a_sweep_without_faults_has_one_frame_per_cell_in_order(plan: Plan) -> None:
    taken = shots(Rehearsal(plan))
    assert places(taken) == [(cell.row, cell.column) for cell in plan.cells]
    assert [shot.number for shot in taken] == list(range(401, 421))
    assert all(frame_states(shot, Rehearsal(plan).camera) == [] for shot in taken)


def test_the_head_points_where_it_was_told_but_for_tilt_and_errors(plan: Plan) -> None:
    perfect = replace(Rehearsal(plan), head=HeadTraits(0.0, 0.0, 0.0))
    for shot, cell in zip(shots(perfect), plan.cells, strict=True):
        expected = camera_from_world(cell.bearing_deg, cell.elevation_deg)
        assert np.allclose(shot.camera_from_world, expected, atol=1e-12)


def test_pointing_errors_have_the_spread_asked(plan: Plan) -> None:
    head = HeadTraits(pointing_error_deg=0.05, base_tilt_deg=0.0)
    errors = []
    for seed in range(40):
        taken = shots(Rehearsal(plan, head=head, seed=seed))
        for shot, cell in zip(taken, plan.cells, strict=True):
            bearing, elevation, roll = bearing_elevation_roll(shot.camera_from_world)
            errors.append((bearing - cell.bearing_deg, elevation - cell.elevation_deg, roll))
    # 800 draws: the standard error of a standard deviation is 2.5 %.
    assert np.std(errors, axis=0) == pytest.approx([0.05] * 3, rel=0.1)
    assert np.mean(errors, axis=0) == pytest.approx([0.0] * 3, abs=0.006)


def test_a_tilted_base_turns_all_frames_alike(plan: Plan) -> None:
    head = HeadTraits(pointing_error_deg=0.0, base_tilt_deg=1.0)
    rehearsal = Rehearsal(plan, head=head, seed=5)
    turns = [
        camera_from_world(cell.bearing_deg, cell.elevation_deg).T @ shot.camera_from_world
        for shot, cell in zip(shots(rehearsal), plan.cells, strict=True)
    ]
    for turn in turns:
        assert np.allclose(turn, turns[0], atol=1e-12)
    # The zenith moves by the tilt, and by nothing else.
    up = direction(0.0, 90.0)
    assert float(separation_deg(turns[0] @ up, up)) == pytest.approx(1.0, abs=1e-9)


def test_a_step_error_grows_with_the_way_from_the_first_cell(plan: Plan) -> None:
    head = HeadTraits(pointing_error_deg=0.0, base_tilt_deg=0.0, step_scale_error=0.01)
    taken = shots(Rehearsal(plan, head=head))
    first = plan.cells[0].bearing_deg
    for shot, cell in zip(taken, plan.cells, strict=True):
        bearing, _, _ = bearing_elevation_roll(shot.camera_from_world)
        assert bearing == pytest.approx(first + 1.01 * (cell.bearing_deg - first), abs=1e-9)


def test_the_clock_ticks_by_the_interval_and_longer_at_row_changes(plan: Plan) -> None:
    taken = shots(Rehearsal(plan))
    gaps = np.diff([shot.taken_at.timestamp() for shot in taken])
    within = [gap for index, gap in enumerate(gaps) if (index + 1) % 5]
    change = [gap for index, gap in enumerate(gaps) if not (index + 1) % 5]
    assert np.allclose(within, 3.0, atol=0.4)
    # The interval holds for the usual move; the way back is three steps longer than that.
    longer = plan.cell(1, 5).bearing_deg - plan.cell(1, 2).bearing_deg
    assert np.allclose(change, 3.0 + longer / HeadTraits().speed_deg_per_s, atol=0.4)


def test_a_missing_frame_leaves_a_gap_in_time_and_none_in_the_numbers(plan: Plan) -> None:
    taken = shots(Rehearsal(plan, faults=(Missing((2, 3)),)))
    assert (2, 3) not in places(taken)
    assert [shot.number for shot in taken] == list(range(401, 420))
    before, after = taken[6], taken[7]
    assert (before.cell, after.cell) == ((2, 2), (2, 4))
    assert (after.taken_at - before.taken_at).total_seconds() == pytest.approx(6.0, abs=0.4)


def test_a_fault_changes_nothing_else(plan: Plan) -> None:
    sound = shots(Rehearsal(plan))
    spoilt = shots(Rehearsal(plan, faults=(Missing((2, 3)), Soft((3, 3)), TrialPictures(2))))
    rotations = {shot.cell: shot.camera_from_world for shot in sound}
    times = {shot.cell: shot.taken_at for shot in sound}
    for shot in spoilt[2:]:
        assert np.array_equal(shot.camera_from_world, rotations[shot.cell])
        assert shot.taken_at == times[shot.cell]


def test_a_repeated_frame_is_one_more_of_the_same_view(plan: Plan) -> None:
    taken = shots(Rehearsal(plan, faults=(Repeated((2, 3)),)))
    first, second = (shot for shot in taken if shot.cell == (2, 3))
    assert len(taken) == 21
    assert second.role == "repeated"
    assert np.array_equal(first.camera_from_world, second.camera_from_world)
    assert 0.0 < (second.taken_at - first.taken_at).total_seconds() < 3.0
    assert first.stream != second.stream


def test_a_stuck_head_shows_the_cell_before(plan: Plan) -> None:
    taken = shots(Rehearsal(plan, faults=(Stuck((2, 3)),)))
    stuck = next(shot for shot in taken if shot.sent_to == (2, 3))
    before = next(shot for shot in taken if shot.sent_to == (2, 2))
    assert stuck.role == "stuck"
    assert stuck.cell == (2, 2)
    assert np.array_equal(stuck.camera_from_world, before.camera_from_world)
    assert (2, 3) not in places(taken)


def test_exposure_and_colour_jump_at_one_cell_or_from_it_on(plan: Plan) -> None:
    faults = (
        ExposureJump((1, 4), -0.8, onwards=False),
        ExposureJump((3, 1), 0.5, onwards=True, stated=True),
        ColourJump((3, 3), 1.3, 0.75, onwards=True),
    )
    taken = {shot.cell: shot for shot in shots(Rehearsal(plan, faults=faults))}
    order = [(cell.row, cell.column) for cell in plan.cells]
    for index, place in enumerate(order):
        ev = -0.8 if place == (1, 4) else 0.5 if index >= order.index((3, 1)) else 0.0
        # The usual jitter is 0.01 EV: five times that is never reached in 20 draws of this seed.
        assert taken[place].exposure.ev == pytest.approx(ev, abs=0.05)
        told = 2.0**0.5 if index >= order.index((3, 1)) else 1.0
        assert taken[place].stated_exposure_s == pytest.approx(told / 400.0)
        gains = (1.3, 1.0, 0.75) if index >= order.index((3, 3)) else (1.0, 1.0, 1.0)
        assert taken[place].exposure.white_balance == pytest.approx(gains)


def test_test_pictures_come_before_the_sweep(plan: Plan) -> None:
    rehearsal = Rehearsal(plan, faults=(TrialPictures(3),))
    taken = shots(rehearsal)
    assert [shot.role for shot in taken[:4]] == ["before the sweep"] * 3 + ["sweep"]
    times = [shot.taken_at for shot in taken]
    assert times == sorted(times)
    assert (times[3] - times[2]).total_seconds() > 10.0


def test_truth_says_of_each_cell_what_became_of_it(plan: Plan) -> None:
    faults = (
        Missing((1, 2)),
        Stuck((1, 4)),
        Soft((2, 1), 2.0),
        Shaken((2, 2), 7.0, 40.0),
        Soft((2, 3)),
        Repeated((2, 3)),
        ExposureJump((3, 1), 0.5),
        ColourJump((3, 2)),
        Truncated((3, 3), 0.4),
        Truncated((4, 1)),
        Soft((4, 1)),
    )
    rehearsal = Rehearsal(plan, faults=faults)
    taken = shots(rehearsal)
    files = {shot.number: card_path(shot.number) for shot in taken}
    card = recorded(rehearsal, releases(rehearsal), {})
    document = truth_document(rehearsal, card, files, "sketch #1")
    states = {(cell["row"], cell["column"]): cell["state"] for cell in document["cells"]}
    bad = {place: state for place, state in states.items() if state != "good"}
    assert bad == {
        (1, 2): "missing",
        (1, 4): "missing",
        (2, 1): "soft",
        (2, 2): "shaken",
        (3, 1): "exposure",
        (3, 2): "colour",
        (3, 3): "corrupt",
        (4, 1): "corrupt",
    }
    both = next(frame for frame in document["frames"] if frame["cell"] == [4, 1])
    assert both["wrong"] == ["corrupt", "soft"]


def test_a_retake_keeps_the_tripod_and_its_own_errors(plan: Plan) -> None:
    sweep = Rehearsal(plan, seed=9)
    retake = replace(sweep, only=((3, 2), (1, 5)), first_number=421)
    again = shots(retake)
    assert places(again) == [(3, 2), (1, 5)]
    assert np.array_equal(sweep.base(), retake.base())
    first = {shot.cell: shot for shot in shots(sweep)}
    for shot in again:
        apart = separation_deg(shot.camera_from_world[2], first[shot.cell].camera_from_world[2])
        assert 0.0 < float(apart) < 0.3


@pytest.mark.parametrize(
    ("faults", "says"),
    [
        ((Soft((9, 9)),), "The head is not sent to cell 9,9 (soft)"),
        ((Stuck((1, 1)),), "where it starts"),
        ((Missing((2, 2)), Soft((2, 2))), "Cell 2,2 has no frame that could have soft"),
        ((Soft((2, 2)), Soft((2, 2), 1.0)), "Cell 2,2 has the fault soft twice"),
    ],
)
def test_impossible_faults_are_refused(plan: Plan, faults: tuple[Soft, ...], says: str) -> None:
    with pytest.raises(PlanError) as refused:
        shots(Rehearsal(plan, faults=faults))
    assert says in str(refused.value)


def test_unknown_cells_of_a_retake_are_refused(plan: Plan) -> None:
    with pytest.raises(PlanError, match="no cell 7,7"):
        shots(Rehearsal(plan, only=((7, 7),)))


@pytest.mark.parametrize(
    ("words", "fault"),
    [
        ("missing 3,7", Missing((3, 7))),
        ("repeated 3,7", Repeated((3, 7))),
        ("stuck 3,7", Stuck((3, 7))),
        ("soft 3,7 2.5", Soft((3, 7), 2.5)),
        ("soft 3,7", Soft((3, 7))),
        ("shaken 3,7 8 at 30", Shaken((3, 7), 8.0, 30.0)),
        ("Shaken 3,7 8px at 30°", Shaken((3, 7), 8.0, 30.0)),
        ("exposure 3,7 +0.7", ExposureJump((3, 7), 0.7)),
        ("exposure 3,7 -0.7ev onwards stated", ExposureJump((3, 7), -0.7, True, True)),
        ("colour 3,7", ColourJump((3, 7))),
        ("colour 3,7 1.25 0.8 onwards", ColourJump((3, 7), 1.25, 0.8, True)),
        ("truncated 3,7 60%", Truncated((3, 7), 0.6)),
        ("tests 2", TrialPictures(2)),
    ],
)
def test_faults_are_understood_as_people_say_them(words: str, fault: object) -> None:
    assert parse_fault(words) == fault


@pytest.mark.parametrize(
    "words",
    ["", "mising 3,7", "missing", "missing 3", "missing 3,x", "missing 3,7 8", "soft 3,7 much",
     "soft 3,7 99", "colour 3,7 1.2", "colour 3,7 1.2 nan", "exposure 3,7 9", "tests 0",
     "truncated 3,7 100"],
)  # fmt: skip
def test_what_cannot_be_understood_is_refused_with_the_form_to_use(words: str) -> None:
    with pytest.raises(PlanError) as refused:
        parse_fault(words)
    assert refused.value.remedy
    assert "\n" not in str(refused.value)


def test_a_misspelt_fault_names_the_nearest() -> None:
    with pytest.raises(PlanError, match="Did you mean “missing”"):
        parse_fault("mising 3,7")


def test_cells_of_a_retake_are_listed_by_row_and_column() -> None:
    assert parse_places("3,7 4,9") == ((3, 7), (4, 9))
    with pytest.raises(PlanError, match="like “3,7 4,9”"):
        parse_places("3/7")


def test_file_numbers_go_on_into_the_next_folder() -> None:
    # DCF (CIPA DC-009): 0001 to 9999 in a folder, folders from 100; from memory.
    assert card_path(9999) == "DCIM/100SALTM/PIC_9999.JPG"
    assert card_path(10_000) == "DCIM/101SALTM/PIC_0001.JPG"
    for number in (1, 412, 9999, 10_000, 19_999):
        assert card_number(card_path(number)) == number


def test_random_faults_are_of_the_size_a_bench_wants(plan: Plan) -> None:
    kinds: set[type] = set()
    for seed in range(60):
        faults = random_faults(plan, np.random.default_rng(seed), 4)
        assert len({fault.cell for fault in faults}) == 4
        shots(Rehearsal(plan, faults=faults))
        for fault in faults:
            kinds.add(type(fault))
            if isinstance(fault, Soft):
                assert 1.5 <= fault.blur_px <= 4.0
            elif isinstance(fault, Shaken):
                assert 3.0 <= fault.length_px <= 12.0
            elif isinstance(fault, ExposureJump):
                assert 0.3 <= abs(fault.ev) <= 1.0
            elif isinstance(fault, Truncated):
                assert 0.2 <= fault.kept <= 0.95
    assert kinds == {Missing, Soft, Shaken, ExposureJump, ColourJump, Truncated}
