"""Check a card and show more than the answer: pictures of it, and the evidence for single cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from belvedere.check import CheckReport, Reasons
from belvedere.foundation import PlanError, Steps, StoreError
from belvedere.shoot import make_plan
from belvedere.store import ensure_writable, write_json
from belvedere.workflows.check import check_card, examine_card, lies_in, shoot_path
from belvedere.workflows.check_document import check_document
from belvedere.workflows.check_pictures import ensure_picture_folder, write_pictures
from belvedere.workflows.check_why import explain_cell, require_cell
from belvedere.workflows.shootfile import load_shoot

CellPlace = tuple[int, int]


@dataclass(frozen=True, slots=True)
class ShownCheck:
    """The answer, the evidence for the cells asked for, and the pictures written."""

    report: CheckReport
    reasons: tuple[Reasons, ...] = ()
    written: tuple[Path, ...] = ()


def check_and_show(
    card: Path,
    shoot_file: Path | None = None,
    json_file: Path | None = None,
    pictures: Path | None = None,
    why: Sequence[CellPlace] = (),
) -> Steps[ShownCheck]:
    """What the check says of a card, with pictures in a folder and the evidence for some cells.

    The pictures of the evidence go to `pictures` too, or to the current folder.

    Raises
    ------
    CardError, PlanError, StoreError
        Where it cannot be checked, a cell is not in the plan, or something cannot be written.
    """
    if pictures is None and not why:
        return ShownCheck((yield from check_card(card, shoot_file, json_file)))
    _require_all(card, shoot_file, pictures, why)
    if json_file is not None:
        ensure_writable(json_file)
    checked = yield from examine_card(card, shoot_file)
    if json_file is not None:
        write_json(json_file, check_document(checked.report))
    written: list[Path] = []
    reasons: list[Reasons] = []
    if pictures is not None:
        written += yield from write_pictures(checked, pictures)
    for row, column in dict.fromkeys(why):
        found, file = yield from explain_cell(checked, row, column, pictures or Path())
        reasons.append(found)
        written.append(file)
    return ShownCheck(checked.report, tuple(reasons), tuple(written))


def _require_all(
    card: Path, shoot_file: Path | None, pictures: Path | None, why: Sequence[CellPlace]
) -> None:
    """Refuse before the card is read what cannot be shown or written later."""
    if shoot_file is None:
        option = "--why" if why else "--pictures"
        raise PlanError(
            f"{option} needs the shoot file: without it there is no grid.",
            "Give it with --shoot.",
        )
    plan = make_plan(load_shoot(shoot_path(shoot_file)))
    for row, column in why:
        require_cell(plan, row, column)
    folder = pictures or Path()
    if card.is_dir() and lies_in(folder, card):
        raise StoreError(
            f"The folder {folder.resolve()} lies on the card, to which nothing is written.",
            "Give another folder with --pictures.",
        )
    ensure_picture_folder(folder)
