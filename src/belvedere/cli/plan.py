"""`belvedere plan`: everything to decide before the head is powered."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from belvedere.cli.console import console
from belvedere.foundation import PlanError


class Paper(StrEnum):
    """What the field sheet is printed on."""

    A4 = "a4"
    LETTER = "letter"


def command(
    shoot_file: Annotated[
        Path | None,
        typer.Argument(metavar="SHOOT", help="The shoot.toml, or the folder that holds it."),
    ] = None,
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Also write the whole plan here, as JSON."),
    ] = None,
    sheet_file: Annotated[
        Path | None,
        typer.Option("--sheet", metavar="FILE", help="Also write the field sheet here, as PDF."),
    ] = None,
    paper: Annotated[Paper, typer.Option(help="Paper of the field sheet.")] = Paper.A4,
    pictures: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER", help="Also draw the grid, the sphere, the interval and the ages here."
        ),
    ] = None,
    ask: Annotated[
        bool, typer.Option("--ask", help="Answer a dozen questions and get a shoot file.")
    ] = False,
    find_camera: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Look your camera up in a database of lenses."),
    ] = None,
    find_lens: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Look a lens up; with --find-camera, those that fit."),
    ] = None,
    sample: Annotated[
        Path | None,
        typer.Option(
            metavar="PICTURE", help="Read camera, lens and light from a picture you took before."
        ),
    ] = None,
) -> None:
    r"""Answer everything that must be decided before the head is powered.

    A shoot file says what camera and lens you have and which part of the view
    you want. From it follow: the grid, the mosaic and its prints; sharpness,
    focus zones and exposure; the interval at which no frame goes missing; card
    and batteries; sun, twilight and shadows. What will not work is said first,
    with the nearest plan that would.

        \[camera]
        sensor_width_mm = 7.44
        image_width_px = 3648
        image_height_px = 2736
        \[lens]
        focal_length_mm = 30.5   # or leave it out, and give a wish:
        \[wish]
        smallest_mm = 12.0       # the letters on the sign
        distance_m = 60.0
        \[grid]
        left_deg = -40.0         # edges of the wanted picture
        right_deg = 40.0
        top_deg = 9.0
        bottom_deg = -7.5
        overlap = 0.30

    Begin with questions, plan, and take the sheet along:

        belvedere plan --ask

        belvedere plan shoot.toml --sheet sheet.pdf

    Try it on the example, and keep the plan for a script of yours:

        belvedere plan docs/examples/saltmere --json plan.json

    Every key is explained in docs/shoot-file.md; six shoots are planned in
    docs/planning.md.

    Exit code 0: here is the plan. 2: it cannot be shot as written; the message
    says why.
    """
    if ask:
        from belvedere.cli.plan_ask import ask as interview

        interview(shoot_file or Path("shoot.toml"))
        return
    if find_camera is not None or find_lens is not None or sample is not None:
        from belvedere.cli.plan_gear import print_gear

        print_gear(console(), find_camera, find_lens, sample)
        return
    if shoot_file is None:
        raise PlanError(
            "There is no shoot file to plan.",
            "Give the path of a shoot.toml, or --ask to make one.",
        )
    from belvedere.cli.plan_page import print_briefing
    from belvedere.workflows.plan import plan_shoot

    briefing = plan_shoot(shoot_file, json_file, sheet_file, paper.value, pictures)
    out = console()
    print_briefing(out, briefing)
    written = [str(file) for file in (json_file, sheet_file, pictures) if file is not None]
    if written:
        out.print(f"\nWritten: {', '.join(written)}", soft_wrap=True, markup=False)
