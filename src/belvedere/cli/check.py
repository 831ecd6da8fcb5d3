"""`belvedere check`: the answer at the tripod, pack up or shoot these cells again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from belvedere.cli.check_page import WIDTH, print_report
from belvedere.cli.console import console, show_progress
from belvedere.cli.watch_page import show_watch
from belvedere.cli.why_page import cell_asked_for, print_reasons
from belvedere.foundation import PlanError
from belvedere.workflows.check_show import check_and_show
from belvedere.workflows.watch import watch_folder


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
    pictures: Annotated[
        Path | None,
        typer.Option(
            "--pictures",
            metavar="FOLDER",
            help="Also draw the grid with its faults, and a quick look at the whole, into FOLDER.",
        ),
    ] = None,
    why: Annotated[
        list[str] | None,
        typer.Option(
            "--why",
            metavar="ROW,COLUMN",
            help="Show the evidence for a cell, with crops at 100 %; may be given several times.",
        ),
    ] = None,
    watch: Annotated[
        bool,
        typer.Option(
            "--watch", help="Follow the folder while the shoot runs; speak up at the first fault."
        ),
    ] = False,
    quiet: Annotated[
        bool,
        typer.Option("--quiet", help="With --watch: no bell, and no line for each good frame."),
    ] = False,
) -> None:
    """Check a card at the tripod: pack up, or shoot these cells again.

    Every frame is placed on its cell of the plan and compared with its neighbours:

        belvedere check /media/card --shoot saltmere/shoot.toml

    The answer is a grid, what is wrong in sentences, the verdict, and a list of the cells to
    shoot again with how to reach them from the start corner. The card is only read.

    Without --shoot the frames are checked for damage, sharpness, exposure and colour against
    those they overlap with; whether one is missing, only the plan can tell:

        belvedere check /media/card

    To see it, --pictures writes grid.png and grid.svg, the grid with its faults, and mosaic.jpg,
    all frames laid together roughly. To understand it, --why tells what a cell's answer rests on,
    and writes why-2-4.png, the frame beside each neighbour at 100 %:

        belvedere check /media/card --shoot saltmere/shoot.toml --pictures seen --why 2,4

    With --watch CARD is the folder into which the frames come while the head still sweeps, by
    cable, by air or from a card reader; it may be empty yet:

        belvedere check tether/ --shoot saltmere/shoot.toml --watch

    A frame that does not come is named as soon as its time has passed, a soft, shaken or otherwise
    exposed one as soon as it is there, each with what to do. When the sweep is over, or at
    Ctrl-C, the whole folder is checked as above.

    Exit code 0: the shoot is complete. 1: cells must be shot again, or it is not sure. 2: it
    could not be checked; the message says why.
    """
    cells = [cell_asked_for(words) for words in why or ()]
    if watch:
        if shoot_file is None:
            raise PlanError(
                "--watch needs the shoot file: only the plan tells which frame comes next.",
                "Give it with --shoot.",
            )
        show_watch(console(), watch_folder(card, shoot_file, json_file), quiet)
    shown = show_progress(check_and_show(card, shoot_file, json_file, pictures, cells))
    out = console()
    print_report(out, shown.report)
    for reasons in shown.reasons:
        print_reasons(out, reasons, min(out.width, WIDTH))
    written = [*([] if json_file is None else [json_file]), *shown.written]
    if written:
        names = ", ".join(str(file) for file in written)
        out.print(f"\nWritten: {names}", soft_wrap=True, markup=False)
    raise typer.Exit(0 if shown.report.verdict == "complete" else 1)
