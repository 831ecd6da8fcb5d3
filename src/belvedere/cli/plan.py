"""`belvedere plan`: what a shoot file means, before the head is powered."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table
from rich.text import Text

from belvedere.cli.console import console
from belvedere.optics import pixel_angle_arcsec
from belvedere.shoot import CAUTIONS, Cell, Plan, notes, sweep_duration_s
from belvedere.workflows.plan import cells_by_row, diagonal_fov_deg, gigapixels, plan_shoot

#: Widest line of the table, so that it also fits a narrow terminal or a printed page.
_WIDTH = 78


def command(
    shoot_file: Annotated[
        Path, typer.Argument(metavar="SHOOT", help="The shoot.toml, or the folder that holds it.")
    ],
    json_file: Annotated[
        Path | None,
        typer.Option("--json", metavar="FILE", help="Also write the plan, every cell in it, here."),
    ] = None,
) -> None:
    r"""Turn a shoot file into a grid: rows, columns, the head's steps, the mosaic's size.

    A shoot file says what camera and lens you have and which part of the view you want:

        \[camera]
        sensor_width_mm = 7.44
        image_width_px = 1440
        image_height_px = 1080
        \[lens]
        focal_length_mm = 44.0
        \[grid]
        left_deg = -41.0      # edges of the wanted picture
        right_deg = 41.0
        top_deg = 14.0
        bottom_deg = -13.0
        overlap = 0.30
        \[sweep]
        interval_s = 3.0

    Try it on the example, and keep the plan for a script of yours:

        belvedere plan docs/examples/saltmere --json plan.json

    Every key is explained in docs/shoot-file.md.

    Exit code 0: here is the plan. 2: it cannot be shot as written; the message says why.
    """
    plan = plan_shoot(shoot_file, json_file)
    out = console()
    width = min(out.width, _WIDTH)
    out.print(Text(plan.shoot.title or "Untitled shoot", style="bold"), width=width)
    out.print()
    out.print(_facts(plan), width=width)
    out.print()
    out.print(_rows(plan), width=width)
    out.print()
    for note in notes(plan):
        out.print(_remark("Note", note), width=width)
    for caution in CAUTIONS:
        subject, _, says = caution.partition(": ")
        out.print(_remark(subject, says), width=width)
    if json_file is not None:
        out.print(f"\nWritten: {json_file}", soft_wrap=True, markup=False)


def _facts(plan: Plan) -> Table:
    shoot = plan.shoot
    camera, grid = shoot.camera, shoot.grid
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim", no_wrap=True)
    table.add_column()

    def add(heading: str, says: str) -> None:
        table.add_row(heading, Text(says))

    add(
        "Camera and lens",
        f"{camera.sensor_width_mm:g} × {camera.sensor_height_mm:.4g} mm, "
        f"{camera.image_width_px} × {camera.image_height_px} px, "
        f"{shoot.lens.focal_length_mm:g} mm",
    )
    add(
        "Field of view",
        f"{plan.horizontal_fov_deg:.2f}° × {plan.vertical_fov_deg:.2f}°, "
        f"diagonal {diagonal_fov_deg(plan):.2f}°",
    )
    add("Wanted", f"{_bearings(plan)}, elevation {_edges(plan)}")
    add("Overlap", f"{grid.overlap_across:.0%} asked; {_real_overlap(plan)}")
    add("Grid", f"{_grid(plan)} = {_count(len(plan.cells), 'frame')}")
    add("Steps of the head", _steps(plan))
    add(
        "Mosaic",
        f"{plan.mosaic_width_px:,} × {plan.mosaic_height_px:,} px = {_pixels(gigapixels(plan))}",
    )
    add(
        "Scale",
        f"{plan.scale_px_per_deg:.1f} px per degree "
        f"({pixel_angle_arcsec(plan.focal_length_px):.2f} seconds of arc per pixel)",
    )
    add("Sweep", _sweep(plan))
    return table


def _rows(plan: Plan) -> Table:
    table = Table(box=None, padding=(0, 2), header_style="bold", pad_edge=False)
    for heading in ("row", "elevation", "columns", "step", "first bearing", "last bearing"):
        table.add_column(heading, justify="right", no_wrap=True)
    for cells in cells_by_row(plan):
        table.add_row(*_row(plan, cells))
    return table


def _row(plan: Plan, cells: list[Cell]) -> tuple[str, ...]:
    step = plan.column_steps_deg[cells[0].row - 1]
    return (
        str(cells[0].row),
        f"{cells[0].elevation_deg:+.2f}°",
        str(len(cells)),
        f"{step:.2f}°" if len(cells) > 1 else "",
        f"{cells[0].bearing_deg:+.2f}°",
        f"{cells[-1].bearing_deg:+.2f}°",
    )


def _remark(subject: str, says: str) -> Text:
    return Text.assemble((f"{subject}: ", "bold"), says)


def _bearings(plan: Plan) -> str:
    grid = plan.shoot.grid
    if grid.left_deg is None or grid.right_deg is None:
        return "full turn"
    return f"bearing {grid.left_deg:+g}° to {grid.right_deg:+g}°"


def _edges(plan: Plan) -> str:
    return f"{plan.shoot.grid.bottom_deg:+g}° to {plan.shoot.grid.top_deg:+g}°"


def _real_overlap(plan: Plan) -> str:
    across = f"{plan.overlap_across:.1%} across" if max(plan.columns_per_row) > 1 else ""
    down = f"{plan.overlap_down:.1%} down" if plan.rows > 1 else ""
    real = " and ".join(part for part in (across, down) if part)
    return f"at least {real}" if real else "one frame has no neighbour"


def _grid(plan: Plan) -> str:
    fewest, most = min(plan.columns_per_row), max(plan.columns_per_row)
    columns = _count(most, "column") if fewest == most else f"{fewest} to {most} columns"
    return f"{_count(plan.rows, 'row')} × {columns}"


def _steps(plan: Plan) -> str:
    steps = [
        step for step, n in zip(plan.column_steps_deg, plan.columns_per_row, strict=True) if n > 1
    ]
    parts = []
    if steps:
        low, high = f"{min(steps):.2f}°", f"{max(steps):.2f}°"
        parts.append(f"{low} across" if low == high else f"{low} to {high} across")
    if plan.rows > 1:
        parts.append(f"{plan.row_step_deg:.2f}° down")
    return ", ".join(parts) or "none"


def _sweep(plan: Plan) -> str:
    sweep = plan.shoot.sweep
    way = "there and back" if sweep.serpentine else "each the same way"
    says = f"by {sweep.order} from {sweep.start}, {way}"
    duration_s = sweep_duration_s(plan)
    if duration_s is None:
        return f"{says}; give interval_s in [sweep] to see how long it takes"
    return f"{says}; {_duration(duration_s)} at one frame every {sweep.interval_s:g} s"


def _duration(seconds: float) -> str:
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    if hours:
        return f"{hours} h {minutes:02d} min"
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


def _pixels(gigapixels: float) -> str:
    return f"{gigapixels:.2f} gigapixels" if gigapixels >= 1.0 else f"{gigapixels * 1e3:.1f} MP"


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"
