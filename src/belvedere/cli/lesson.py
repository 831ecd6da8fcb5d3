"""`belvedere rehearse --lesson`: what the teacher reads on the screen."""

from __future__ import annotations

import shlex
from pathlib import Path

from rich.markup import escape
from rich.padding import Padding

from belvedere.cli.console import console, show_progress
from belvedere.rehearse import LESSONS
from belvedere.workflows.lesson import LessonReport, lesson_folder, run_lesson

#: For the help of `--lesson`.
LESSON_HELP = f"A lesson for a class, one of: {', '.join(LESSONS)}. SHOOT is not needed then."


def teach(name: str, out: Path | None = None, workers: int = 2) -> None:
    """Photograph a lesson to `out` and tell its story, what to look for and what to ask."""
    _tell(show_progress(run_lesson(name, out or lesson_folder(name), workers=workers)))


def _tell(report: LessonReport) -> None:
    lesson, screen = report.lesson, console()
    screen.print(f"[bold]{escape(lesson.title)}[/bold]\n")
    screen.print(escape(" ".join(lesson.story)))
    screen.print("\nThe card is there. Check it:")
    check = shlex.join(
        ["belvedere", "check", str(report.rehearsal.card), "--shoot", str(report.shoot_file)]
    )
    screen.print(Padding(f"[cyan]{escape(check)}[/cyan]", (0, 0, 0, 2)), soft_wrap=True)
    screen.print("\nWhat to see:")
    for sentence in lesson.look_for:
        screen.print(f"– {escape(sentence)}")
    screen.print("\nFor the class:")
    for number, question in enumerate(lesson.questions, start=1):
        screen.print(f"{number}. {escape(question)}")
