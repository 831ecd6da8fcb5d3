"""`belvedere check`: the answer at the tripod, pack up or shoot these cells again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from belvedere.cli.check_page import print_report
from belvedere.cli.console import console, show_progress
from belvedere.workflows.check import check_card


def command(
    card: Annotated[
        Path, typer.Argument(metavar="CARD", help="The card, or a folder with its frames.")
    ],
    shoot_file: Annotated[
        Path | None,
        typer.Option(
            "--shoot", metavar="SHOOT", help="The shoot.toml of the sweep, or its folder."
        ),
    ] = None,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Also write the answer here, for scripts."),
    ] = None,
) -> None:
    """Check a card at the tripod: pack up, or shoot these cells again.

    Every frame is placed on its cell of the plan and compared with its neighbours:

        belvedere check /media/card --shoot saltmere/shoot.toml

    The answer is a grid, what is wrong in sentences, the verdict, and a list of the cells to
    shoot again with how to reach them from the start corner. The card is only read.

    Without --shoot the frames are checked for damage, sharpness, exposure and colour against
    those they overlap with; whether one is missing, only the plan can tell:

        belvedere check /media/card

    Exit code 0: the shoot is complete. 1: cells must be shot again, or it is not sure. 2: it
    could not be checked; the message says why.
    """
    report = show_progress(check_card(card, shoot_file, json_file))
    print_report(console(), report)
    if json_file is not None:
        console().print(f"\nWritten: {json_file}", soft_wrap=True, markup=False)
    raise typer.Exit(0 if report.verdict == "complete" else 1)
