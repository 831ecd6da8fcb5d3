"""Frames that are soft side by side do not hide each other: blocks of two and four, a whole row."""

from __future__ import annotations

import pytest

from belvedere.rehearse import Rehearsal, Soft, sketch_scene
from rehearsed_look import look_of, plan_of

BLOCKS = {
    "two side by side": [(2, 3), (2, 4)],
    "two one above the other": [(2, 3), (3, 3)],
    "four in a square": [(2, 3), (2, 4), (3, 3), (3, 4)],
    "a row in the middle": [(2, column) for column in range(1, 7)],
    "the last row": [(4, column) for column in range(1, 7)],
    "a column": [(row, 2) for row in range(1, 5)],
    "half of the shoot": [(row, column) for row in (3, 4) for column in range(1, 7)],
    "three rows of four": [(row, column) for row in (2, 3, 4) for column in range(1, 7)],
}


def _around(row: int, column: int) -> list[tuple[int, int]]:
    return [(row - 1, column), (row + 1, column), (row, column - 1), (row, column + 1)]


@pytest.mark.parametrize("blur_px", [1.5, 3.0])
@pytest.mark.parametrize("name", BLOCKS)
def test_every_soft_frame_of_a_block_is_named_and_no_other(name: str, blur_px: float) -> None:
    block = BLOCKS[name]
    plan = plan_of()
    faults = tuple(Soft(cell, blur_px) for cell in block)
    look = look_of(Rehearsal(plan, faults=faults, seed=7), sketch_scene(plan, 7, 0.0))
    judgement = look.judged()
    found = {look.cells[f.file]: f for f in judgement.findings}
    unjudged = {look.cells[file] for file in judgement.unjudged}
    assert set(found) | (set(block) & unjudged) == set(block)
    assert {finding.kind for finding in found.values()} == {"soft"}
    # In the sketch two soft frames show each other nothing fine: those with a sharp neighbour
    # are named all the same.
    beside_sharp = [
        (row, column)
        for row, column in block
        if any(0 < r < 5 and 0 < c < 7 and (r, c) not in block for r, c in _around(row, column))
    ]
    assert len(found) >= 0.6 * len(beside_sharp)
    for finding in found.values():
        # Bounded on both sides by what was asked of the rehearsal.
        assert finding.value == pytest.approx(blur_px, rel=0.35)
