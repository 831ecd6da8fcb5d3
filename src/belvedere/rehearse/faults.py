"""What can go wrong on a shoot, on request: each fault is a frozen type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from belvedere.foundation import PlanError
from belvedere.shoot import Cell, Plan

#: Row and column.
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Missing:
    """The camera was busy or the release got lost: the head went on, no file was written."""

    cell: Place


@dataclass(frozen=True, slots=True)
class Repeated:
    """The shutter was released twice at one cell."""

    cell: Place


@dataclass(frozen=True, slots=True)
class Stuck:
    """The head did not move to the cell: its frame shows the cell before it, the cell has none.

    With the next move the head is where it should be.
    """

    cell: Place


@dataclass(frozen=True, slots=True)
class Soft:
    """Out of focus; `blur_px` is the standard deviation of the blur disc along one axis."""

    cell: Place
    blur_px: float = 2.5


@dataclass(frozen=True, slots=True)
class Shaken:
    """Moved during the exposure; direction 0 along the rows, 90 along the columns."""

    cell: Place
    length_px: float = 8.0
    direction_deg: float = 30.0


@dataclass(frozen=True, slots=True)
class ExposureJump:
    """Brighter (+) or darker (−) by `ev`; `onwards`: from this cell to the end of the sweep.

    `stated`: the shutter speed in the file tells of it; else only the picture does.
    """

    cell: Place
    ev: float = 0.7
    onwards: bool = False
    stated: bool = False


@dataclass(frozen=True, slots=True)
class ColourJump:
    """Another white balance: gains of red and blue against green."""

    cell: Place
    red: float = 1.25
    blue: float = 0.8
    onwards: bool = False


@dataclass(frozen=True, slots=True)
class Truncated:
    """The file ends early: only the share `kept` of its bytes is there."""

    cell: Place
    kept: float = 0.6


@dataclass(frozen=True, slots=True)
class TrialPictures:
    """Pictures taken before the sweep, elsewhere in the scene, while the exposure is tried."""

    count: int = 2


CellFault = Missing | Repeated | Stuck | Soft | Shaken | ExposureJump | ColourJump | Truncated
Fault = CellFault | TrialPictures

#: The state that the check gives to a cell with this fault.
STATES: dict[type[CellFault], str] = {
    Missing: "missing",
    Stuck: "missing",
    Soft: "soft",
    Shaken: "shaken",
    ExposureJump: "exposure",
    ColourJump: "colour",
    Truncated: "corrupt",
}


def require_possible(cells: Sequence[Cell], faults: Sequence[Fault]) -> None:
    """Refuse faults that a visit of `cells`, in this order, cannot have, all at once.

    Raises
    ------
    PlanError
        Naming each cell and what is wrong with its fault.
    """
    visited = [(cell.row, cell.column) for cell in cells]
    problems: list[str] = []
    seen: set[tuple[type[Fault], Place]] = set()
    without_frame = {fault.cell for fault in faults if isinstance(fault, Missing | Stuck)}
    for fault in faults:
        if isinstance(fault, TrialPictures):
            continue
        row, column = fault.cell
        kind = type(fault).__name__.lower()
        if fault.cell not in visited:
            problems.append(f"the head is not sent to cell {row},{column} ({kind})")
        if isinstance(fault, Stuck) and fault.cell == visited[0]:
            problems.append(f"the head cannot be stuck at {row},{column}, where it starts")
        if (type(fault), fault.cell) in seen:
            problems.append(f"cell {row},{column} has the fault {kind} twice")
        lasts = isinstance(fault, ExposureJump | ColourJump) and fault.onwards
        if fault.cell in without_frame and not (lasts or isinstance(fault, Missing | Stuck)):
            problems.append(f"cell {row},{column} has no frame that could have {kind}")
        seen.add((type(fault), fault.cell))
    if problems:
        says = "; ".join(dict.fromkeys(problems))
        raise PlanError(
            f"{says[0].upper()}{says[1:]}.",
            "Cells are named by row and column, counted from the top left.",
        )


def random_faults(plan: Plan, rng: np.random.Generator, count: int) -> tuple[CellFault, ...]:
    """`count` faults of plausible size on different cells, as a bench wants them.

    Kinds: missing, soft, shaken, exposure, colour, corrupt. Sizes: 1.5–4 px of defocus, 3–12 px
    of motion, 0.3–1 EV, white balance clearly off, 20–95 % of the file kept.
    """
    # An onwards jump at the very first cell would be no jump.
    order = rng.permutation(np.arange(1, len(plan.cells)))[:count]
    faults: list[CellFault] = []
    for index in order:
        cell = plan.cells[int(index)]
        faults.append(_random_fault((cell.row, cell.column), rng))
    return tuple(faults)


def _random_fault(place: Place, rng: np.random.Generator) -> CellFault:
    kind = int(rng.integers(6))
    sign = 1.0 if rng.random() < 0.5 else -1.0
    onwards = bool(rng.random() < 0.5)
    if kind == 0:
        return Missing(place)
    if kind == 1:
        return Soft(place, round(float(rng.uniform(1.5, 4.0)), 2))
    if kind == 2:
        length, direction = float(rng.uniform(3.0, 12.0)), float(rng.uniform(0.0, 180.0))
        return Shaken(place, round(length, 1), round(direction))
    if kind == 3:
        stated = bool(rng.random() < 0.5)
        return ExposureJump(place, round(sign * float(rng.uniform(0.3, 1.0)), 2), onwards, stated)
    if kind == 4:
        warm = float(rng.uniform(1.22, 1.4)) ** sign
        return ColourJump(place, round(warm, 3), round(1.0 / warm, 3), onwards)
    return Truncated(place, round(float(rng.uniform(0.2, 0.95)), 2))
