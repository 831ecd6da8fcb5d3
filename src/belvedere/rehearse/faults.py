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


@dataclass(frozen=True, slots=True)
class LostRow:
    """A whole row is never shot: the head goes along it and no release arrives."""

    row: int


@dataclass(frozen=True, slots=True)
class Slipped:
    """On its way to the cell the head slips once, `by_deg` short, and stays so to the end."""

    cell: Place
    by_deg: float = 0.5


@dataclass(frozen=True, slots=True)
class Slipping:
    """From this cell on every move falls short by the share `short` of itself."""

    cell: Place
    short: float = 0.02


@dataclass(frozen=True, slots=True)
class Bumped:
    """Somebody knocks the tripod before this cell: it stands `by_deg` otherwise to the end."""

    cell: Place
    by_deg: float = 1.0


@dataclass(frozen=True, slots=True)
class Restarted:
    """Before this cell the sweep is given up and begun anew from its first cell."""

    cell: Place


@dataclass(frozen=True, slots=True)
class Paused:
    """Before this cell the head waits for some minutes."""

    cell: Place
    minutes: float = 5.0


@dataclass(frozen=True, slots=True)
class Asleep:
    """The camera had switched itself off: the release wakes it, and is lost."""

    cell: Place


@dataclass(frozen=True, slots=True)
class CardFull:
    """From this cell on the card holds nothing more."""

    cell: Place


@dataclass(frozen=True, slots=True)
class BatteryEmpty:
    """From this cell on the camera is dead."""

    cell: Place


@dataclass(frozen=True, slots=True)
class PowerPulled:
    """The power goes while this cell's file is written: only the share `kept` of it is there.

    An entry without content is left for the file that would have been next.
    """

    cell: Place
    kept: float = 0.5


@dataclass(frozen=True, slots=True)
class FocusWrong:
    """Autofocus held on to the wrong thing, at `distance_m`; how soft that is, the lens says."""

    cell: Place
    distance_m: float = 4.0


@dataclass(frozen=True, slots=True)
class Flickering:
    """Lamps on the mains (`mains_hz`) light the view, and swing by `depth` about their mean."""

    cell: Place
    depth: float = 0.4
    onwards: bool = False
    mains_hz: float = 50.0


@dataclass(frozen=True, slots=True)
class WetLens:
    """Drops fall on the lens before this cell and stay to the end."""

    cell: Place
    drops: int = 3


@dataclass(frozen=True, slots=True)
class Dust:
    """Grains lie on the sensor, in every frame at the same places."""

    grains: int = 12


FrameFault = (
    Repeated
    | Soft
    | Shaken
    | ExposureJump
    | ColourJump
    | Truncated
    | PowerPulled
    | FocusWrong
    | Flickering
)
CellFault = (
    FrameFault
    | Missing
    | Stuck
    | Slipped
    | Slipping
    | Bumped
    | Restarted
    | Paused
    | Asleep
    | CardFull
    | BatteryEmpty
    | WetLens
)
Fault = CellFault | LostRow | TrialPictures | Dust

#: The state that the check gives to a cell with this fault.
STATES: dict[type[Fault], str] = {
    Missing: "missing",
    Stuck: "missing",
    Asleep: "missing",
    LostRow: "missing",
    CardFull: "missing",
    BatteryEmpty: "missing",
    Soft: "soft",
    FocusWrong: "soft",
    Shaken: "shaken",
    ExposureJump: "exposure",
    ColourJump: "colour",
    Truncated: "corrupt",
    PowerPulled: "corrupt",
}

#: What each fault is called by a person (see `fault_words`).
KINDS: dict[type[Fault], str] = {
    Missing: "missing",
    Repeated: "repeated",
    Stuck: "stuck",
    Soft: "soft",
    Shaken: "shaken",
    ExposureJump: "exposure",
    ColourJump: "colour",
    Truncated: "truncated",
    TrialPictures: "tests",
    LostRow: "lost row",
    Slipped: "slipped",
    Slipping: "slipping",
    Bumped: "bumped",
    Restarted: "restart",
    Paused: "pause",
    Asleep: "asleep",
    CardFull: "card full",
    BatteryEmpty: "battery empty",
    PowerPulled: "power pulled",
    FocusWrong: "autofocus",
    Flickering: "flicker",
    WetLens: "wet lens",
    Dust: "dust",
}


