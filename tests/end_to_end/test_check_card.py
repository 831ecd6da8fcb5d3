"""`belvedere check` and `belvedere retake` as a person runs them, on rehearsed cards."""

from __future__ import annotations

import json
import os
import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

import jsonschema
import pytest

from belvedere.cli import main
from check_command import SHOOT, Done, run

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs" / "schema" / "check-1.schema.json").read_text("utf-8"))
FAULTS = (
    "missing 2,3", "repeated 2,1", "soft 3,2 3", "truncated 1,4 50", "tests 2",
)  # fmt: skip
FAULTY = {(2, 3): "missing", (3, 2): "soft", (1, 4): "corrupt"}


@dataclass(frozen=True)
class Shoot:
    folder: Path

    @property
    def card(self) -> Path:
        return self.folder / "first" / "card"

    @property
    def file(self) -> Path:
        return self.folder / "shoot.toml"


def quietly(*words: object) -> None:
    """A command that must succeed."""
    arguments = ["belvedere", *(str(word) for word in words)]
    with mock.patch("sys.argv", arguments), pytest.raises(SystemExit) as left:
        main()
    assert not left.value.code


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory: pytest.TempPathFactory) -> Shoot:
    shoot = Shoot(tmp_path_factory.mktemp("shoot"))
    shoot.file.write_text(SHOOT, "utf-8")
    faults = [word for fault in FAULTS for word in ("--fault", fault)]
    common = ("--scene", "sketch", "--seed", 5, "--workers", 1)
    quietly("rehearse", shoot.file, shoot.folder / "first", *common, *faults)
    cells = " ".join(f"{row},{column}" for row, column in FAULTY)
    again = ("--cells", cells, "--after", shoot.folder / "first")
    quietly("rehearse", shoot.file, shoot.folder / "second", *common, *again)
    quietly(
        "rehearse", shoot.file, shoot.folder / "third", *common, "--cells", "3,2",
        "--after", shoot.folder / "second", "--fault", "soft 3,2 3",
    )  # fmt: skip
    return shoot


@pytest.fixture
def shoot(rehearsed: Shoot, tmp_path: Path) -> Shoot:
    """The rehearsed cards with a shoot file and a catalogue of the test's own."""
    for name in ("first", "second", "third"):
        (tmp_path / name).symlink_to(rehearsed.folder / name)
    shutil.copy(rehearsed.file, tmp_path / "shoot.toml")
    return Shoot(tmp_path)


def check(capsys: pytest.CaptureFixture[str], shoot: Shoot) -> tuple[Done, dict[str, Any]]:
    out = shoot.folder / "check.json"
    done = run(capsys, "check", shoot.card, "--shoot", shoot.file, "--json", out)
    document = json.loads(out.read_text("utf-8"))
    jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)
    return done, document


def states(document: dict[str, Any]) -> dict[tuple[int, int], str]:
    return {(c["row"], c["column"]): c["state"] for c in document["cells"]}


