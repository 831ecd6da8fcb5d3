"""`belvedere serve`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from belvedere.cli.console import console
from belvedere.store import write_json
from belvedere.workflows.serve import address_of, make_server


def command(
    site: Annotated[Path, typer.Argument(metavar="SITE", help="The folder that `publish` wrote.")],
    port: Annotated[
        int | None,
        typer.Option(
            min=0, max=65535, help="Port on this machine; else the first free one from 8000."
        ),
    ] = None,
    json_file: Annotated[
        Path | None,
        typer.Option(
            "--json", metavar="FILE", help="Write the address to this file when it answers."
        ),
    ] = None,
) -> None:
    """Show a site on this machine, until Ctrl-C.

    Nobody else can reach it: it listens on 127.0.0.1 alone. To show it to others, copy the
    folder to any static web server.

    Example: belvedere serve site
    """
    with make_server(site, port) as server:
        address = address_of(server)
        if json_file is not None:
            write_json(json_file, {"schema": "belvedere/serve/1", "address": address})
        console().print(f"{address}  (Ctrl-C ends it)", markup=False, soft_wrap=True)
        try:
            server.serve_forever(poll_interval=0.2)
        except KeyboardInterrupt:
            console().print()
