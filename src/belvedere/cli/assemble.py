"""`belvedere assemble`: frames in, one seamless mosaic out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

import typer
from rich.console import Console
from rich.markup import escape

from belvedere.check import Finding
from belvedere.cli.console import console, show_progress
from belvedere.workflows.assemble import Assembly, Outputs, Wish, assemble


def command(
    card: Annotated[
        Path, typer.Argument(metavar="CARD", help="The folder with the frames; never written to.")
    ],
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="The mosaic to write: a TIFF file.")
    ],
    shoot: Annotated[
        Path | None,
        typer.Option("--shoot", metavar="SHOOT", help="The shoot file the frames were taken by."),
    ] = None,
    projection: Annotated[
        Literal["equirectangular", "cylindrical"],
        typer.Option(help="How the sphere is laid flat; cylindrical keeps uprights straight."),
    ] = "equirectangular",
    scale: Annotated[
        float | None,
        typer.Option(
            min=0.1, metavar="PX", help="Pixels per degree.", show_default="as fine as the frames"
        ),
    ] = None,
    crop: Annotated[
        bool, typer.Option("--crop", help="Keep only the largest rectangle without a gap.")
    ] = False,
    packing: Annotated[
        Literal["jpeg", "deflate"],
        typer.Option(help="How pixels are packed: jpeg is small, deflate loses nothing."),
    ] = "jpeg",
    quality: Annotated[int, typer.Option(min=50, max=100, help="JPEG quality.")] = 92,
    orientation: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Also write where every frame points, as JSON."),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Also write the report as JSON.")
    ] = None,
) -> None:
    """Assemble the frames of a card into one seamless mosaic.

    With --shoot, every cell gives the frame in charge of it, retakes included, and the plan helps
    to place what the pictures alone could not (plain sky, still water). Without, the pictures
    decide: hand-held rows, in any order, whatever the focal length.

    The mosaic is a tiled BigTIFF with all its smaller levels inside; `belvedere publish` makes a
    page of it. It does not matter how large it becomes: memory stays as it is, and the disk needs
    room for about three times the frames while it works.

        belvedere assemble card --shoot shoot.toml --out mosaic.tif

        belvedere assemble handheld --out mosaic.tif --projection cylindrical --crop

    A cell without a frame leaves a hole: it is named, and the rest is assembled.

    Exit code 0: here is the mosaic. 2: it could not be made; the message says why.
    """
    wish = Wish(projection, scale, crop, packing, quality)
    outputs = Outputs(out, json_file, orientation)
    done = show_progress(assemble(card, outputs, wish, shoot))
    _tell(console(), done)
    for written in (json_file, orientation):
        if written is not None:
            console().print(f"Written: {written}", soft_wrap=True, markup=False)


def _tell(to: Console, done: Assembly) -> None:
    layout, frames = done.layout, len(done.orientation.frames)
    to.print(f"[bold]{escape(done.title or 'Mosaic')}[/bold]")
    to.print(
        f"{layout.width_px:,} × {layout.height_px:,} px = {done.output_mp:,.1f} MP "
        f"from {frames} frames of {done.input_mp / frames:.1f} MP, {done.composed.levels} levels"
    )
    to.print(
        f"{layout.projection}, {layout.scale_px_per_deg:.2f} px per degree, "
        f"{layout.width_px / layout.scale_px_per_deg:.1f}° wide; "
        f"{done.composed.covered_share:.1%} of the rectangle is covered"
    )
    to.print(
        f"Neighbours fit to {done.orientation.residual_px_rms:.2f} px "
        f"({done.orientation.tie_points:,} tie points)"
    )
    for says in _notes(done):
        to.print(f"[yellow]Note:[/yellow] {escape(says)}")
    if done.holes:
        cells = "1 cell has" if len(done.holes) == 1 else f"{len(done.holes)} cells have"
        to.print(f"[bold yellow]Not the whole picture:[/bold yellow] {cells} no frame in it.")
    for hole in done.holes:
        to.print(
            f"[yellow]Hole:[/yellow] row {hole.row}, column {hole.column}: {escape(hole.says)}"
        )
    for doubt in done.doubts:
        to.print(
            f"[yellow]Not good:[/yellow] row {doubt.row}, column {doubt.column} "
            f"({doubt.state}): {escape(doubt.says)}"
        )
    if done.left_out:
        to.print(f"Not in the mosaic: {escape(_listed(done.left_out))}")
    to.print(f"{done.seconds:.1f} s, at most {done.peak_rss_mb:,.0f} MiB of memory")
    to.print(f"Written: {done.out}", soft_wrap=True, markup=False)


def _notes(done: Assembly) -> Iterator[str]:
    """What orientation found; of many of one kind the first in full, the others by file."""
    kinds: dict[str, list[Finding]] = {}
    for finding in done.orientation.findings:
        kinds.setdefault(finding.kind, []).append(finding)
    for same in kinds.values():
        if len(same) <= 3 or not all(finding.file for finding in same):
            yield from (finding.says for finding in same)
        else:
            yield same[0].says
            yield "The same is true of " + _listed(tuple(finding.file for finding in same[1:]))


def _listed(files: tuple[str, ...], most: int = 6) -> str:
    named = ", ".join(files[:most])
    return named if len(files) <= most else f"{named} and {len(files) - most} more"
