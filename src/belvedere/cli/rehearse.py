"""`belvedere rehearse`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.markup import escape

from belvedere.cli.console import console, show_progress
from belvedere.cli.lesson import LESSON_HELP, teach
from belvedere.foundation import PlanError
from belvedere.rehearse import FILE_STYLES, FORMS, HAZARDS
from belvedere.store import ensure_writable, write_json
from belvedere.workflows.rehearse import BUILT_IN, RehearsalReport, rehearse_card
from belvedere.workflows.rehearse_request import RehearsalRequest, prepare

_FAULTS = "\n\n".join(f"[cyan]{escape(form)}[/cyan]: {meaning}" for form, meaning in FORMS.values())
_HAZARDS = "\n\n".join(f"[cyan]{name}[/cyan]: {meaning}" for name, meaning in HAZARDS.items())

command_help = f"""Photograph a scene along the plan with a simulated camera and head.

Real JPEG files go to OUT/card, as a camera writes them; the truth about them to OUT/truth.json. \
Practise a shoot, or put the check to the test: it must find every fault.

[cyan]belvedere rehearse shoot.toml first --fault "missing 3,7" --fault "soft 2,4 2.5"[/cyan]

[cyan]belvedere check first/card --shoot shoot.toml[/cyan]

[cyan]belvedere rehearse shoot.toml second --cells "3,7 2,4" --after first[/cyan]

[cyan]belvedere rehearse --lesson wind[/cyan]

What can go wrong; the cell is given as row,column (soft@3,7 2.5 is understood, too):

{_FAULTS}

Hazards of a day:

{_HAZARDS}
"""


def command(
    shoot: Annotated[
        Path | None, typer.Argument(metavar="SHOOT", help="The shoot file.", show_default=False)
    ] = None,
    out: Annotated[
        Path | None,
        typer.Argument(metavar="OUT", help="A new or empty folder.", show_default=False),
    ] = None,
    seed: Annotated[
        int | None,
        typer.Option(min=0, show_default="1", help="Chance: the same number gives the same card."),
    ] = None,
    scene: Annotated[
        str | None,
        typer.Option(
            metavar="PICTURE",
            show_default="harbour",
            help=f"A picture to look at, or {' or '.join(BUILT_IN)}.",
        ),
    ] = None,
    scene_seed: Annotated[
        int | None, typer.Option(min=0, show_default="1", help="Another harbour or another sketch.")
    ] = None,
    fault: Annotated[
        list[str] | None, typer.Option(metavar="WORDS", help="What goes wrong; repeatable.")
    ] = None,
    hazard: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help=f"{', '.join(HAZARDS)}; repeatable."),
    ] = None,
    lesson: Annotated[str | None, typer.Option(metavar="NAME", help=LESSON_HELP)] = None,
    random_faults: Annotated[
        int,
        typer.Option(min=0, metavar="N", show_default=False, help="N more faults, left to chance."),
    ] = 0,
    cells: Annotated[
        str | None,
        typer.Option(metavar="'R,C R,C'", help="Shoot just these cells, driven to by hand."),
    ] = None,
    after: Annotated[
        Path | None,
        typer.Option(
            metavar="OUT", help="Go on after this rehearsal: same tripod, later clock and numbers."
        ),
    ] = None,
    tilt: Annotated[
        float | None,
        typer.Option(min=0.0, max=10.0, show_default="0.7", help="The base off level, degrees."),
    ] = None,
    pointing_error: Annotated[
        float | None,
        typer.Option(
            min=0.0, max=5.0, show_default="0.03", help="Spread of the head's errors, degrees."
        ),
    ] = None,
    step_error: Annotated[
        float | None,
        typer.Option(
            min=-20.0, max=20.0, show_default="0", help="The head turns too far, percent."
        ),
    ] = None,
    backlash: Annotated[
        float | None,
        typer.Option(min=0.0, max=5.0, show_default="0", help="Play of the gears, degrees."),
    ] = None,
    start: Annotated[
        datetime | None, typer.Option(help="The camera's clock at the first cell.")
    ] = None,
    first_number: Annotated[
        int | None, typer.Option(min=1, show_default="401", help="Number of the first file.")
    ] = None,
    subsecond: Annotated[
        bool, typer.Option("--subsecond", help="Let the files state hundredths of a second.")
    ] = False,
    files: Annotated[
        str | None,
        typer.Option(
            metavar="WAY",
            show_default="usual",
            help=f"How the camera names and fills its files: {', '.join(FILE_STYLES)}.",
        ),
    ] = None,
    still: Annotated[
        bool, typer.Option("--still", help="Nothing in the scene moves: for measuring.")
    ] = False,
    workers: Annotated[int, typer.Option(min=1, max=64, help="Processes side by side.")] = 2,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the truth there too.")
    ] = None,
) -> None:
    """See `command_help`."""
    if lesson is not None:
        # The only argument, if there is one, is where the lesson goes.
        teach(lesson, out or shoot, workers)
        return
    if shoot is None or out is None:
        raise PlanError(
            "A rehearsal needs a shoot file and a folder to go to.",
            "Say: belvedere rehearse shoot.toml first.",
        )
    request = RehearsalRequest(
        shoot=shoot,
        seed=seed,
        scene=scene,
        scene_seed=scene_seed,
        faults=tuple(fault or ()),
        random_faults=random_faults,
        cells=cells,
        after=after,
        tilt_deg=tilt,
        pointing_error_deg=pointing_error,
        step_error_percent=step_error,
        start=start,
        first_number=first_number,
        hazards=tuple(hazard or ()),
        backlash_deg=backlash,
        files=files,
        still=still,
    )
    if json_file is not None:
        ensure_writable(json_file)
    prepared = prepare(request)
    report = show_progress(
        rehearse_card(
            prepared.rehearsal,
            prepared.make_scene,
            prepared.scene_name,
            out,
            workers=workers,
            subsecond=subsecond,
        )
    )
    if json_file is not None:
        write_json(json_file, report.document)
    _tell(report)


command.__doc__ = command_help


def _tell(report: RehearsalReport) -> None:
    document = report.document
    cells = document["cells"]
    wrong = [cell for cell in cells if cell["state"] != "good"]
    screen = console()
    screen.print(
        f"{len(report.files)} frames of {len(cells)} cells on {report.card}, "
        f"{Path(report.files[0]).name} to {Path(report.files[-1]).name}, "
        f"in {report.seconds:.1f} s."
    )
    for cell in wrong:
        screen.print(f"  row {cell['row']}, column {cell['column']}: {_told(cell)}")
    screen.print(f"The truth is in {report.truth}.")


def _told(cell: dict[str, Any]) -> str:
    """What is wrong with a cell, and why: the files that show it, or what kept them away."""
    shown = ", ".join(Path(file).name for file in cell["files"])
    if not shown:
        shown = ", ".join(word for word in cell["happened"] if word != cell["state"])
    return f"{cell['state']} ({shown})" if shown else str(cell["state"])