def lasts(fault: Fault) -> bool:
    """Whether a fault, once there, stays to the end of the sweep."""
    if isinstance(fault, ExposureJump | ColourJump | Flickering):
        return fault.onwards
    return isinstance(fault, Slipped | Slipping | Bumped | WetLens)


def at_work(faults: Sequence[Fault], visited: Sequence[Place]) -> list[CellFault]:
    """The faults of the last of the cells `visited`, and those from an earlier one that last."""
    return [
        fault
        for fault in faults
        if not isinstance(fault, TrialPictures | LostRow | Dust)
        and (fault.cell == visited[-1] or (lasts(fault) and fault.cell in visited))
    ]


def never_released(cells: Sequence[Cell], faults: Sequence[Fault]) -> dict[Place, str]:
    """Cells whose release does not arrive, with the fault in words."""
    rows = {fault.row for fault in faults if isinstance(fault, LostRow)}
    gone = {(cell.row, cell.column): KINDS[LostRow] for cell in cells if cell.row in rows}
    return gone | {fault.cell: "missing" for fault in faults if isinstance(fault, Missing)}


def require_possible(cells: Sequence[Cell], faults: Sequence[Fault]) -> None:
    """Refuse faults that a visit of `cells`, in this order, cannot have, all at once.

    Raises
    ------
    PlanError
        Naming each cell and what is wrong with its fault.
    """
    visited = [(cell.row, cell.column) for cell in cells]
    without_frame = _without_frame(cells, faults)
    problems: list[str] = []
    seen: set[tuple[type[Fault], Place]] = set()
    for fault in faults:
        if isinstance(fault, LostRow) and fault.row not in {row for row, _ in visited}:
            problems.append(f"the head is not sent to row {fault.row} (lost row)")
        if isinstance(fault, TrialPictures | LostRow | Dust):
            continue
        row, column = fault.cell
        kind = KINDS[type(fault)]
        if fault.cell not in visited:
            problems.append(f"the head is not sent to cell {row},{column} ({kind})")
        if isinstance(fault, Stuck) and fault.cell == visited[0]:
            problems.append(f"the head cannot be stuck at {row},{column}, where it starts")
        if isinstance(fault, Restarted) and fault.cell == visited[0]:
            problems.append(f"at {row},{column}, the first cell, there is nothing to restart")
        if (type(fault), fault.cell) in seen:
            problems.append(f"cell {row},{column} has the fault {kind} twice")
        if isinstance(fault, FrameFault) and fault.cell in without_frame and not lasts(fault):
            problems.append(f"cell {row},{column} has no frame that could have {kind}")
        seen.add((type(fault), fault.cell))
    if sum(isinstance(fault, Restarted) for fault in faults) > 1:
        problems.append("a sweep is restarted only once")
    if problems:
        says = "; ".join(dict.fromkeys(problems))
        raise PlanError(
            f"{says[0].upper()}{says[1:]}.",
            "Cells are named by row and column, counted from the top left.",
        )


def _without_frame(cells: Sequence[Cell], faults: Sequence[Fault]) -> set[Place]:
    """Cells that no frame of their own can show."""
    visited = [(cell.row, cell.column) for cell in cells]
    gone = set(never_released(cells, faults))
    gone |= {fault.cell for fault in faults if isinstance(fault, Stuck | Asleep)}
    for fault in faults:
        if isinstance(fault, CardFull | BatteryEmpty | PowerPulled) and fault.cell in visited:
            after = visited.index(fault.cell) + isinstance(fault, PowerPulled)
            gone |= set(visited[after:])
    return gone


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
