"""For any plan and seed the truth agrees with the files: cells, times, counts."""

from __future__ import annotations

import math
from datetime import datetime

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.rehearse import (
    Asleep,
    BatteryEmpty,
    Bumped,
    CardFull,
    ChainTraits,
    Fault,
    HeadTraits,
    LostRow,
    Missing,
    Paused,
    PowerPulled,
    Rehearsal,
    Repeated,
    Restarted,
    Slipped,
    Soft,
    Stuck,
    Taken,
    TrialPictures,
    card_path,
    recorded,
    releases,
    truth_document,
    worth_taking,
)
from belvedere.rehearse.camera_model import FrameRecord, KernelSummary
from belvedere.shoot import Plan, make_plan, parse_shoot
from belvedere.shoot.timing import release_times_s
from belvedere.sphere import camera_from_world, separation_deg

ORDERS = ("rows", "columns")
CORNERS = ("top-left", "top-right", "bottom-left", "bottom-right")


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    full = draw(st.booleans())
    left = draw(st.integers(-60, 0))
    across = "full_turn = true" if full else f"left_deg = {left}\nright_deg = {left + 55}"
    top = draw(st.integers(5, 30))
    return make_plan(
        parse_shoot(f"""
[camera]
sensor_width_mm = 7.44
image_width_px = 64
image_height_px = 48
[lens]
focal_length_mm = {draw(st.sampled_from([20.0, 24.0, 30.5]))}
[grid]
{across}
top_deg = {top}
bottom_deg = {top - draw(st.integers(20, 30))}
overlap = 0.3
[sweep]
order = "{draw(st.sampled_from(ORDERS))}"
start = "{draw(st.sampled_from(CORNERS))}"
serpentine = {str(draw(st.booleans())).lower()}
interval_s = {draw(st.sampled_from([1.5, 3.0, 5.0]))}
""")
    )


def sizes(rehearsal: Rehearsal, sizes_seed: int) -> dict[int, Taken]:
    """Files without pixels: a size for each, and a camera that did as it was set."""
    asked = releases(rehearsal)
    rng = np.random.default_rng(sizes_seed)
    record = FrameRecord(
        1 / 400, 5.6, 100.0, 0.0, (1.0, 1.0, 1.0), None, 0.0, True, (0.0, 0.0),
        KernelSummary(0.45, 0.45, 0.0),
    )  # fmt: skip
    return {place: Taken(int(rng.integers(10**6, 10**7)), record) for place in worth_taking(asked)}


def some_faults(plan: Plan, seed: int) -> tuple[Fault, ...]:
    """Up to one of each, on cells of their own."""
    rng = np.random.default_rng(seed)
    cells = [(cell.row, cell.column) for cell in plan.cells]
    places = [cells[int(i)] for i in 1 + rng.permutation(len(cells) - 2)]
    kinds = [Missing, Repeated, Stuck, Soft, Bumped, Paused, Slipped, Restarted, Asleep]
    chosen = [kinds[int(i)] for i in rng.permutation(len(kinds))]
    faults: list[Fault] = [
        kind(place) for kind, place in zip(chosen, places, strict=False) if rng.random() < 0.5
    ]
    if rng.random() < 0.5:
        faults.append(TrialPictures(2))
    endings = [CardFull, BatteryEmpty, PowerPulled]
    if rng.random() < 0.5:
        faults.append(endings[int(rng.integers(3))](cells[-1]))
    return tuple(faults)


def document_of(rehearsal: Rehearsal, sizes_seed: int) -> dict[str, object]:
    card = recorded(rehearsal, releases(rehearsal), sizes(rehearsal, sizes_seed))
    numbers = [shot.number for shot in card.shots]
    if card.empty_entry is not None:
        numbers.append(card.empty_entry)
    return truth_document(rehearsal, card, {n: card_path(n) for n in numbers}, "none #1")


@settings(max_examples=40)
@given(plans(), st.integers(0, 10_000))
def test_without_faults_every_cell_has_one_perfect_frame(plan: Plan, seed: int) -> None:
    document = document_of(Rehearsal(plan, seed=seed), seed)
    frames, cells = document["frames"], document["cells"]
    assert [tuple(frame["cell"]) for frame in frames] == [(c.row, c.column) for c in plan.cells]
    assert all(frame["wrong"] == [] and frame["happened"] == [] for frame in frames)
    assert all(frame["kept_share"] == 1.0 and frame["role"] == "sweep" for frame in frames)
    assert all(cell["state"] == "good" and cell["happened"] == [] for cell in cells)
    assert document["lost"] == []
    assert "empty_entry" not in document


@settings(max_examples=40)
@given(plans(), st.integers(0, 10_000))
def test_the_clock_keeps_the_planners_timetable(plan: Plan, seed: int) -> None:
    head = HeadTraits(interval_jitter_s=0.0)
    document = document_of(Rehearsal(plan, head=head, seed=seed), seed)
    start = datetime.fromisoformat(document["start"])
    times = [
        (datetime.fromisoformat(frame["taken_at"]) - start).total_seconds()
        for frame in document["frames"]
    ]
    expected = release_times_s(plan, plan.shoot.sweep.interval_s)
    # Times are told to the microsecond.
    assert np.allclose(times, expected, atol=2e-6)


