"""Files are there whole or not at all."""

from __future__ import annotations

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
