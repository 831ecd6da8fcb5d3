"""How old neighbours are to each other, for one way to visit the cells and for the others.

What moves in the scene (tide, clouds, crowds, the sun) moves between two frames that touch; the
less time between them, the less there is to join.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from belvedere.shoot.briefing import SweepChoice, SweepFacts
from belvedere.shoot.model import Cell, Order, Plan, Sweep
from belvedere.shoot.sweep import in_sweep_order
from belvedere.sphere import covers_pole

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

#: Orders with and without turning back at the end of each line.
_WAYS: tuple[tuple[Order, bool], ...] = tuple(product(("rows", "columns"), (False, True)))
#: Share of a column by which two cells may miss each other and still touch at a corner.
_CORNER = 1e-6


def touching_pairs(plan: Plan) -> tuple[IntArray, IntArray]:
    """Pairs of cells that touch: neighbours across, down and diagonally that share some picture.

    Rows may differ in length: then each cell is a brick as wide as its row's step, and bricks of
    adjoining rows touch where their sides or corners meet. The last cell of a row in a full turn
    touches the first; frames that show the zenith or the nadir from around it touch each other.

    Returns
    -------
    Two arrays (m,) of indices into `plan.cells`; each pair once, in no order.
    """
    wall = _Wall.of_plan(plan)
    one, other = _pairs(wall)
    return wall.place[one], wall.place[other]


def greatest_age_s(pairs: tuple[IntArray, IntArray], release_s: FloatArray) -> FloatArray:
    """For each cell the greatest age difference to a cell it touches; 0 where it touches none.

    `release_s` (n,) in the order that `pairs` count in; the result likewise.
    """
    one, other = pairs
    age = np.abs(release_s[one] - release_s[other])
    greatest = np.zeros(len(release_s))
    np.maximum.at(greatest, one, age)
    np.maximum.at(greatest, other, age)
    return greatest


def sweep_facts(plan: Plan, release_s_of: Callable[[Plan], FloatArray]) -> SweepFacts:
    """How old touching cells are to each other: by rows and by columns, turning back or not.

    Parameters
    ----------
    plan
        The other ways start in the same corner as its own.
    release_s_of
        Seconds of each release, in sweep order, of a plan that differs in its sweep alone.

    Notes
    -----
    `moves_deg` counts the pan's and the tilt's degrees, and a pan that goes all the way back at
    the end of a row of a full turn: cables must unwind.
    """
    wall = _Wall.of_plan(plan)
    pairs = _pairs(wall)
    own = plan.shoot.sweep
    choices, chosen, ages = [], None, np.zeros(0)
    for order, serpentine in _WAYS:
        sweep = replace(own, order=order, serpentine=serpentine)
        other = plan if sweep == own else reordered(plan, sweep)
        choice, cell_age_s = _choice(other, wall, pairs, release_s_of(other))
        choices.append(choice)
        if sweep == own:
            chosen, ages = choice, cell_age_s
    if chosen is None:
        raise ValueError(f"unknown order {own.order!r}")
    return SweepFacts(chosen, tuple(choices), tuple(ages.tolist()))


def reordered(plan: Plan, sweep: Sweep) -> Plan:
    """The same cells visited in another way."""
    rows: list[list[Cell | None]] = [[None] * count for count in plan.columns_per_row]
    for cell in plan.cells:
        rows[cell.row - 1][cell.column - 1] = cell
    filled = [[cell for cell in row if cell is not None] for row in rows]
    shoot = replace(plan.shoot, sweep=sweep)
    return replace(plan, shoot=shoot, cells=in_sweep_order(filled, sweep))


@dataclass(frozen=True, slots=True)
class _Wall:
    """The cells as bricks, row by row from the top left.

    Arrays (n,) over the cells: `row` from 0, `bearing_deg`, and `place`, the index in sweep
    order. Arrays (rows,): `start` of the row, `count`, `first_deg`, `step_deg`, and `width_deg`
    of a brick; `at_pole` where the frames of the row show the zenith or the nadir.
    """

    full_turn: bool
    row: IntArray
    bearing_deg: FloatArray
    place: IntArray
    start: IntArray
    count: IntArray
    first_deg: FloatArray
    step_deg: FloatArray
    width_deg: FloatArray
    at_pole: NDArray[np.bool_]

    @classmethod
    def of_plan(cls, plan: Plan) -> _Wall:
        count = np.array(plan.columns_per_row, dtype=np.int64)
        start = np.concatenate([[0], np.cumsum(count)[:-1]])
        bearing = _of_cells(plan, "bearing_deg")
        position = _positions(plan, start)
        place = np.empty(len(plan.cells), dtype=np.int64)
        place[position] = np.arange(len(plan.cells))
        elevations = _of_cells(plan, "elevation_deg")[place][start]
        in_rows = bearing[place]
        step = np.array(plan.column_steps_deg)
        return cls(
            full_turn=plan.shoot.grid.full_turn,
            row=np.repeat(np.arange(len(count)), count),
            bearing_deg=in_rows,
            place=place,
            start=start,
            count=count,
            first_deg=in_rows[start],
            step_deg=step,
            # A row of one frame shows all that is wanted at its height.
            width_deg=np.where(count > 1, step, 360.0),
            at_pole=np.array([covers_pole(plan.vertical_fov_deg, e) for e in elevations]),
        )


def _of_cells(plan: Plan, name: str) -> FloatArray:
    cells = plan.cells
    return np.fromiter(map(attrgetter(name), cells), dtype=np.float64, count=len(cells))


def _positions(plan: Plan, start: IntArray) -> IntArray:
    """Where each cell, in sweep order, stands in the wall."""
    row = _of_cells(plan, "row").astype(np.int64)
    return start[row - 1] + _of_cells(plan, "column").astype(np.int64) - 1


def _pairs(wall: _Wall) -> tuple[IntArray, IntArray]:
    """All touching pairs as positions in the wall, the smaller one first, each once."""
    found = [_across(wall), _down(wall), _over_the_pole(wall)]
    one = np.concatenate([pairs[0] for pairs in found])
    other = np.concatenate([pairs[1] for pairs in found])
    if not wall.full_turn and not wall.at_pole.any():
        return one, other
    # Around a turn, or a pole, two cells may meet on more than one side.
    total = len(wall.row)
    key = np.unique(np.minimum(one, other) * total + np.maximum(one, other))
    return key // total, key % total


def _across(wall: _Wall) -> tuple[IntArray, IntArray]:
    """Neighbours in a row, and the two that close a full turn."""
    left = np.flatnonzero(wall.row[:-1] == wall.row[1:])
    if not wall.full_turn:
        return left, left + 1
    closing = wall.count > 1
    last = (wall.start + wall.count - 1)[closing]
    return np.concatenate([left, last]), np.concatenate([left + 1, wall.start[closing]])


def _down(wall: _Wall) -> tuple[IntArray, IntArray]:
    """Bricks that touch bricks of the next row."""
    rows = len(wall.count)
    upper = np.flatnonzero(wall.row < rows - 1)
    row = wall.row[upper]
    widest = (wall.width_deg[row] + wall.width_deg[row + 1]) / 2.0 * (1.0 + _CORNER)
    one, other = [], []
    for turn in (-360.0, 0.0, 360.0) if wall.full_turn else (0.0,):
        offset = wall.bearing_deg[upper] + turn - wall.first_deg[row + 1]
        step = np.where(wall.count[row + 1] > 1, wall.step_deg[row + 1], 1.0)
        lowest = np.maximum(np.ceil((offset - widest) / step), 0).astype(np.int64)
        highest = np.floor((offset + widest) / step).astype(np.int64)
        highest = np.minimum(highest, wall.count[row + 1] - 1)
        number = np.maximum(highest - lowest + 1, 0)
        one.append(np.repeat(upper, number))
        other.append(np.repeat(wall.start[row + 1] + lowest, number) + _counting_up(number))
    return np.concatenate(one), np.concatenate(other)


def _counting_up(lengths: IntArray) -> IntArray:
    """0, 1, 2 … anew for each of `lengths`, in one array."""
    ends = np.cumsum(lengths)
    total = int(ends[-1]) if len(ends) else 0
    return np.arange(total) - np.repeat(ends - lengths, lengths)


def _over_the_pole(wall: _Wall) -> tuple[IntArray, IntArray]:
    """Frames of one row that all show the zenith, or the nadir."""
    one, other = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for row in np.flatnonzero(wall.at_pole):
        first, second = np.triu_indices(int(wall.count[row]), 1)
        one.append(wall.start[row] + first)
        other.append(wall.start[row] + second)
    return np.concatenate(one), np.concatenate(other)


def _choice(
    plan: Plan, wall: _Wall, pairs: tuple[IntArray, IntArray], release_s: FloatArray
) -> tuple[SweepChoice, FloatArray]:
    """Figures of one way to visit the cells, and the greatest age difference of each cell."""
    release_s = np.asarray(release_s, dtype=np.float64)
    position = _positions(plan, wall.start)
    in_wall = np.empty(len(position))
    in_wall[position] = release_s
    age = np.abs(in_wall[pairs[0]] - in_wall[pairs[1]])
    sweep = plan.shoot.sweep
    choice = SweepChoice(
        order=sweep.order,
        start=sweep.start,
        serpentine=sweep.serpentine,
        greatest_age_s=float(age.max(initial=0.0)),
        mean_age_s=float(age.mean()) if len(age) else 0.0,
        moves_deg=_moves_deg(plan),
    )
    return choice, greatest_age_s(pairs, in_wall)[position]


def _moves_deg(plan: Plan) -> float:
    """Degrees that pan and tilt turn from the first cell to the last, added up."""
    pan = np.abs(np.diff(_of_cells(plan, "bearing_deg"))).sum()
    tilt = np.abs(np.diff(_of_cells(plan, "elevation_deg"))).sum()
    return float(pan + tilt)
