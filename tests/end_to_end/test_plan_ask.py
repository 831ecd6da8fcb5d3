"""The interview as a person goes through it, from a pipe: what is shown, written, or not."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
import typer

from belvedere.cli.plan_ask import ask
from belvedere.foundation import StoreError
from belvedere.shoot import make_plan
from belvedere.workflows.shootfile import load_shoot

#: More than there are questions, so that Enter reaches the end.
ENTER = [""] * 60


@dataclass(frozen=True)
class _Asked:
    written: Path | None
    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        """What was shown, as if lines did not end."""
        return " ".join(self.out.split())


@pytest.fixture
def asked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., _Asked]:
    """`ask` in this process, with lines typed into it."""
    monkeypatch.setenv("COLUMNS", "80")

    def run(out: Path, lines: list[str]) -> _Asked:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        written, code = None, 0
        try:
            written = ask(out)
        except typer.Exit as ended:
            code = ended.exit_code
        printed = capsys.readouterr()
        return _Asked(written, code, printed.out, printed.err)

    return run


def test_enter_to_the_end_writes_a_file_that_can_be_planned(
    tmp_path: Path, asked: Callable[..., _Asked]
) -> None:
    out = tmp_path / "shoot.toml"
    ran = asked(out, ENTER)
    assert (ran.written, ran.code, ran.err) == (out, 0, "")
    plan = make_plan(load_shoot(out))
    for words in (
        "1 of 12  The picture",
        "12 of 12  Place and time",
        "[My first panorama] >",
        f"{len(plan.cells)} frames",
        f"Written: {out}",
        f"Next: belvedere plan {out}",
    ):
        assert words in ran.out
    questions_shown = ran.out.split("Written: ")[0].splitlines()
    assert max(len(line) for line in questions_shown if str(tmp_path) not in line) <= 80
    assert "# " in out.read_text("utf-8")


def test_more_and_back_and_a_slip(tmp_path: Path, asked: Callable[..., _Asked]) -> None:
    lines = ["<", "?", "The quay", "<", "The mole of Saltmere", "by hand", "24 MP", *ENTER]
    ran = asked(tmp_path / "shoot.toml", lines)
    assert ran.code == 0
    assert "This is the first question." in ran.said
    assert "It can be changed later" in ran.said
    assert "[The quay] >" in ran.out
    assert "That should be two numbers." in ran.said
    assert load_shoot(tmp_path).title == "The mole of Saltmere"


@pytest.mark.parametrize("lines", [[], ["The quay"], ["The quay", "3", "6000 x 4000"]])
def test_answers_that_end_too_early_leave_nothing(
    tmp_path: Path, asked: Callable[..., _Asked], lines: list[str]
) -> None:
    ran = asked(tmp_path / "shoot.toml", lines)
    assert (ran.written, ran.code) == (None, 2)
    assert ran.err.startswith("belvedere: the answers ended too early, and nothing was written")
    assert ran.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(_prompt: str) -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", interrupted)
    with pytest.raises(typer.Exit) as ended:
        ask(tmp_path / "shoot.toml")
    assert ended.value.exit_code == 2
    assert "stopped, and nothing was written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_in_a_process_of_its_own(tmp_path: Path) -> None:
    code = "import sys; from pathlib import Path; from belvedere.cli.plan_ask import ask\n"
    code += "import typer\ntry: ask(Path(sys.argv[1]))\n"
    code += "except typer.Exit as end: sys.exit(end.exit_code)"
    process = subprocess.Popen(
        [sys.executable, "-u", "-c", code, str(tmp_path / "shoot.toml")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env=os.environ | {"PYTHONUTF8": "1"},
    )
    assert process.stdin is not None
    assert process.stdout is not None
    seen = ""
    while "panorama] >" not in seen and (character := process.stdout.read(1)):
        seen += character
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert err == (
        "belvedere: stopped, and nothing was written; run the same command to begin again.\n"
    )
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_is_kept_unless_one_says_yes(
    tmp_path: Path, asked: Callable[..., _Asked]
) -> None:
    out = tmp_path / "shoot.toml"
    out.write_text("# mine\n", "utf-8")
    kept = asked(out, ENTER)
    assert "is there already" in kept.said
    assert out.read_text("utf-8") == "# mine\n"
    assert kept.written == tmp_path / "shoot-2.toml"
    # The end of the interview: where to, then whether to replace it.
    before_the_end = kept.out.split("Where shall the shoot file")[0].count("] >")
    replaced = asked(out, [""] * before_the_end + ["", "yes"])
    assert replaced.written == out
    assert load_shoot(out).title == "My first panorama"


def test_a_folder_stands_for_the_file_in_it(tmp_path: Path, asked: Callable[..., _Asked]) -> None:
    assert asked(tmp_path, ENTER).written == tmp_path / "shoot.toml"


def test_a_place_that_is_not_there_is_said_before_the_first_question(
    tmp_path: Path, asked: Callable[..., _Asked]
) -> None:
    with pytest.raises(StoreError, match="does not exist"):
        asked(tmp_path / "nowhere" / "shoot.toml", ENTER)


def test_another_name_at_the_end(tmp_path: Path, asked: Callable[..., _Asked]) -> None:
    first = asked(tmp_path / "shoot.toml", ENTER)
    questions = first.out.split("Where shall the shoot file")[0].count("] >")
    nowhere, quay = str(tmp_path / "no" / "quay.toml"), str(tmp_path / "quay side.toml")
    lines = [""] * questions + ["?", "<", "", nowhere, quay]
    ran = asked(tmp_path / "shoot.toml", lines)
    assert ran.written == tmp_path / "quay side.toml"
    assert "A folder of its own" in ran.said
    assert "does not exist" in ran.said
    assert f'belvedere plan "{ran.written}"' in ran.out
