"""`belvedere plan` as a person runs it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from belvedere.cli import main

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/examples/saltmere/shoot.toml"


def _plan(*words: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", "from belvedere.cli import main; main()", "plan", *map(str, words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=60,
        check=False,
        env=os.environ | {"PYTHONUTF8": "1", "COLUMNS": "80"} | environment,
    )


@dataclass(frozen=True)
class _Ran:
    code: int
    out: str
    err: str


@pytest.fixture
def plan(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., _Ran]:
    """The command in this process: the same door, sooner."""

    def run(*words: str | Path) -> _Ran:
        monkeypatch.setattr(sys, "argv", ["belvedere", "plan", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        printed = capsys.readouterr()
        return _Ran(int(ended.value.code or 0), printed.out, printed.err)

    return run


def test_the_table_says_what_a_photographer_asks(tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    ran = _plan(EXAMPLE, "--json", out, FORCE_COLOR="1", NO_COLOR="1")
    assert (ran.returncode, ran.stderr) == (0, "")
    said = ran.stdout
    for words in (
        "Saltmere harbour from the mole",
        "5 rows × 12 columns = 60 frames",
        "9.67° × 7.26°",
        "30% asked; at least 31.8% across and 31.6% down",
        "12,188 × 4,013 px = 48.9 MP",
        "148.6 px per degree",
        "6.58° across, 4.96° down",
        "one frame every 3 s",
        "Sun: ",
        "Wind and heights: ",
        "People: ",
    ):
        assert words in said
    assert "\x1b[3" not in said  # NO_COLOR: no colour, whatever else
    table = re.sub(r"\x1b\[[0-9;]*m", "", said.split("Written: ")[0])
    assert max(len(line) for line in table.splitlines()) <= 80
    assert json.loads(out.read_text("utf-8"))["grid"]["frames"] == 60


def test_a_folder_stands_for_its_shoot_file(plan: Callable[..., _Ran]) -> None:
    assert "60 frames" in plan(EXAMPLE.parent).out


def test_fixed_counts_and_gaps_are_spoken_of(tmp_path: Path, plan: Callable[..., _Ran]) -> None:
    file = tmp_path / "shoot.toml"
    text = EXAMPLE.read_text("utf-8")
    file.write_text(text.replace("overlap = 0.30", "overlap = 0.30\ncolumns = 10"), "utf-8")
    ran = plan(file)
    assert ran.code == 0
    assert "Mind: The fixed columns leave 17%" in ran.out


#: What is changed in the example, and what the one line must hold.
BAD = [
    ("overlap = 0.30", "overlap = 1.2", ["overlap", "1.2", "at most 0.9"]),
    ("focal_length_mm", "focal_lenght_mm", ["focal_lenght_mm", "focal_length_mm"]),
    ("overlap = 0.30", "overlap = 0.30\ncolumns = 7", ["columns = 7", "gap"]),
    ("[lens]", "[lens", ["not valid TOML", "line"]),
]


@pytest.mark.parametrize(("old", "new", "names"), BAD)
def test_bad_input_is_one_line_and_exit_code_2(
    tmp_path: Path, plan: Callable[..., _Ran], old: str, new: str, names: list[str]
) -> None:
    file = tmp_path / "shoot.toml"
    file.write_text(EXAMPLE.read_text("utf-8").replace(old, new, 1), "utf-8")
    out = tmp_path / "plan.json"
    ran = plan(file, "--json", out)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("belvedere: ")
    assert ran.err.count("\n") == 1
    for name in names:
        assert name in ran.err
    assert not out.exists()


def test_what_is_not_there_or_cannot_be_written(tmp_path: Path, plan: Callable[..., _Ran]) -> None:
    ran = plan(tmp_path / "none.toml")
    assert (ran.code, ran.err.count("\n")) == (2, 1)
    assert "There is no shoot file" in ran.err
    ran = plan(EXAMPLE, "--json", tmp_path / "nowhere" / "plan.json")
    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "nowhere" in ran.err


def test_the_shoot_file_is_never_written_over(tmp_path: Path, plan: Callable[..., _Ran]) -> None:
    file = tmp_path / "shoot.toml"
    file.write_bytes(EXAMPLE.read_bytes())
    for shoot in (file, tmp_path):
        ran = plan(shoot, "--json", file)
        assert (ran.code, ran.out) == (2, "")
        assert "is the shoot file itself" in ran.err
    assert file.read_bytes() == EXAMPLE.read_bytes()


def test_the_help_teaches(plan: Callable[..., _Ran]) -> None:
    ran = plan("--help")
    assert ran.code == 0
    for words in ("[camera]", "overlap = 0.30", "belvedere plan docs/examples/saltmere", "--json"):
        assert words in ran.out
