"""Register retakes: frames taken later find their cells and win over the first takes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from belvedere.check import Located, locate, sightings
from belvedere.check.words import name
from belvedere.foundation import CardError, Steps, StoreError
from belvedere.imagefiles import CardReading, Reading, require_one_size
from belvedere.shoot import Plan
from belvedere.store import Retake, ensure_writable, open_catalogue, write_json
from belvedere.workflows.card_readings import read_card_once
from belvedere.workflows.check import (
    CHECKED_CARD,
    CheckedCard,
    examine_card,
    lies_in,
    shoot_path,
    small_pictures,
)

SCHEMA = "belvedere/retake/1"
#: A retake's cell must be at least this probable to be registered without being told.
_SURE = 0.9


@dataclass(frozen=True, slots=True)
class RegisteredRetake:
    """One frame and the cell it was registered for; `told` by the person or found by matching."""

    file: str
    row: int
    column: int
    confidence: float
    told: bool


@dataclass(frozen=True, slots=True)
class RetakeReport:
    """What was registered, and what was left out with the reason."""

    card: Path
    first_card: Path
    registered: tuple[RegisteredRetake, ...]
    left_out: tuple[tuple[str, str], ...]


def register_retakes(
    card: Path,
    shoot_file: Path,
    cells: Sequence[tuple[int, int]] = (),
    first_card: Path | None = None,
    json_file: Path | None = None,
) -> Steps[RetakeReport]:
    """Find the cells of the frames on `card` and register them as the shoot's retakes.

    Parameters
    ----------
    cells
        The cells (row, column) in the order the frames were taken, where the person says so;
        empty to find them by matching with the first card's frames.
    first_card
        The card that was checked; as the last check noted it, where it is not given.

    Raises
    ------
    CardError, PlanError, StoreError
        Where a frame's cell cannot be told, or nothing can be registered; then nothing is.
    """
    if json_file is not None:
        ensure_writable(json_file)
    shoot_file = shoot_path(shoot_file)
    first_card = _first_card(card, shoot_file, first_card)
    checked = yield from examine_card(first_card, shoot_file)
    reading = yield from read_card_once(card, None)
    strangers, left_out = _strangers(checked, reading, told=bool(cells))
    told = _told(checked, strangers, cells) if cells else None
    found = yield from _found(checked, strangers)
    registered = tuple(
        _settled(checked.require_plan(), stranger, located, None if told is None else told[i])
        for i, (stranger, located) in enumerate(zip(strangers, found, strict=True))
    )
    with open_catalogue(shoot_file) as catalogue:
        catalogue.register(
            Retake(card.resolve(), s.frame.file, s.frame.content_hash, r.row, r.column)
            for s, r in zip(strangers, registered, strict=True)
        )
    report = RetakeReport(card, checked.card, registered, tuple(left_out))
    if json_file is not None:
        write_json(json_file, retake_document(report))
    return report


def retake_document(report: RetakeReport) -> dict[str, Any]:
    """The report as JSON: docs/check.md, "Retakes"."""
    return {
        "schema": SCHEMA,
        "retakes": [
            {
                "file": retake.file,
                "row": retake.row,
                "column": retake.column,
                "confidence": retake.confidence,
                "told": retake.told,
            }
            for retake in report.registered
        ],
        "left_out": [{"file": file, "why": why} for file, why in report.left_out],
    }


def _first_card(card: Path, shoot_file: Path, first_card: Path | None) -> Path:
    for place in (card, *([] if first_card is None else [first_card])):
        if lies_in(shoot_file, place):
            raise StoreError(
                f"The shoot file {shoot_file} lies on the card {place}, and nothing is ever "
                f"written to a card.",
                "Copy the shoot file to a folder of its own and check the card with it.",
            )
    if first_card is not None:
        return first_card
    with open_catalogue(shoot_file) as catalogue:
        noted = catalogue.note(CHECKED_CARD)
    if noted is None:
        raise StoreError(
            f"No card was checked with {shoot_file} yet, so there is nothing to match with.",
            "Check the first card, or name it with --first.",
        )
    if not Path(noted).is_dir():
        raise CardError(
            f"The card that was checked, {noted}, is not there.",
            "Insert it, or say where its copy is with --first.",
        )
    return Path(noted)


def _strangers(
    checked: CheckedCard, reading: CardReading, told: bool
) -> tuple[list[Reading], list[tuple[str, str]]]:
    """The frames of the retake card that are no part of the sweep, and those left out."""
    placed = {p.file for p in checked.report.placements if p.row is not None}
    swept = {frame.content_hash for frame in checked.frames if frame.file in placed}
    strangers, left_out = [], []
    same_card = reading.root.resolve() == checked.card
    last = max(
        (i for i, r in enumerate(reading.readings) if r.frame.content_hash in swept), default=-1
    )
    for i, found in enumerate(reading.readings):
        file = found.frame.file
        if found.frame.content_hash in swept:
            if not same_card:
                left_out.append((file, "it is a frame of the card that was checked"))
        elif same_card and i < last:
            left_out.append((file, "it was taken before the sweep ended"))
        elif found.frame.damage and not told:
            left_out.append((file, f"it {found.frame.damage}"))
        else:
            strangers.append(found)
    if not strangers:
        why = f": {name(left_out[0][0])}: {left_out[0][1]}" if left_out else ""
        raise CardError(
            f"No frame in {reading.root} can be registered as a retake{why}.",
            "Give the folder that holds the frames taken again.",
        )
    require_one_size([*(frame for frame in checked.frames), *(s.frame for s in strangers)])
    return strangers, left_out


def _told(
    checked: CheckedCard, strangers: Sequence[Reading], cells: Sequence[tuple[int, int]]
) -> Sequence[tuple[int, int]]:
    known = {(cell.row, cell.column) for cell in checked.require_plan().cells}
    for row, column in cells:
        if (row, column) not in known:
            raise CardError(
                f"The plan has no cell {row},{column}.",
                "Rows count from the top, columns from the left, both from 1.",
            )
    if len(cells) != len(strangers):
        names = ", ".join(name(s.frame.file) for s in strangers[:6])
        raise CardError(
            f"{len(cells)} cells were given for {len(strangers)} frames ({names}"
            f"{', …' if len(strangers) > 6 else ''}).",
            "Give one cell for each frame, in the order they were taken.",
        )
    return cells


def _found(checked: CheckedCard, strangers: Sequence[Reading]) -> Steps[tuple[Located, ...]]:
    placing, positions, plan = checked.placing, checked.positions, checked.require_plan()
    assert placing is not None  # there is a plan
    assert positions is not None
    frames = [*placing.frames, *(stranger.frame for stranger in strangers)]
    small = {**checked.small, **small_pictures(strangers)}
    index = {(cell.row, cell.column): k for k, cell in enumerate(plan.cells)}
    wanted = [index[stop.row, stop.column] for stop in checked.report.retakes]
    first = len(placing.frames)
    return (
        yield from locate(
            placing,
            positions,
            sightings(frames, small),
            range(first, first + len(strangers)),
            wanted,
        )
    )


def _settled(
    plan: Plan, stranger: Reading, located: Located, told: tuple[int, int] | None
) -> RegisteredRetake:
    file = stranger.frame.file
    if told is not None:
        return RegisteredRetake(file, told[0], told[1], 1.0, told=True)
    if located.cell >= 0 and located.confidence >= _SURE:
        cell = plan.cells[located.cell]
        return RegisteredRetake(
            file, cell.row, cell.column, round(located.confidence, 4), told=False
        )
    places = [
        f"row {plan.cells[k].row}, column {plan.cells[k].column}"
        for k in (located.cell, located.second)
        if k >= 0
    ]
    what = f"may show {' or '.join(places)}" if located.cell >= 0 else "matches no cell"
    raise CardError(
        f"{name(file)} {what}, and its picture does not tell for sure; nothing was registered.",
        "Say which cells the frames are for with --cell, in the order they were taken.",
    )
