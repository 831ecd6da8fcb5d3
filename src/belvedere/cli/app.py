"""The `belvedere` command: one subcommand per station of the job."""

from __future__ import annotations

import importlib
import sys
from typing import Any

import typer
from typer.core import TyperGroup

from belvedere import __version__
from belvedere.foundation import EXIT_CODES, BelvedereError

#: One module each in this room, in the order of the job; each has `command`, a typer command.
STATIONS = ("plan", "rehearse", "check", "retake", "assemble", "publish", "serve")


class _Stations(TyperGroup):
    """The stations, each imported when it is asked for: `--version` should not wait for OpenCV."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(STATIONS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in STATIONS:
            return None
        alone = typer.Typer(add_completion=False, rich_markup_mode="rich")
        module = importlib.import_module(f"belvedere.cli.{cmd_name}")
        alone.command(cmd_name)(module.command)
        return typer.main.get_command(alone)


app = typer.Typer(
    cls=_Stations,
    name="belvedere",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    help="Gigapixel panoramas: plan, rehearse, check before you go home, assemble, publish.",
)


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


def main() -> None:
    """Run the command line; what stops the work becomes one sentence and exit code 2."""
    try:
        app()
    except BelvedereError as error:
        print(f"belvedere: {error}", file=sys.stderr)  # noqa: T201
        sys.exit(EXIT_CODES[type(error)])