def contents(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {
        str(p.relative_to(folder)): (p.read_bytes(), p.stat().st_mtime_ns)
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def test_from_first_check_over_retakes_to_complete(
    shoot: Shoot, capsys: pytest.CaptureFixture[str]
) -> None:
    before = contents(shoot.card)
    done, document = check(capsys, shoot)
    truth = json.loads((shoot.folder / "first" / "truth.json").read_text("utf-8"))

    assert (done.code, document["verdict"]) == (1, "reshoot")
    assert {cell: s for cell, s in states(document).items() if s != "good"} == FAULTY
    roles = {other["role"] for other in document["other_frames"]}
    assert (len(document["other_frames"]), roles) == (2, {"before the sweep"})
    shown = {
        frame["file"].removeprefix("card/"): tuple(frame["cell"].values())
        if isinstance(frame["cell"], dict) else tuple(frame["cell"])
        for frame in truth["frames"] if frame["cell"]
    }  # fmt: skip
    found = {f: (c["row"], c["column"]) for c in document["cells"] for f in c["frames"]}
    assert found == shown

    missing = next(c for c in document["cells"] if c["state"] == "missing")
    (finding,) = missing["findings"]
    assert re.search(r"between PIC_\d{4}\.JPG and PIC_\d{4}\.JPG: .* s passed", finding["says"])
    stops = {(s["row"], s["column"]): s for s in document["retakes"]}
    assert set(stops) == set(FAULTY)
    assert (stops[2, 3]["columns_from_start"], stops[2, 3]["rows_from_start"]) == (2, 1)

    # Read at the tripod: a mark by letter, the sentence, the verdict, the way to the cell.
    for words in ("[M]", "[S]", "[X]", "row 2, column 3", "RE-SHOOT", "2 columns, 1 row"):
        assert words in done.out

    again = run(capsys, "retake", shoot.folder / "second" / "card", "--shoot", shoot.file)
    assert again.code == 0, again.err
    for row, column in FAULTY:
        assert f"row {row}, column {column}" in again.out

    done, document = check(capsys, shoot)
    assert (done.code, document["verdict"]) == (0, "complete")
    assert set(states(document).values()) == {"good"}
    for cell in document["cells"]:
        if (cell["row"], cell["column"]) in FAULTY:
            assert cell["frames"][0].startswith("../")
            assert (shoot.card.resolve() / cell["frames"][0]).is_file()
    assert contents(shoot.card) == before


def test_soft_retake_does_not_make_the_cell_good(
    shoot: Shoot, capsys: pytest.CaptureFixture[str]
) -> None:
    third = shoot.folder / "third" / "card"
    done = run(capsys, "retake", third, "--shoot", shoot.file, "--first", shoot.card,
               "--cell", "3,2")  # fmt: skip
    assert done.code == 0, done.err
    document = check(capsys, shoot)[1]
    cell = next(c for c in document["cells"] if (c["row"], c["column"]) == (3, 2))
    assert (cell["state"], len(cell["frames"])) == ("soft", 2)
    assert cell["frames"][0].startswith("../")


def test_second_check_says_the_same(shoot: Shoot, capsys: pytest.CaptureFixture[str]) -> None:
    first, second = check(capsys, shoot)[1], check(capsys, shoot)[1]
    assert second["seconds"] < first["seconds"]
    for document in (first, second):
        del document["seconds"]
    assert first == second


def test_without_a_shoot_file_frames_are_judged_and_nothing_is_called_complete(
    shoot: Shoot, capsys: pytest.CaptureFixture[str]
) -> None:
    out = shoot.folder / "check.json"
    done = run(capsys, "check", shoot.card, "--json", out)
    document = json.loads(out.read_text("utf-8"))
    jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)
    assert (done.code, document["verdict"], document["cells"]) == (1, "reshoot", [])
    truth = json.loads((shoot.folder / "first" / "truth.json").read_text("utf-8"))
    names = {
        tuple(f["cell"].values()) if isinstance(f["cell"], dict) else tuple(f["cell"]):
        f["file"].removeprefix("card/") for f in truth["frames"] if f["cell"]
    }  # fmt: skip
    accused = {(f["kind"], f["file"]) for f in document["findings"] if f.get("file")}
    assert ("corrupt", names[1, 4]) in accused
    # Badly blurred, it may not even be found to overlap: then it is not judged, never praised.
    assert {("soft", names[3, 2]), ("unjudged", names[3, 2])} & accused


def test_shoot_file_on_the_card_keeps_nothing_there(
    shoot: Shoot, capsys: pytest.CaptureFixture[str]
) -> None:
    card = shoot.folder / "copy"
    shutil.copytree(shoot.card, card)
    shutil.copy(shoot.file, card / "shoot.toml")
    before = contents(card)
    assert run(capsys, "check", card, "--shoot", card / "shoot.toml").code == 1
    done = run(capsys, "retake", shoot.folder / "second" / "card", "--shoot", card / "shoot.toml",
               "--first", card)  # fmt: skip
    assert done.code == 2
    assert "on the card" in done.err
    assert contents(card) == before


@pytest.fixture
def mistakes(shoot: Shoot) -> dict[str, tuple[tuple[object, ...], str]]:
    """Commands that cannot work, each with what the one sentence must say."""
    empty = shoot.folder / "empty"
    empty.mkdir()
    text = shoot.folder / "text"
    text.mkdir()
    (text / "PIC_0001.JPG").write_text("The ferry was late.", "utf-8")
    two_sizes = shoot.folder / "sizes"
    two_sizes.mkdir()
    from PIL import Image

    for number, size in enumerate([(96, 64), (96, 64), (64, 96)], start=1):
        Image.new("RGB", size).save(two_sizes / f"PIC_000{number}.JPG")
    misspelt = shoot.folder / "misspelt.toml"
    misspelt.write_text(SHOOT.replace("overlap", "overlab"), "utf-8")
    nowhere = shoot.folder / "nowhere"
    good = ("--shoot", shoot.file)
    return {
        "no pictures": (("check", empty, *good), "no picture file"),
        "missing folder": (("check", nowhere, *good), "does not exist"),
        "text named .jpg": (("check", text), "PIC_0001.JPG is not a picture"),
        "text named .jpg and a plan": (("check", text, *good), "PIC_0001.JPG is not a picture"),
        "two sizes": (("check", two_sizes), r"2 of 96 × 64 px and 1 of 64 × 96 px"),
        "two sizes and a plan": (("check", two_sizes, *good), r"2 of 96 × 64 px"),
        "misspelt key": (("check", shoot.card, "--shoot", misspelt), "overlap"),
        "no shoot file": (("check", shoot.card, "--shoot", nowhere), "no shoot file"),
        "unwritable": (("check", shoot.card, *good, "--json", nowhere / "a.json"), "not exist"),
        "nothing checked": (("retake", shoot.folder / "second" / "card", *good), "No card"),
        "no such cell": (
            ("retake", shoot.folder / "second" / "card", *good, "--first", shoot.card,
             "--cell", "9,9", "--cell", "1,1", "--cell", "1,2"), "no cell 9,9"),
        "cells and frames": (
            ("retake", shoot.folder / "second" / "card", *good, "--first", shoot.card,
             "--cell", "1,1"), "1 cells? .* 3 frames"),
        "not a cell": (
            ("retake", shoot.folder / "second" / "card", *good, "--cell", "three"), "--cell three"),
    }  # fmt: skip


@pytest.mark.parametrize(
    "which",
    ["no pictures", "missing folder", "text named .jpg", "text named .jpg and a plan",
     "two sizes", "two sizes and a plan", "misspelt key",
     "no shoot file", "unwritable", "nothing checked", "no such cell", "cells and frames",
     "not a cell"],
)  # fmt: skip
def test_bad_input_is_one_sentence_and_exit_code_2(
    mistakes: dict[str, tuple[tuple[object, ...], str]],
    which: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    words, says = mistakes[which]
    done = run(capsys, *words)
    assert done.code == 2
    assert done.err.startswith("belvedere: ")
    assert len(done.err.strip().splitlines()) == 1
    assert re.search(says, done.err)
    assert "Traceback" not in done.err + done.out


def test_text_named_as_a_picture_is_a_finding(
    shoot: Shoot, capsys: pytest.CaptureFixture[str]
) -> None:
    """One bad file among good ones is no reason to stop: it is corrupt, the rest is checked."""
    card = shoot.folder / "copy"
    shutil.copytree(shoot.card, card)
    victim = sorted(card.rglob("*.JPG"))[8]
    victim.write_text("The ferry was late.", "utf-8")
    out = shoot.folder / "check.json"
    assert run(capsys, "check", card, "--shoot", shoot.file, "--json", out).code == 1
    document = json.loads(out.read_text("utf-8"))
    name = os.path.relpath(victim, card)
    (cell,) = [c for c in document["cells"] if name in c["frames"]]
    assert cell["state"] == "corrupt"
    assert "is not a picture" in cell["findings"][0]["says"]


def test_colour_is_left_out_where_asked(
    shoot: Shoot, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    assert "\x1b[3" not in run(capsys, "check", shoot.card, "--shoot", shoot.file).out
