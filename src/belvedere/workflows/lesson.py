"""A lesson for a class: its shoot file and its card, ready to be checked."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from belvedere.foundation import Steps
from belvedere.rehearse import Lesson, lesson_named
from belvedere.store import write_text
from belvedere.workflows.rehearse import RehearsalReport, rehearse_card
from belvedere.workflows.rehearse_request import RehearsalRequest, prepare


@dataclass(frozen=True, slots=True)
class LessonReport:
    """A lesson that has been photographed; `shoot_file` lies beside its card."""

    lesson: Lesson
    shoot_file: Path
    rehearsal: RehearsalReport


def lesson_folder(name: str) -> Path:
    """Where a lesson goes if nobody says."""
    return Path(f"lesson-{name}")


def run_lesson(name: str, out: Path, *, workers: int = 2) -> Steps[LessonReport]:
    """Photograph a lesson: `out` gets its shoot.toml, its card and the truth.

    Raises
    ------
    PlanError
        Where no lesson has this name.
    StoreError
        Where `out` is not new or empty, or cannot be written.
    """
    lesson = lesson_named(name)
    with tempfile.TemporaryDirectory() as folder:
        draft = Path(folder) / "shoot.toml"
        draft.write_text(lesson.shoot_toml, "utf-8")
        prepared = prepare(RehearsalRequest(draft, seed=lesson.seed, faults=lesson.faults))
    report = yield from rehearse_card(
        prepared.rehearsal, prepared.make_scene, prepared.scene_name, out, workers=workers
    )
    shoot_file = out / "shoot.toml"
    write_text(shoot_file, lesson.shoot_toml)
    return LessonReport(lesson, shoot_file, report)
