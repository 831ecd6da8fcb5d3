"""Every lesson as a class runs it: rehearse, check, and see what was promised."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
import pytest

from belvedere.cli import main
from belvedere.rehearse import LESSONS, Lesson, Rehearsal, parse_fault, shots
from belvedere.rehearse.harbour import HarbourScene
from belvedere.shoot import make_plan, parse_shoot
from belvedere.sphere import bearing_elevation_roll

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "lessons.md").read_text("utf-8")

lessons = pytest.mark.parametrize("lesson", LESSONS.values(), ids=list(LESSONS))


@dataclass(frozen=True)
class Taught:
    """What the teacher's screen said, and the check's document and exit code."""

    screen: str
    answer: dict[str, Any]
    code: int


def run(*words: str) -> int:
    """The command line in this process; `main` ends by leaving it."""
    with mock.patch("sys.argv", ["belvedere", *words]), pytest.raises(SystemExit) as left:
        main()
    return int(left.value.code or 0)


def taught(lesson: Lesson, folder: Path, capsys: pytest.CaptureFixture[str]) -> Taught:
    out, found = folder / lesson.name, folder / "check.json"
    assert run("rehearse", "--lesson", lesson.name, str(out), "--workers", "1") == 0
    screen = " ".join(capsys.readouterr().out.split())
    shoot = str(out / "shoot.toml")
    code = run("check", str(out / "card"), "--shoot", shoot, "--json", str(found))
    capsys.readouterr()
    return Taught(screen, json.loads(found.read_text("utf-8")), code)


@lessons
def test_the_check_finds_what_the_lesson_promises(
    lesson: Lesson, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = taught(lesson, tmp_path, capsys)
    assert done.answer["verdict"] == lesson.verdict
    assert done.code == (0 if lesson.verdict == "complete" else 1)
    states = {(cell["row"], cell["column"]): cell["state"] for cell in done.answer["cells"]}
    bad = {place: state for place, state in states.items() if state != "good"}
    assert bad == dict(lesson.states)
    unjudged = {
        (cell["row"], cell["column"])
        for cell in done.answer["cells"]
        if any(finding["kind"] == "unjudged" for finding in cell["findings"])
    }
    assert set(lesson.unjudged) <= unjudged
    for sentence in (*lesson.story, *lesson.look_for, *lesson.questions):
        assert " ".join(sentence.split()) in done.screen


def test_after_the_knock_two_frames_share_only_a_strip() -> None:
    lesson = LESSONS["tripod"]
    plan = make_plan(parse_shoot(lesson.shoot_toml))
    faults = tuple(parse_fault(words) for words in lesson.faults)
    taken = {s.cell: s for s in shots(Rehearsal(plan, seed=lesson.seed, faults=faults))}
    looks = {place: bearing_elevation_roll(taken[place].camera_from_world) for place in taken}
    # Width and height of a frame in degrees: 2 atan(half the sensor / focal length).
    width_deg, height_deg = (2.0 * np.degrees(np.arctan(mm / 2.0 / 34.0)) for mm in (7.44, 5.58))
    right = (
        looks[3, 4][0]
        - looks[3, 3][0]
        - (plan.cell(3, 4).bearing_deg - plan.cell(3, 3).bearing_deg)
    )
    low = looks[3, 3][1] - looks[3, 4][1]
    assert right == pytest.approx(2.0, abs=0.25)
    assert low == pytest.approx(1.5, abs=0.25)
    assert 0.0 < 1.0 - (looks[3, 4][0] - looks[3, 3][0]) / width_deg < 0.1
    assert low < height_deg / 2.0


def test_the_boat_is_there_in_one_row_and_gone_in_the_next() -> None:
    plan = make_plan(parse_shoot(LESSONS["boat"].shoot_toml))
    taken = {shot.cell: shot for shot in shots(Rehearsal(plan))}
    at_s = [
        (taken[place].taken_at - taken[1, 1].taken_at).total_seconds() for place in ((3, 6), (4, 6))
    ]
    assert at_s[1] - at_s[0] == pytest.approx(20.0, abs=2.0)
    scene = HarbourScene(1)
    # Where the frames of 3,6 and 4,6 overlap: the boat's wheel-house is in one of them.
    before, after = (scene.patch(19.0, -1.5, 40.0, 200, 100, at_s=moment) for moment in at_s)
    apart = np.abs(before - after).mean(axis=2)
    assert np.mean(apart > 0.1) > 0.1  # more than a tenth of it is something else


@lessons
def test_a_lesson_is_told_in_a_few_sentences(lesson: Lesson) -> None:
    assert 3 <= len(lesson.story) <= 5
    assert all(s.endswith((".", "?")) for s in (*lesson.story, *lesson.look_for, *lesson.questions))
    cells = make_plan(parse_shoot(lesson.shoot_toml)).cells
    places = {(cell.row, cell.column) for cell in cells}
    assert {place for place, _ in lesson.states} | set(lesson.unjudged) <= places
    for words in lesson.faults:
        parse_fault(words)


@lessons
def test_the_page_tells_the_same_as_the_screen(lesson: Lesson) -> None:
    page = " ".join(PAGE.split())
    assert f"## {lesson.title} " in page
    assert f"belvedere rehearse --lesson {lesson.name} " in page
    for sentence in (*lesson.story, *lesson.look_for, *lesson.questions):
        assert sentence in page


def test_an_unknown_lesson_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("rehearse", "--lesson", "tripd") == 2
    assert "Did you mean “tripod”" in capsys.readouterr().err
    assert run("rehearse", "--lesson", "astronomy") == 2
    assert "Known are interval, white-balance" in " ".join(capsys.readouterr().err.split())
