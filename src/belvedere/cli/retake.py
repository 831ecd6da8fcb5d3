"""`belvedere retake`: register frames taken again for cells of a shoot."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from belvedere.cli.console import console, show_progress
from belvedere.foundation import CardError
from belvedere.workflows.retake import register_retakes

_CELL = re.compile(r"^\s*(\d+)\s*,\s*(\d+)\s*$")


def command(
    card: Annotated[
        Path, typer.Argument(metavar="CARD", help="The card, or folder, with the retakes.")
    ],
    shoot_file: Annotated[
        Path, typer.Option("--shoot", metavar="SHOOT", help="The shoot.toml, or its folder.")
    ],
    cells: Annotated[
        list[str] | None,
        typer.Option(
            "--cell",
            metavar="R,C",
            help="The cell of each frame, in the order they were taken; repeatable.",
        ),
    ] = None,
    first_card: Annotated[
        Path | None,
        typer.Option("--first", metavar="CARD", help="The card that was checked, if it moved."),
    ] = None,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Also write what was registered here."),
    ] = None,
) -> None:
    """Register frames that were taken again; they win over the first takes of their cells.

    After the check named cells to shoot again, and you did:

        belvedere retake /media/card2 --shoot saltmere/shoot.toml

        belvedere check /media/card --shoot saltmere/shoot.toml

    Each frame finds its cell by what it shows. Where that is not for sure, or to have it your
    way, name the cells in the order you shot them:

        belvedere retake /media/card2 --shoot saltmere/shoot.toml --cell 3,7 --cell 4,2

    Retakes stay on their card: keep it where it is, both check and assemble read it there.

    Exit code 0: registered. 2: nothing was registered; the message says why.
    """
    places = [_place(word) for given in cells or () for word in given.split()]
    report = show_progress(register_retakes(card, shoot_file, places, first_card, json_file))
    out = console()
    for retake in report.registered:
        how = "as you say" if retake.told else f"{retake.confidence:.1%} sure"
        out.print(f"{retake.file}: row {retake.row}, column {retake.column} ({how})", markup=False)
    for file, why in report.left_out:
        out.print(f"{file}: left out, {why}", markup=False)
    out.print(
        f"\nRegistered. Now check again: belvedere check {report.first_card} --shoot {shoot_file}",
        soft_wrap=True,
        markup=False,
    )


def _place(word: str) -> tuple[int, int]:
    found = _CELL.match(word)
    if found is None:
        raise CardError(
            f"--cell {word} is not a row and a column.", "Write it like this: --cell 3,7."
        )
    return int(found.group(1)), int(found.group(2))
