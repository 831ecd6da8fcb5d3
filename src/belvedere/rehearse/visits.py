"""The way of the head through the cells, with what goes wrong on it: restarts, pauses, knocks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.rehearse.faults import (
    Asleep,
    Bumped,
    Fault,
    Paused,
    Place,
    Restarted,
    Slipped,
    Slipping,
)
from belvedere.rehearse.head import Slip, knock
from belvedere.shoot import Cell

FloatArray = NDArray[np.float64]

#: Somebody sees that the sweep is spoilt, drives the head back and begins anew: so many seconds.
_BACK_TO_THE_START_S = (25.0, 60.0)
#: Cameras switch themselves off after one to three minutes (common practice, no source).
_SLEPT_S = 180.0
_SECONDS_PER_MINUTE = 60.0


@dataclass(frozen=True, slots=True)
class Visit:
    """The head at a cell; `given_up` in a sweep that was later begun anew."""

    cell: Cell
    given_up: bool = False

    @property
    def place(self) -> Place:
        """Row and column."""
        return self.cell.row, self.cell.column


def visits(cells: Sequence[Cell], faults: Sequence[Fault]) -> tuple[Visit, ...]:
    """Where the head goes, in order: all `cells`, after what was given up before a restart."""
    places = [(cell.row, cell.column) for cell in cells]
    before = 0
    for fault in faults:
        if isinstance(fault, Restarted):
            before = places.index(fault.cell)
    given_up = tuple(Visit(cell, given_up=True) for cell in cells[:before])
    return given_up + tuple(Visit(cell) for cell in cells)


def waits_s(way: Sequence[Visit], faults: Sequence[Fault], rng: np.random.Generator) -> FloatArray:
    """Seconds that pass before each visit beyond the usual, (visits,)."""
    waits = np.zeros(len(way))
    back_s = float(rng.uniform(*_BACK_TO_THE_START_S))
    first = sum(visit.given_up for visit in way)
    if first:
        waits[first] += back_s
    for fault in faults:
        if isinstance(fault, Paused):
            waits[_index(way, fault.cell)] += fault.minutes * _SECONDS_PER_MINUTE
        elif isinstance(fault, Asleep):
            waits[_index(way, fault.cell)] += _SLEPT_S
    return waits


def slips(way: Sequence[Visit], faults: Sequence[Fault]) -> tuple[Slip, ...]:
    """What the head loses of its moves."""
    lost = []
    for fault in faults:
        if isinstance(fault, Slipped):
            lost.append(Slip(_index(way, fault.cell), by_deg=fault.by_deg))
        elif isinstance(fault, Slipping):
            lost.append(Slip(_index(way, fault.cell), short=fault.short))
    return tuple(lost)


def bases(
    base: FloatArray,
    way: Sequence[Visit],
    faults: Sequence[Fault],
    stream: Callable[[int], np.random.Generator],
) -> list[FloatArray]:
    """How the base stands at each visit, base_from_world (3, 3).

    `stream` gives the random stream of the visit at which somebody knocks the tripod.
    """
    stands = [base] * len(way)
    for fault in faults:
        if isinstance(fault, Bumped):
            index = _index(way, fault.cell)
            turn = knock(fault.by_deg, stream(index))
            stands[index:] = [turn @ before for before in stands[index:]]
    return stands


def _index(way: Sequence[Visit], place: Place) -> int:
    """The visit of a cell in the sweep that was not given up."""
    return next(
        index for index, visit in enumerate(way) if visit.place == place and not visit.given_up
    )