@settings(max_examples=60)
@given(plans(), st.integers(0, 10_000), st.integers(0, 10_000))
def test_with_faults_files_cells_and_lost_releases_add_up(plan: Plan, seed: int, luck: int) -> None:
    faults = some_faults(plan, luck)
    # It is awake again before the next release, however short the interval.
    chain = ChainTraits(wakes_in_s=0.3)
    rehearsal = Rehearsal(plan, faults=faults, seed=seed, chain=chain)
    asked = releases(rehearsal)
    document = document_of(rehearsal, seed)
    frames, cells, lost = document["frames"], document["cells"], document["lost"]
    # Each release is a file or is lost, and the numbers have no gap.
    assert len(frames) + len(lost) == len(asked)
    assert [frame["file"] for frame in frames] == [card_path(401 + i) for i in range(len(frames))]
    times = [frame["taken_at"] for frame in frames]
    assert times == sorted(times)
    # The cells name the files that show them, and no others.
    for cell in cells:
        place = [cell["row"], cell["column"]]
        assert cell["files"] == [f["file"] for f in frames if f["cell"] == place]
        assert (cell["state"] == "missing") == (not cell["files"])
    expected = len(plan.cells) + 2 * any(isinstance(f, TrialPictures) for f in faults)
    for fault in faults:
        if isinstance(fault, Restarted):
            places = [(c.row, c.column) for c in plan.cells]
            expected += places.index(fault.cell)
        expected += isinstance(fault, Repeated)
        expected -= isinstance(fault, Missing | Asleep | CardFull | BatteryEmpty)
    assert len(frames) == expected
    assert ("empty_entry" in document) == any(isinstance(f, PowerPulled) for f in faults)


@settings(max_examples=30)
@given(plans(), st.integers(0, 10_000))
def test_a_slow_camera_loses_releases_and_no_numbers(plan: Plan, seed: int) -> None:
    interval_s = plan.shoot.sweep.interval_s or 3.0
    # 1 to 10 MB at 10 MB in an interval and a half: the larger files take longer than it.
    chain = ChainTraits(write_bytes_per_s=10e6 / (1.5 * interval_s))
    head = HeadTraits(interval_jitter_s=0.0)
    rehearsal = Rehearsal(plan, head=head, seed=seed, chain=chain)
    document = document_of(rehearsal, seed)
    taken = sizes(rehearsal, seed)
    # By hand, cell after cell: without a buffer the camera is busy until the file is written.
    free_s, expected = -math.inf, []
    at_s = release_times_s(plan, interval_s)
    for place, cell in enumerate(plan.cells):
        if at_s[place] < free_s - 1e-5:
            expected.append([cell.row, cell.column])
            continue
        free_s = at_s[place] + 1 / 400 + taken[place].size_bytes / chain.write_bytes_per_s
    assert [one["cell"] for one in document["lost"]] == expected
    assert all(one["why"] == "busy" for one in document["lost"])
    missing = [[c["row"], c["column"]] for c in document["cells"] if c["state"] == "missing"]
    assert missing == expected
    assert all("busy" in c["happened"] for c in document["cells"] if c["state"] == "missing")


@settings(max_examples=30)
@given(plans(), st.integers(0, 10_000), st.integers(1, 3))
def test_a_lost_row_is_a_row_without_files(plan: Plan, seed: int, row: int) -> None:
    row = min(row, plan.rows)
    if plan.rows == 1:
        return
    document = document_of(Rehearsal(plan, faults=(LostRow(row),), seed=seed), seed)
    for cell in document["cells"]:
        assert (cell["state"] == "missing") == (cell["row"] == row)
        assert cell["happened"] == (["lost row"] if cell["row"] == row else [])


@settings(max_examples=30)
@given(plans(), st.integers(0, 10_000))
def test_frames_show_what_the_truth_says(plan: Plan, seed: int) -> None:
    head = HeadTraits(pointing_error_deg=0.0, base_tilt_deg=0.0)
    document = document_of(Rehearsal(plan, head=head, seed=seed), seed)
    for frame in document["frames"]:
        cell = plan.cell(*frame["cell"])
        axis = np.array(frame["camera_from_world"])[2]
        planned = camera_from_world(cell.bearing_deg, cell.elevation_deg)[2]
        assert float(separation_deg(axis, planned)) < 1e-6
        x, y, z, w = frame["quaternion_xyzw"]
        assert math.isclose(x * x + y * y + z * z + w * w, 1.0, rel_tol=1e-12)
        # The camera's axis from the quaternion, by its definition.
        turned = np.array([2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)])
        assert np.allclose(turned, axis, atol=1e-9)
