"""The `belvedere` command: one subcommand per station of the job."""

from __future__ import annotations

import importlib
import sys

import typer

from belvedere import __version__
from belvedere.foundation import EXIT_CODES, BelvedereError

app = typer.Typer(
    name="belvedere",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    help="Gigapixel panoramas: plan, rehearse, check before you go home, assemble, publish.",
)

#: One module each in this room, in the order of the job; each has `command`, a typer command.
STATIONS = ("plan", "rehearse", "check", "retake", "assemble", "publish", "serve")


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"belvedere {__version__}")
        raise typer.Exit


@app.callback()
def _doors(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version and stop."
    ),
) -> None:
    """Gigapixel panoramas: plan, rehearse, check before you go home, assemble, publish."""


for _name in STATIONS:
    app.command(_name)(importlib.import_module(f"belvedere.cli.{_name}").command)


def main() -> None:
    """Run the command line; what stops the work becomes one sentence and exit code 2."""
    try:
        app()
    except BelvedereError as error:
        print(f"belvedere: {error}", file=sys.stderr)  # noqa: T201
        sys.exit(EXIT_CODES[type(error)])
