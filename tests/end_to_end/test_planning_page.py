"""docs/planning.md: each of its commands runs and prints what the page shows."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from belvedere.cli import main

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs/planning.md").read_text("utf-8")
#: Blocks that begin with the planning of one example.
SHOWN = re.findall(r"```\n\$ belvedere plan (docs/examples/planning/\S+)\n(.*?)```", PAGE, re.S)


def test_the_six_shoots_are_there() -> None:
    files = {f"docs/examples/planning/{p.name}" for p in ROOT.glob("docs/examples/planning/*")}
    assert len(files) == 6
    assert [name for name, _ in SHOWN] == sorted(files, key=PAGE.index)


@pytest.mark.parametrize(("shoot", "shown"), SHOWN, ids=[Path(name).stem for name, _ in SHOWN])
def test_the_page_shows_what_the_command_prints(
    shoot: str,
    shown: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys, "argv", ["belvedere", "plan", shoot])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    printed = "\n".join(line.rstrip() for line in capsys.readouterr().out.splitlines())
    parts = [part.strip("\n") for part in shown.split("\n…\n") if part.strip("\n…")]
    assert len(parts) >= 2
    for part in parts:
        assert f"\n{part}\n" in f"\n{printed}\n"
