"""What every subcommand shares: the console and the progress bar."""

from __future__ import annotations

import sys
from typing import Any, TypeVar

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as Bar

from belvedere.foundation import Steps

T = TypeVar("T")


def console() -> Console:
    """A console on standard output; rich honours NO_COLOR."""
    return Console(highlight=False)


def show_progress(steps: Steps[T]) -> T:
    """Run `steps`, with a bar on a terminal, silently elsewhere; Ctrl-C ends in a sentence."""
    try:
        return _with_bar(steps) if sys.stderr.isatty() else _run(steps, None)
    except KeyboardInterrupt as interrupt:
        typer.echo(
            "belvedere: stopped, and nothing half-written is left; run the same command again.",
            err=True,
        )
        raise typer.Exit(130) from interrupt


def _with_bar(steps: Steps[T]) -> T:
    columns = (
        TextColumn("{task.description:<28}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[unit]}"),
        TimeRemainingColumn(),
    )
    with Bar(*columns, console=Console(stderr=True)) as bar:
        return _run(steps, bar)


def _run(steps: Steps[T], bar: Bar | None) -> T:
    tasks: dict[str, Any] = {}
    while True:
        try:
            progress = next(steps)
        except StopIteration as stop:
            result: T = stop.value
            return result
        if bar is None:
            continue
        if progress.step not in tasks:
            tasks[progress.step] = bar.add_task(progress.step, total=progress.total, unit="")
        bar.update(
            tasks[progress.step],
            completed=progress.done,
            total=progress.total,
            unit=progress.unit + (f"  {progress.note}" if progress.note else ""),
        )
