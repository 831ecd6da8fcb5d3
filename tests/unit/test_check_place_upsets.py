"""Sweeps that did not go as planned, from small pictures with known truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.check import Placing, place, sightings
from belvedere.check.moves import Moves
from belvedere.check.neighbours import LEAST_SHARE, neighbours
from belvedere.foundation import finish
from belvedere.shoot import Plan
from check_synthetic import HEIGHT, WIDTH, Shot, frames_of, pictures_of, plan_of, texture

N = 24
EVERY = list(range(N))


def swept(cells: list[int], pauses_s: dict[int, float] | None = None) -> list[Shot]:
    """Frames in the rhythm of 3 s a cell; before the frame with an index so many seconds pass."""
    now, shots = 100.3, []
    for index, cell in enumerate(cells):
        steps = cell - cells[index - 1] if index else 0
        now += 3.0 * (0.4 if index and steps == 0 else max(steps, 0))
        now += (pauses_s or {}).get(index, 0.0)
        shots.append(Shot(cell, now))
    return shots


def placed(
    shots: list[Shot], *, plain_rows: int = 0, silent: bool = False, plan: Plan | None = None
) -> Placing:
    plan = plan or plan_of(4, 6)
    pictures = pictures_of(plan, shots, 1, plain_rows=plain_rows)
    return placed_pictures(shots, pictures, plan, silent=silent)


def placed_pictures(
    shots: list[Shot], pictures: list[NDArray[np.uint8]], plan: Plan, *, silent: bool = False
) -> Placing:
    frames = frames_of(shots)
    if silent:
        frames = [replace(frame, taken_at=None) for frame in frames]
    small = {frame.file: picture for frame, picture in zip(frames, pictures, strict=True)}
    return finish(place(frames, sightings(frames, small), plan))


@pytest.mark.parametrize("taken", [2, 9, 20, N])
@pytest.mark.parametrize("silent", [False, True])
def test_sweep_begun_anew_is_two_sweeps_on_one_card(taken: int, silent: bool) -> None:
    cells = EVERY[:taken] + EVERY
    found = placed(swept(cells, {taken: 40.0}), silent=silent)
    assert found.cell.tolist() == cells
    assert found.confidence.min() > 0.99


@pytest.mark.parametrize("silent", [False, True])
@pytest.mark.parametrize("plain_rows", [0, 1])
def test_lost_row_in_the_middle_is_that_row(silent: bool, plain_rows: int) -> None:
    """No two frames overlap across the gap: what fits least well is not simply closed up."""
    cells = [k for k in EVERY if not 6 <= k < 12]
    found = placed(swept(cells), silent=silent, plain_rows=plain_rows)
    assert found.cell.tolist() == cells
    if plain_rows and silent:
        # Nothing to see and no clock: it could be the first row as well, and that is said.
        assert found.confidence[:6].max() < 0.9


@pytest.mark.parametrize("cells", [EVERY[6:], EVERY[:-6]])
def test_first_row_or_last_row_lost_look_alike_and_nothing_is_sure(cells: list[int]) -> None:
    assert placed(swept(cells)).confidence.max() < 0.9


@pytest.mark.parametrize("jump_s", [600.0, 3600.0, -3600.0, -13.0])
def test_pause_and_clocks_that_are_set_cost_nothing(jump_s: float) -> None:
    found = placed(swept(EVERY, {10: jump_s}), plain_rows=1)
    assert found.cell.tolist() == EVERY
    assert found.confidence.min() > 0.99


def test_released_twice_in_plain_sky() -> None:
    cells = sorted([*EVERY, 2, 9])
    assert placed(swept(cells), plain_rows=1).cell.tolist() == cells


@pytest.mark.parametrize("serpentine", [False, True])
@pytest.mark.parametrize(
    ("stuck", "plain_rows"), [(3, 0), *((k, plain) for k in (8, 12, 18, 21) for plain in (0, 1))]
)
def test_head_that_stood_still_takes_the_cell_before_once_more(
    stuck: int, serpentine: bool, plain_rows: int
) -> None:
    """In rhythm, so the clock tells nothing; 12 and 18 are the first cells of rows."""
    cells = [k - 1 if k == stuck else k for k in EVERY]
    shots = [Shot(cell, 100.3 + 3.0 * index) for index, cell in enumerate(cells)]
    plan = plan_of(4, 6, serpentine=serpentine)
    assert placed(shots, plain_rows=plain_rows, plan=plan).cell.tolist() == cells


def test_card_that_ends_early() -> None:
    found = placed(swept(EVERY[:11]))
    assert found.cell.tolist() == EVERY[:11]


def shifted(
    plan: Plan, shift_px: NDArray[np.int64], moves_plain: int = 0
) -> list[NDArray[np.uint8]]:
    """Pictures of all cells, each looking so far aside; the rows above `moves_plain` only.

    With `moves_plain` the scene's upper part is looked at aside, the lower one stays: clouds.
    """
    scale, rng = plan.scale_px_per_deg, np.random.default_rng(5)
    margin = int(np.abs(shift_px).max()) + 8
    left = min(cell.bearing_deg for cell in plan.cells)
    top = max(cell.elevation_deg for cell in plan.cells)
    across = max(cell.bearing_deg for cell in plan.cells) - left
    down = top - min(cell.elevation_deg for cell in plan.cells)
    height = round(down * scale) + HEIGHT + 2 * margin
    width = round(across * scale) + WIDTH + 2 * margin
    scene = texture(3, height, width)
    sky = texture(4, height, width)
    pictures = []
    for cell, (dx, dy) in zip(plan.cells, shift_px, strict=True):
        x = round((cell.bearing_deg - left) * scale) + margin
        y = round((top - cell.elevation_deg) * scale) + margin
        seen = scene[y + (0 if moves_plain else dy) :, x + (0 if moves_plain else dx) :]
        picture = seen[:HEIGHT, :WIDTH].astype(np.float32)
        if moves_plain:
            horizon = round((moves_plain - 0.2) * plan.row_step_deg * scale) + margin
            above = max(0, min(HEIGHT, horizon - y))
            picture[:above] = sky[y + dy :, x + dx :][:above, :WIDTH]
        noisy = picture + rng.normal(0.0, 0.6, picture.shape)
        pictures.append(np.clip(noisy, 0, 255).astype(np.uint8))
    return pictures


@pytest.mark.parametrize("serpentine", [False, True])
@pytest.mark.parametrize(("dx", "dy"), [(14, 0), (-30, 10), (50, 0), (90, 0), (0, 60)])
def test_knocked_tripod_keeps_its_cells(serpentine: bool, dx: int, dy: int) -> None:
    """Displacements across the knock disagree with the plan, up to half a frame."""
    plan = plan_of(5, 8, serpentine=serpentine)
    count = len(plan.cells)
    aside = np.where(np.arange(count)[:, None] >= 13, [dx, dy], [0, 0])
    found = placed_pictures(swept(list(range(count))), shifted(plan, aside), plan)
    assert found.cell.tolist() == list(range(count))
    assert found.confidence.min() > 0.99


@pytest.mark.parametrize("columns_a_row", [-0.9, 0.5, 1.0])
def test_clouds_that_sail_on_by_a_column_do_not_carry_a_row_with_them(columns_a_row: float) -> None:
    """Every frame of sky agrees on the wrong column; the clock and the houses know better."""
    plan = plan_of(5, 8)
    step_px = float(WIDTH * 0.7)
    sailed = np.round(columns_a_row * step_px * np.arange(40) / 8.0).astype(np.int64)
    aside = np.column_stack([sailed, np.zeros(40, dtype=np.int64)])
    found = placed_pictures(swept(list(range(40))), shifted(plan, aside, moves_plain=3), plan)
    assert found.cell.tolist() == list(range(40))


@pytest.mark.parametrize("focal", [1.0, 0.7, 1.3])
def test_neighbours_are_all_that_share_a_part(focal: float) -> None:
    """Against looking at every pair, for other focal lengths than planned too."""
    moves = Moves.of_plan(plan_of(7, 9))
    moves = replace(moves, linear=focal * np.eye(2))
    near = neighbours(moves)
    every = np.arange(moves.count)
    for k in every:
        shift = moves.expected(np.full(moves.count, k), every)
        shift[k] = 0.0
        wanted = np.flatnonzero(moves.share(shift) >= LEAST_SHARE)
        assert near.cell[near.rows(int(k))].tolist() == wanted.tolist()
