"""Sweeps that did not go as planned, from small pictures with known truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.check import Placing, place, sightings
from belvedere.check.moves import Moves
from belvedere.check.neighbours import LEAST_SHARE, neighbours
from belvedere.foundation import finish
from belvedere.shoot import Plan
from check_synthetic import HEIGHT, WIDTH, Shot, frames_of, pictures_of, plan_of, texture

Scene = Callable[[int], NDArray[np.floating]]

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


def test_card_that_ends_in_the_middle_of_a_line_began_at_the_first_one() -> None:
    """A battery that is empty is one mishap; lines lost at the beginning would be a second one."""
    found = placed(swept(list(range(57))), plan=plan_of(8, 12, serpentine=True))
    assert found.cell.tolist() == list(range(57))


@pytest.mark.parametrize("silent", [False, True])
@pytest.mark.parametrize("waves", [(18,), (17, 18, 19), (10, 11, 12, 18, 19, 20)])
def test_frames_of_waves_that_no_neighbour_knows_keep_their_cells(
    waves: tuple[int, ...], silent: bool
) -> None:
    """Whatever is between two frames of the sweep, in its rhythm, is a frame of the sweep."""
    plan = plan_of(5, 8)
    shots = swept(list(range(40)))
    pictures = pictures_of(plan, shots, 1)
    for k in waves:
        pictures[k] = texture(1000 + k, HEIGHT, WIDTH)
    found = placed_pictures(shots, pictures, plan, silent=silent)
    assert found.cell.tolist() == list(range(40))


def looked(plan: Plan, cells: list[int], scene: Scene, seed: int = 7) -> list[NDArray[np.uint8]]:
    """Pictures of `cells` through a lens with falloff; `scene` (frame) is what there is then."""
    rng = np.random.default_rng(seed)
    across = (np.arange(WIDTH) / WIDTH - 0.5)[None]
    down = (np.arange(HEIGHT) / HEIGHT - 0.5)[:, None]
    falloff = 1.0 - 0.25 * (across**2 + down**2)
    pictures = []
    for t, k in enumerate(cells):
        x, y = corner_of(plan, k)
        light = scene(t)[y : y + HEIGHT, x : x + WIDTH] * falloff
        noisy = np.rint(light + rng.normal(0.0, 0.4, light.shape))
        pictures.append(np.clip(noisy, 0, 255).astype(np.uint8))
    return pictures


def corner_of(plan: Plan, cell: int) -> tuple[int, int]:
    """Column and row of the scene where a cell's picture begins."""
    left = min(one.bearing_deg for one in plan.cells)
    top = max(one.elevation_deg for one in plan.cells)
    scale, one = plan.scale_px_per_deg, plan.cells[cell]
    return round((one.bearing_deg - left) * scale), round((top - one.elevation_deg) * scale)


def scene_size(plan: Plan) -> tuple[int, int]:
    """Rows and columns of a scene that holds all cells."""
    corners = np.array([corner_of(plan, k) for k in range(len(plan.cells))])
    return int(corners[:, 1].max()) + HEIGHT, int(corners[:, 0].max()) + WIDTH


@pytest.mark.parametrize("stuck", [3, 6, 12])
def test_head_that_stood_still_before_a_fog_bank(stuck: int) -> None:
    """One wisp of cloud in plain fog, drifting, is all there is to know the cell by.

    6 and 12 are the first cells of rows; a frame of the next row would have the wisp elsewhere.
    """
    plan = plan_of(4, 6, serpentine=True)
    cells = [k - 1 if k == stuck else k for k in EVERY]
    high, wide = scene_size(plan)
    x, y = corner_of(plan, stuck - 1)
    columns, rows = np.meshgrid(np.arange(wide), np.arange(high))
    wisp = np.exp(-(((columns - x - 86) / 60.0) ** 2) - ((rows - y - 8) / 18.0) ** 2)
    soft = cv2.GaussianBlur(texture(5, high, wide).astype(np.float32) - 128.0, (0, 0), 2.5)
    fog = 200.0 - wisp * (30.0 + 8.0 * soft / soft.std())
    pictures = looked(plan, cells, lambda t: np.roll(fog, 3 * (t - stuck), axis=1))
    shots = [Shot(cell, 100.3 + 3.0 * index) for index, cell in enumerate(cells)]
    assert placed_pictures(shots, pictures, plan).cell.tolist() == cells


def test_wall_of_equal_windows_is_no_head_that_stood_still() -> None:
    """Four windows to a step, nearly: a frame lies on the one before as it is, but for stains."""
    plan = plan_of(4, 6)
    high, wide = scene_size(plan)
    wall = 150.0 + 3.0 * (texture(9, high, wide).astype(np.float32) - 128.0) / 40.0
    for y in range(10, high - 20, 40):
        for x in range(2, wide - 12, 33):
            wall[y : y + 20, x : x + 12] = 60.0
            wall[y + 9 : y + 11, x : x + 12] = 210.0
            wall[y : y + 20, x + 5 : x + 7] = 210.0
    found = placed_pictures(swept(EVERY), looked(plan, EVERY, lambda t: wall), plan)
    assert found.cell.tolist() == EVERY


@pytest.mark.parametrize("columns_a_row", [0.8, 1.0])
def test_clouds_over_one_corner_do_not_carry_its_frames_with_them(columns_a_row: float) -> None:
    """All other frames of the two rows show land, so the rows as wholes did not move."""
    plan = plan_of(5, 12)
    high, wide = scene_size(plan)
    land = texture(3, high, wide).astype(np.float32)
    soft = cv2.GaussianBlur(texture(4, high, 3 * wide).astype(np.float32), (0, 0), 2.5)
    sky: NDArray[np.floating] = 190.0 + 7.0 * (soft - soft.mean()) / soft.std()
    step_px = 0.7 * WIDTH
    below, edge = round(2 * 0.7 * HEIGHT), round(4.2 * step_px)

    def scene(frame: int) -> NDArray[np.floating]:
        moved = round(columns_a_row * step_px * frame / 12.0)
        now = land.copy()
        now[:below, :edge] = sky[:below, wide - moved : wide - moved + edge]
        return now

    every = list(range(60))
    found = placed_pictures(swept(every), looked(plan, every, scene), plan)
    assert found.cell.tolist() == every
