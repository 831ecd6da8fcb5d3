"""`belvedere check --pictures` and `--why` as a person runs them, on a rehearsed card."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from unittest import mock
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from belvedere.check import Reasons
from belvedere.cli import main
from belvedere.foundation import finish
from belvedere.workflows.check_show import check_and_show
from check_command import SHOOT, run

#: Blur of 3 px (standard deviation), and half a stop too much light.
FAULTS = ("missing 2,3", "soft 3,2 3", "truncated 1,4 50", "exposure 2,1 0.5")


@pytest.fixture(scope="module")
def shoot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shoot")
    (folder / "shoot.toml").write_text(SHOOT, "utf-8")
    faults = [word for fault in FAULTS for word in ("--fault", fault)]
    words = ["belvedere", "rehearse", folder / "shoot.toml", folder / "first",
             "--scene", "sketch", "--seed", 5, "--workers", 1, *faults]  # fmt: skip
    with mock.patch("sys.argv", [str(word) for word in words]), pytest.raises(SystemExit) as left:
        main()
    assert not left.value.code
    return folder


@pytest.fixture(scope="module")
def seen(shoot: Path) -> Path:
    """The folder of pictures of one check."""
    folder = shoot / "seen"
    finish(check_and_show(shoot / "first" / "card", shoot / "shoot.toml", pictures=folder))
    return folder


def opened(path: Path) -> np.ndarray:
    """A picture as Pillow reads it, (height, width, 3)."""
    with Image.open(path) as picture:
        return np.asarray(picture.convert("RGB"), dtype=int)


def files(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_pictures_are_written_and_the_card_is_left_alone(
    shoot: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    card, before = shoot / "first" / "card", files(shoot / "first" / "card")
    done = run(capsys, "check", card, "--shoot", shoot / "shoot.toml", "--pictures",
               tmp_path / "seen", "--why", "2,3", "--json", tmp_path / "a.json")  # fmt: skip
    assert done.code == 1, done.err
    assert files(tmp_path / "seen") == ["grid.png", "grid.svg", "mosaic.jpg", "why-2-3.png"]
    for name in files(tmp_path / "seen"):
        assert name in done.out
    assert json.loads((tmp_path / "a.json").read_text("utf-8"))["verdict"] == "reshoot"
    assert files(card) == before


def test_the_grid_marks_just_the_faulty_cells(seen: Path) -> None:
    root = ET.fromstring((seen / "grid.svg").read_text("utf-8"))
    marked = {
        g.attrib["data-cell"]: g.attrib["data-state"]
        for g in root.iter("{http://www.w3.org/2000/svg}g")
        if "data-cell" in g.attrib
    }
    assert marked == {"2,3": "missing", "3,2": "soft", "1,4": "corrupt", "2,1": "exposure"}
    assert 1000 < opened(seen / "grid.png").shape[1] <= 2400


def test_the_small_pictures_stand_in_their_cells(seen: Path, shoot: Path) -> None:
    """Each against its own frame, opened and made small by Pillow."""
    truth = json.loads((shoot / "first" / "truth.json").read_text("utf-8"))
    grid = opened(seen / "grid.png")
    root = ET.fromstring((seen / "grid.svg").read_text("utf-8"))
    (image,) = root.iter("{http://www.w3.org/2000/svg}image")
    left, top, wide, high = (2.0 * float(image.attrib[k]) for k in ("x", "y", "width", "height"))
    for frame in truth["frames"]:
        if not frame["cell"]:
            continue
        place = frame["cell"]
        row, column = place.values() if isinstance(place, dict) else place
        if (row, column) in {(2, 3), (3, 2), (1, 4), (2, 1)}:
            continue
        whole = opened(shoot / "first" / "card" / frame["file"]).astype(np.uint8)
        picture = Image.fromarray(whole).resize((8, 6))
        x, y = round(left + (column - 1) * wide / 4), round(top + (row - 1) * high / 3)
        there = Image.fromarray(
            grid[y + 6 : y + round(high / 3) - 6, x + 6 : x + round(wide / 4) - 6].astype(np.uint8)
        ).resize((8, 6))
        off = np.abs(np.asarray(there, dtype=float) - np.asarray(picture, dtype=float))
        assert off.mean() < 12.0, (row, column)


def test_the_quick_look_has_a_hole_where_the_frame_is_missing(seen: Path) -> None:
    mosaic = opened(seen / "mosaic.jpg")
    height, width = mosaic.shape[:2]
    assert width <= 6000
    grey = np.ptp(mosaic, axis=-1) < 6
    striped = grey & (np.abs(mosaic[..., 0] - 225) < 30)
    rows, columns = np.nonzero(striped[10:-10, 10:-10])
    # Row 2 of 3, column 3 of 4.
    assert np.median(rows) / height == pytest.approx(0.5, abs=0.08)
    assert np.median(columns) / width == pytest.approx(0.62, abs=0.06)
    assert len(rows) > 0.005 * height * width


def test_large_cards_are_shown_in_the_colours_of_their_thumbnails(
    shoot: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The quick way gives the same picture as decoding every frame, but for fine colour."""
    words = ["rehearse", shoot / "shoot.toml", tmp_path / "card", "--scene", "sketch", "--seed", 5,
             "--workers", 1, "--files", "mirrorless"]  # fmt: skip
    with mock.patch("sys.argv", ["belvedere", *map(str, words)]), pytest.raises(SystemExit):
        main()
    looks = []
    for most in (10**9, 0):
        monkeypatch.setattr("belvedere.workflows.check_pictures._MOST_DECODED_BYTES", most)
        seen = tmp_path / f"seen{most}"
        finish(check_and_show(tmp_path / "card" / "card", shoot / "shoot.toml", pictures=seen))
        with Image.open(seen / "mosaic.jpg") as picture:
            looks.append(np.asarray(picture.resize((200, 120)), dtype=float))
            widths = picture.width
    assert widths < 960
    assert np.abs(looks[0] - looks[1]).mean() < 4.0
    assert np.ptp(looks[1].mean(axis=(0, 1))) > 5.0


