"""docs/timing.md shows what its own Python prints."""

from __future__ import annotations

import contextlib
import io
import re
from itertools import pairwise
from pathlib import Path

import pytest

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "timing.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(python)?\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
SHOWN = [(code, shown) for (kind, code), (_, shown) in pairwise(BLOCKS) if kind == "python"]


def _printed(code: str) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(code, "docs/timing.md", "exec"), {})
    return out.getvalue()


def test_the_rules_of_the_trade() -> None:
    code, shown = SHOWN[0]
    assert _printed(code) == shown


def test_neighbours_are_alike() -> None:
    """Simulated shares within 3 points: the draws are the library's to change."""
    code, shown = SHOWN[1]
    printed = _printed(code)
    shares = re.compile(r"\((\d+\.\d)%\)")
    assert shares.sub("", printed) == shares.sub("", shown)
    assert [float(s) for s in shares.findall(printed)] == pytest.approx(
        [float(s) for s in shares.findall(shown)], abs=3.0
    )
    assert len(SHOWN) == 2
