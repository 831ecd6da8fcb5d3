"""Files are there whole or not at all."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from belvedere.foundation import StoreError
from belvedere.store import atomic_path, ensure_writable, write_json, write_text


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    target = tmp_path / "report.json"
    write_json(target, {"verdict": "complete"})
    before = target.read_bytes()

    def broken() -> None:
        with atomic_path(target) as partial:
            partial.write_text("half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken()
    assert target.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["report.json"]


def test_text_is_utf_8_and_json_is_indented(tmp_path: Path) -> None:
    write_text(tmp_path / "a.txt", "12.5°")
    assert (tmp_path / "a.txt").read_bytes() == "12.5°".encode()
    write_json(tmp_path / "a.json", {"says": "6 s passed, not 3 s – at 0.5°"})
    assert (tmp_path / "a.json").read_text("utf-8").startswith('{\n  "says": "6 s passed')
    assert "°" in (tmp_path / "a.json").read_text("utf-8")


@pytest.mark.parametrize("place", ["no/such/folder/m.tif", "folder"])
def test_an_unwritable_place_is_refused_before_the_work(tmp_path: Path, place: str) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(StoreError, match=r"does not exist|is a folder"):
        ensure_writable(tmp_path / place)
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


def test_probing_a_place_leaves_nothing(tmp_path: Path) -> None:
    ensure_writable(tmp_path / "m.tif")
    assert list(tmp_path.iterdir()) == []


def killed_process() -> int:
    """The number of a process that has ended."""
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


@pytest.mark.skipif(os.name != "posix", reason="other systems wait a day")
def test_what_a_killed_run_left_is_gone_after_the_next_write(tmp_path: Path) -> None:
    gone = killed_process()
    running, other = os.getppid(), "other.json"
    for process, name in ((gone, "a.json"), (running, "a.json"), (gone, other)):
        part = tmp_path / f".{name}.{process}.part"
        part.write_text("half")
        os.utime(part, (time.time() - 120.0,) * 2)
    fresh = tmp_path / f".a.json.{gone}.probe"
    fresh.write_text("")
    write_text(tmp_path / "a.json", "whole")
    left = sorted(path.name for path in tmp_path.iterdir())
    assert left == sorted(
        ["a.json", f".a.json.{running}.part", f".{other}.{gone}.part", fresh.name]
    )