@pytest.fixture(scope="module")
def reasons(
    shoot: Path, tmp_path_factory: pytest.TempPathFactory
) -> dict[tuple[int, int], Reasons]:
    asked = [(3, 2), (2, 1), (2, 3), (1, 4)]
    folder = tmp_path_factory.mktemp("why")
    shown = finish(
        check_and_show(shoot / "first" / "card", shoot / "shoot.toml", pictures=folder, why=asked)
    )
    return {(r.cell.row, r.cell.column): r for r in shown.reasons}


def test_numbers_of_a_soft_frame_are_those_it_was_made_with(
    reasons: dict[tuple[int, int], Reasons],
) -> None:
    """The rehearsal blurred it by 3 px (standard deviation): truth.json says so."""
    found = [
        blur[0]
        for neighbour in reasons[3, 2].neighbours
        for blur in neighbour.blur_px
        if blur is not None
    ]
    assert len(found) >= 8
    assert np.median(found) == pytest.approx(3.0, abs=0.5)


def test_numbers_of_a_bright_frame_are_those_it_was_made_with(
    reasons: dict[tuple[int, int], Reasons],
) -> None:
    """The rehearsal let in half a stop too much light."""
    near = [n for n in reasons[2, 1].neighbours if n.registered and n.where in ("above", "below")]
    assert near
    for neighbour in near:
        assert neighbour.exposure_ev == pytest.approx(0.5, abs=0.1)


def test_neighbours_are_named_by_where_they_lie(reasons: dict[tuple[int, int], Reasons]) -> None:
    where = {(n.row, n.column): n.where for n in reasons[3, 2].neighbours}
    assert where[3, 1] == "left"
    assert where[3, 3] == "right"
    assert where[2, 2] == "above"
    assert (2, 3) not in where


def test_a_missing_cell_tells_what_lies_around_the_gap(
    reasons: dict[tuple[int, int], Reasons],
) -> None:
    gap = reasons[2, 3]
    assert gap.file == ""
    assert gap.before is not None
    assert gap.after is not None
    assert (gap.before.row, gap.before.column) == (2, 2)
    assert (gap.after.row, gap.after.column) == (2, 4)
    assert gap.interval_s == pytest.approx(3.0, abs=0.3)


