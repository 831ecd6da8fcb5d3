"""`belvedere plan --ask`: the interview on a terminal, or from a pipe."""

from __future__ import annotations

import sys
from pathlib import Path

import typer
from rich.console import Console
from rich.text import Text

from belvedere.cli.console import console
from belvedere.foundation import BelvedereError, PlanError
from belvedere.store import ensure_writable, write_text
from belvedere.workflows.gear import find_cameras, find_lenses
from belvedere.workflows.interview import BACK, MORE, TOPICS, Interview, Question
from belvedere.workflows.interview_file import grid_words, preview, shoot_text
from belvedere.workflows.interview_gear import Lookups
from belvedere.workflows.interview_questions import questions
from belvedere.workflows.sample_picture import read_sample

#: Widest line, so that it also fits a narrow terminal.
_WIDTH = 76
_WELCOME = (
    "A dozen subjects, and at the end a shoot file that explains itself. Enter takes the answer "
    f"in [brackets]; {MORE} explains more; {BACK} goes back; Ctrl-C leaves, and nothing is written."
)


def ask(out: Path) -> Path:
    """Lead a person to a shoot file; return where it was written.

    `out` is what is offered as its name; a folder stands for the shoot.toml in it.

    Raises
    ------
    StoreError
        Nothing can be written there.
    typer.Exit
        With code 2 where the person stops, or the answers end: nothing is written.
    """
    if out.is_dir():
        out = out / "shoot.toml"
    ensure_writable(out)
    screen = console()
    try:
        interview = Interview(questions(Lookups(read_sample, find_cameras, find_lenses)))
        _say(screen, _WELCOME)
        while True:
            interview = _questions(screen, interview)
            written = _write(screen, interview, out)
            if written is not None:
                return written
            interview = interview.back()
    except (KeyboardInterrupt, EOFError) as stop:
        screen.print()
        why = "stopped" if isinstance(stop, KeyboardInterrupt) else "the answers ended too early"
        typer.echo(
            f"belvedere: {why}, and nothing was written; run the same command to begin again.",
            err=True,
        )
        raise typer.Exit(2) from stop


def _questions(screen: Console, interview: Interview) -> Interview:
    """Ask all that is still open; each step back re-opens one."""
    topic = 0
    while (question := interview.question()) is not None:
        if question.topic != topic:
            topic = question.topic
            heading = f"{topic} of {len(TOPICS)}  {TOPICS[topic - 1]}"
            screen.print()
            screen.print(Text(heading, style="bold"))
        _show(screen, question, interview)
        interview = _answer(screen, question, interview)
    return interview


def _show(screen: Console, question: Question, interview: Interview) -> None:
    screen.print()
    _say(screen, question.text, style="bold cyan")
    _say(screen, question.teaches)
    for line in question.options(interview.answers):
        screen.print(Text(f"  {line}"), soft_wrap=True)


def _answer(screen: Console, question: Question, interview: Interview) -> Interview:
    """Read until something is typed that means something; the interview that follows."""
    while True:
        default = interview.default()
        typed = _read(_offer(question.left_out if default == "" else default))
        if typed == MORE:
            _say(screen, question.more, style="italic")
            continue
        if typed == BACK:
            if not interview.asked:
                _say(screen, "This is the first question.")
                continue
            return interview.back()
        try:
            answered = interview.answered(typed)
        except BelvedereError as error:
            _say(screen, str(error), style="yellow")
            continue
        for line in answered.reply():
            _say(screen, line, style="green")
        return answered


def _write(screen: Console, interview: Interview, out: Path) -> Path | None:
    """Show what it comes to and write it; None for a step back."""
    screen.print()
    screen.print(Text("All answered", style="bold"))
    try:
        text = shoot_text(interview.answers)
    except PlanError as error:
        _say(screen, str(error), style="yellow")
        return None
    try:
        _say(screen, f"{grid_words(preview(interview.answers))}.", style="green")
    except PlanError as error:
        _say(screen, str(error), style="yellow")
        _say(screen, f"Press {BACK} to go back, or write it and change it in an editor.")
    path = _place(screen, out)
    if path is None:
        return None
    write_text(path, text)
    screen.print()
    screen.print(Text(f"Written: {path}"), soft_wrap=True)
    screen.print(Text(f"Next: belvedere plan {_as_argument(path)}"), soft_wrap=True)
    return path


def _place(screen: Console, out: Path) -> Path | None:
    """Where to write, never over a file without a yes; None for a step back."""
    while True:
        _say(screen, "Where shall the shoot file be written?", style="bold cyan")
        typed = _read(_offer(str(out)))
        if typed == BACK:
            return None
        if typed == MORE:
            _say(screen, "A folder of its own for each shoot is best: the results join it there.")
            continue
        path = Path(typed).expanduser() if typed else out
        if path.is_dir():
            path = path / "shoot.toml"
        try:
            ensure_writable(path)
        except BelvedereError as error:
            _say(screen, str(error), style="yellow")
            continue
        if not path.exists() or _may_replace(screen, path):
            return path
        out = _free_name(path)


def _may_replace(screen: Console, path: Path) -> bool:
    _say(screen, f"{path} is there already. Shall it be replaced, yes or no?", style="yellow")
    return _read(_offer("no")).casefold() in ("y", "yes")


def _free_name(path: Path) -> Path:
    """The first of shoot-2.toml, shoot-3.toml and so on that is free."""
    number = 2
    while (free := path.with_stem(f"{path.stem}-{number}")).exists():
        number += 1
    return free


def _offer(default: str | None) -> str:
    return "> " if default is None else f"[{default}] > "


def _read(prompt: str) -> str:
    """One line; what is typed into a pipe is not echoed, so the line is ended here."""
    typed = input(prompt).strip()
    if not sys.stdin.isatty():
        typer.echo(typed)
    return typed


def _say(screen: Console, text: str, style: str = "") -> None:
    screen.print(Text(text, style=style), width=min(screen.width, _WIDTH))


def _as_argument(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)
