"""`belvedere publish`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from belvedere.cli.console import console, show_progress
from belvedere.publish import LOCAL_ADDRESS, Caption, parse_address
from belvedere.store import ensure_writable, write_json
from belvedere.workflows.publish import Publication, publish


def command(
    mosaic: Annotated[
        Path,
        typer.Argument(
            metavar="MOSAIC", help="What `assemble` wrote; any TIFF, JPEG or PNG will do."
        ),
    ],
    site: Annotated[
        Path,
        typer.Argument(
            metavar="SITE", help="Folder to make: a new name, or a former site to make anew."
        ),
    ],
    title: Annotated[str, typer.Option(help="Title on the page; else the mosaic's own.")] = "",
    summary: Annotated[str, typer.Option(help="A sentence or two about the picture.")] = "",
    credit: Annotated[str, typer.Option(help="Who made the picture.")] = "",
    rights: Annotated[
        str, typer.Option(help="Address of a licence or rights statement, or a sentence.")
    ] = "",
    date: Annotated[str, typer.Option(help="When it was taken, as the label shall say it.")] = "",
    alt: Annotated[str, typer.Option(help="What is to be seen, for those who cannot see it.")] = "",
    address: Annotated[
        str, typer.Option(help="Where the site will stand, e.g. https://museum.example/panorama/")
    ] = "",
    places: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="JSON file of named views; see docs/publish.md."),
    ] = None,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the report to this file.")
    ] = None,
) -> None:
    """Make a web site of a mosaic: a page to explore it, tiles, and IIIF documents.

    The page works from any static web server, in any folder, and straight from the disk; it asks
    nothing of any other site. Only other IIIF viewers need to know where it stands: tell them
    with --address.

    A picture this large shows faces, number plates and rooms behind windows. Look at it at full
    size before you let others do so.

    Example: belvedere publish saltmere.tif site --title "Saltmere harbour from the mole"
    """
    if json_file is not None:
        ensure_writable(json_file)
    caption = Caption(
        title=title, summary=summary, credit=credit, rights=rights, date=date, alt=alt
    )
    where = parse_address(address) if address else LOCAL_ADDRESS
    done = show_progress(publish(mosaic, site, caption, where, places))
    if json_file is not None:
        write_json(json_file, done.report())
    _tell(done, site, given=bool(address))


def _tell(done: Publication, site: Path, *, given: bool) -> None:
    out = console()
    tiles = f"{done.tiles} tiles{' (kept)' if done.tiles_kept else ''}"
    out.print(
        f"{done.title}: {done.width_px} × {done.height_px} px, {tiles}, "
        f"{done.size_bytes / 1e6:.1f} MB in {done.seconds:.1f} s.",
        markup=False,
        soft_wrap=True,
    )
    out.print(
        f"Open {site / 'index.html'}, or run: belvedere serve {site}", markup=False, soft_wrap=True
    )
    out.print(
        "Before others see it, look at it at full size: it may show faces, number plates, rooms.",
        style="dim",
        soft_wrap=True,
    )
    if not given:
        out.print(
            "For IIIF viewers elsewhere, publish once more with --address when you know it.",
            style="dim",
            soft_wrap=True,
        )
