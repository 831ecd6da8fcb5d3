"""Frames on cells, from small pictures with known truth."""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.check import Placing, place, sightings
from belvedere.foundation import finish
from belvedere.shoot import Plan
from check_synthetic import Shot, frames_of, pictures_of, plan_of


def swept(cells: list[int], interval_s: float = 3.0) -> list[Shot]:
    """Frames of `cells` in the rhythm of the sweep; a cell again comes half a beat later."""
    shots = []
    for place_, cell in enumerate(cells):
        late = 0.4 if place_ and cells[place_ - 1] == cell else 0.0
        shots.append(Shot(cell, (cell + late) * interval_s + 100.3))
    return shots


def placed(plan: Plan, shots: list[Shot], seed: int = 1, plain_rows: int = 0) -> Placing:
    frames = frames_of(shots)
    pictures = pictures_of(plan, shots, seed, plain_rows=plain_rows)
    small = {frame.file: picture for frame, picture in zip(frames, pictures, strict=True)}
    return finish(place(frames, sightings(frames, small), plan))


@pytest.mark.parametrize("order", ["rows", "columns"])
@pytest.mark.parametrize("start", ["top-left", "top-right", "bottom-left", "bottom-right"])
@pytest.mark.parametrize("serpentine", [False, True])
def test_every_kind_of_sweep(order: str, start: str, serpentine: bool) -> None:
    plan = plan_of(3, 4, order=order, start=start, serpentine=serpentine)
    cells = [k for k in range(12) if k != 6]
    found = placed(plan, swept(cells))
    assert found.cell.tolist() == cells
    assert found.confidence.min() > 0.95


@pytest.mark.parametrize("gone", [0, 2, 3, 5, 11])
def test_any_one_missing_frame(gone: int) -> None:
    cells = [k for k in range(12) if k != gone]
    assert placed(plan_of(3, 4), swept(cells), seed=gone).cell.tolist() == cells


def test_missing_repeated_and_foreign_together() -> None:
    cells = [0, 1, 2, 4, 5, 5, 6, 7, 8, 10, 11]
    before = [Shot(-1, 20.0), Shot(-1, 41.0)]
    found = placed(plan_of(3, 4), before + swept(cells))
    assert found.cell.tolist() == [-1, -1, *cells]


def test_gap_in_plain_sky_is_told_by_the_clock() -> None:
    cells = [k for k in range(15) if k != 2]
    found = placed(plan_of(3, 5), swept(cells), plain_rows=1)
    assert found.cell.tolist() == cells


def test_gap_in_plain_sky_without_a_clock_is_not_called_sure() -> None:
    plan = plan_of(3, 5)
    shots = swept([k for k in range(15) if k != 2])
    frames = [type(f)(f.file, f.content_hash, 1, f.width_px, f.height_px) for f in frames_of(shots)]
    pictures = pictures_of(plan, shots, 1, plain_rows=1)
    small = {frame.file: picture for frame, picture in zip(frames, pictures, strict=True)}
    found = finish(place(frames, sightings(frames, small), plan))
    # Frames 0 to 3 could be any four of the five cells; the rows below are sure.
    assert found.confidence[1:3].min() < 0.9
    assert found.cell[4:].tolist() == list(range(5, 15))
    assert found.confidence[5:].min() > 0.95


def test_steps_other_than_planned_are_learnt() -> None:
    """A lens 12 % longer than the shoot file says moves the picture 12 % further."""
    told = plan_of(3, 4, lens_mm=40.0)
    true = plan_of(3, 4, lens_mm=40.0, overlap=0.216)
    shots = swept(list(range(12)))
    frames = frames_of(shots)
    pictures = pictures_of(true, shots, 1)
    small = {frame.file: picture for frame, picture in zip(frames, pictures, strict=True)}
    found = finish(place(frames, sightings(frames, small), told))
    assert found.cell.tolist() == list(range(12))
    assert found.moves.linear[0, 0] == pytest.approx(1.12, abs=0.03)
    assert found.moves.linear[1, 1] == pytest.approx(1.12, abs=0.03)


def test_confidence_is_a_probability() -> None:
    found = placed(plan_of(2, 3), swept(list(range(6))))
    assert np.all((found.confidence >= 0.0) & (found.confidence <= 1.0 + 1e-9))


def test_two_lines_that_contradict_each_other_are_settled() -> None:
    """A gap in each of two neighbouring lines, and the first cell gone: they judge each other."""
    plan = plan_of(3, 6, start="bottom-left")
    cells = [k for k in range(18) if k not in (0, 8)]
    assert placed(plan, swept(cells, interval_s=1.0), seed=5).cell.tolist() == cells
