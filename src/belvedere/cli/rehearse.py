"""`belvedere rehearse`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer
from rich.markup import escape

from belvedere.cli.console import console, show_progress
from belvedere.rehearse import FORMS
from belvedere.store import ensure_writable, write_json
from belvedere.workflows.rehearse import BUILT_IN, RehearsalReport, rehearse_card
from belvedere.workflows.rehearse_request import RehearsalRequest, prepare

_FAULTS = "\n\n".join(f"[cyan]{escape(form)}[/cyan]: {meaning}" for form, meaning in FORMS.values())

command_help = f"""Photograph a scene along the plan with a simulated camera and head.

Real JPEG files go to OUT/card, as a camera writes them; the truth about them to OUT/truth.json. \
Practise a shoot, or put the check to the test: it must find every fault.

[cyan]belvedere rehearse shoot.toml first --fault "missing 3,7" --fault "soft 2,4 2.5"[/cyan]

[cyan]belvedere check first/card --shoot shoot.toml[/cyan]

[cyan]belvedere rehearse shoot.toml second --cells "3,7 2,4" --after first[/cyan]

What can go wrong; the cell is given as row,column:

{_FAULTS}
"""


def command(
    shoot: Annotated[Path, typer.Argument(metavar="SHOOT", help="The shoot file.")],
    out: Annotated[Path, typer.Argument(metavar="OUT", help="A new or empty folder.")],
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
    start: Annotated[
        datetime | None, typer.Option(help="The camera's clock at the first cell.")
    ] = None,
    first_number: Annotated[
        int | None, typer.Option(min=1, show_default="401", help="Number of the first file.")
    ] = None,
    subsecond: Annotated[
        bool, typer.Option("--subsecond", help="Let the files state hundredths of a second.")
    ] = False,
    workers: Annotated[int, typer.Option(min=1, max=64, help="Processes side by side.")] = 2,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the truth there too.")
    ] = None,
) -> None:
    """See `command_help`."""
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
        files = ", ".join(Path(file).name for file in cell["files"])
        shown = f" ({files})" if files else ""
        screen.print(f"  row {cell['row']}, column {cell['column']}: {cell['state']}{shown}")
    screen.print(f"The truth is in {report.truth}.")