def test_why_is_told_in_words_and_as_a_picture(
    shoot: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    card = shoot / "first" / "card"
    done = run(capsys, "check", card, "--shoot", shoot / "shoot.toml", "--why", "3,2",
               "--why", "1,4")  # fmt: skip
    assert done.code == 1
    assert files(tmp_path) == ["why-1-4.png", "why-3-2.png"]
    for words in (
        "Why row 3, column 2 is called soft",
        "left: row 3, column 1",
        "px more",
        "EV ",
        "below 1 nobody sees it",
        "probable",
        "Why row 1, column 4 is called corrupt",
    ):
        assert words in done.out
    assert opened(tmp_path / "why-3-2.png").shape[1] <= 1300


def test_crops_are_shown_at_100_per_cent(shoot: Path, tmp_path: Path) -> None:
    """Every pixel of a crop on the picture is that of the file, as Pillow decodes it."""
    card = shoot / "first" / "card"
    shown = finish(
        check_and_show(card, shoot / "shoot.toml", pictures=tmp_path / "seen", why=[(3, 2)])
    )
    (told,) = shown.reasons
    picture = opened(tmp_path / "seen" / "why-3-2.png")
    frame = opened(card / told.file)
    coloured = np.ptp(picture[60:, 16:40], axis=-1).mean(axis=1) > 2.0
    top = 60 + int(np.argmax(coloured))
    patch = picture[top : top + 80, 16:96]
    rows, columns = _where(frame, patch)
    assert len(rows) == 1
    same = frame[rows[0] : rows[0] + 80, columns[0] : columns[0] + 80]
    assert np.abs(same - patch).max() <= 1


def _where(frame: np.ndarray, patch: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where a patch lies in a frame, by comparing it everywhere."""
    import cv2

    score = cv2.matchTemplate(frame.astype(np.uint8), patch.astype(np.uint8), cv2.TM_SQDIFF)
    return np.nonzero(score <= score.min() + 1e-3)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--why", "99,1"), "no cell 99,1: the plan has 3 rows"),
        (("--why", "1,5"), "no cell 1,5: row 1 has 4 columns"),
        (("--why", "0,1"), "no cell 0,1"),
        (("--why", "three"), "--why three is not a cell"),
        (("--why", "1,-2"), "--why 1,-2 is not a cell"),
        (("--pictures", "{card}/seen"), "lies on the card"),
        (("--pictures", "{shoot}"), "is a file"),
        (("--pictures", "{shoot}/nowhere/seen"), "nowhere"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_code_2(
    shoot: Path, words: tuple[str, ...], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    card, file = shoot / "first" / "card", shoot / "shoot.toml"
    filled = [word.format(card=card, shoot=file) for word in words]
    before = files(shoot)
    done = run(capsys, "check", card, "--shoot", file, *filled)
    assert done.code == 2
    assert done.err.startswith("belvedere: ")
    assert len(done.err.strip().splitlines()) == 1
    assert says in done.err
    assert files(shoot) == before


@pytest.mark.parametrize("option", [("--pictures", "seen"), ("--why", "1,1")])
def test_without_a_shoot_file_there_is_no_grid(
    shoot: Path, option: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    done = run(capsys, "check", shoot / "first" / "card", *option)
    assert done.code == 2
    assert re.search(f"{option[0]} needs the shoot file", done.err)


def test_a_retake_of_another_card_can_be_asked_about(
    shoot: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(shoot / "shoot.toml", tmp_path / "shoot.toml")
    (tmp_path / "first").symlink_to(shoot / "first")
    again = ("--scene", "sketch", "--seed", 5, "--workers", 1, "--cells", "3,2")
    done = run(capsys, "rehearse", tmp_path / "shoot.toml", tmp_path / "second", *again,
               "--after", shoot / "first")  # fmt: skip
    assert done.code == 0, done.err
    card = tmp_path / "first" / "card"
    done = run(capsys, "retake", tmp_path / "second" / "card", "--shoot", tmp_path / "shoot.toml",
               "--first", card, "--cell", "3,2")  # fmt: skip
    assert done.code == 0, done.err
    done = run(capsys, "check", card, "--shoot", tmp_path / "shoot.toml", "--pictures",
               tmp_path / "seen", "--why", "3,2")  # fmt: skip
    assert "Why row 3, column 2 is called good" in done.out
    assert "same cell" not in done.out
    assert "another take" in done.out
    assert opened(tmp_path / "seen" / "why-3-2.png").shape[1] > 500
