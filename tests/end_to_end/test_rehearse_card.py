"""`belvedere rehearse` as a person runs it."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import jsonschema
import numpy as np
import pytest
import simplejpeg
from PIL import Image

from belvedere.cli import main
from belvedere.imagefiles import FolderSource
from belvedere.rehearse import Span
from belvedere.shoot import make_plan, parse_shoot
from belvedere.workflows.rehearse import picture_span

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs" / "schema" / "truth-1.schema.json").read_text("utf-8"))

SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = 320
image_height_px = 240
[lens]
focal_length_mm = 30.5
[grid]
left_deg = -18.0
right_deg = 18.0
top_deg = 12.0
bottom_deg = -12.0
overlap = 0.30
rows = 3
columns = 4
[sweep]
interval_s = 3.0
"""
FAULTS = (
    "missing 2,2", "repeated 2,1", "stuck 3,2", "soft 1,2 2", "shaken 2,4 7 at 20",
    "exposure 3,4 +0.8 stated", "colour 3,3", "truncated 2,3 50", "tests 2",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Done:
    """How a command ended, and what it said."""

    code: int
    stderr: str


def run(*arguments: str, folder: Path) -> Done:
    """The command line in this process: starting Python anew takes longer than the work."""
    said = io.StringIO()
    with (
        contextlib.chdir(folder),
        contextlib.redirect_stderr(said),
        contextlib.redirect_stdout(io.StringIO()),
        mock.patch.object(sys, "argv", ["belvedere", "rehearse", *arguments, "--workers", "1"]),
    ):
        try:
            main()
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
    return Done(code, said.getvalue())


def run_as_program(*arguments: str, folder: Path) -> Done:
    """The command line as a program of its own."""
    done = subprocess.run(
        [sys.executable, "-c", "from belvedere.cli import main; main()", "rehearse", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    return Done(done.returncode, done.stderr)


def digest(card: Path) -> dict[str, str]:
    files = sorted(path for path in card.rglob("*") if path.is_file())
    return {
        str(path.relative_to(card)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files
    }


@pytest.fixture(scope="module")
def shoot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shoot")
    (folder / "shoot.toml").write_text(SHOOT, "utf-8")
    return folder


@pytest.fixture(scope="module")
def card(shoot: Path) -> Path:
    faults = [word for fault in FAULTS for word in ("--fault", fault)]
    done = run("shoot.toml", "first", "--scene", "sketch", *faults, folder=shoot)
    assert done.code == 0, done.stderr
    return shoot / "first"


def truth(out: Path) -> dict[str, object]:
    document: dict[str, object] = json.loads((out / "truth.json").read_text("utf-8"))
    jsonschema.validate(document, SCHEMA)
    return document


def test_the_truth_follows_its_schema_and_names_every_file(card: Path) -> None:
    document = truth(card)
    named = [frame["file"] for frame in document["frames"]]
    assert named == sorted(digest(card / "card"))
    # 12 cells, one of them missing; one frame more from the second release, two test pictures.
    assert len(named) == 14
    states = {(c["row"], c["column"]): c["state"] for c in document["cells"]}
    assert {place: state for place, state in states.items() if state != "good"} == {
        (1, 2): "soft",
        (2, 2): "missing",
        (2, 3): "corrupt",
        (2, 4): "shaken",
        (3, 2): "missing",
        (3, 3): "colour",
        (3, 4): "exposure",
    }


def test_files_are_whole_but_for_the_truncated_one(card: Path) -> None:
    cut = 0
    for frame in truth(card)["frames"]:
        content = (card / "card" / frame["file"]).read_bytes()
        # A JPEG ends with the marker FF D9 (ITU-T T.81, table B.1).
        ends_well = content.endswith(b"\xff\xd9")
        assert ends_well == (frame["kept_share"] == 1.0)
        if ends_well:
            assert simplejpeg.decode_jpeg(content).shape == (240, 320, 3)
        cut += not ends_well
    assert cut == 1


def test_the_pictures_show_what_the_truth_says(card: Path) -> None:
    document = truth(card)
    source = FolderSource(card / "card")
    by_place = {tuple(f["cell"]): f for f in document["frames"] if f["role"] == "sweep"}
    twice = [f["file"] for f in document["frames"] if f["cell"] == [2, 1]]
    first, second = (source.grey(file).astype(float) for file in twice)
    # The same view: only noise and rounding differ, a few codes; another cell differs by tens.
    other = source.grey(by_place[3, 1]["file"]).astype(float)
    assert np.abs(first - second).mean() < 4.0
    assert np.abs(first - other).mean() > 10.0

    def detail(place: tuple[int, int]) -> float:
        grey = source.grey(by_place[place]["file"]).astype(float)
        return float(np.abs(np.diff(grey, axis=1)).mean())

    assert detail((1, 2)) < 0.7 * min(detail((1, 1)), detail((1, 4)))


def test_exif_tells_of_the_exposure_where_it_was_stated(card: Path) -> None:
    for frame in truth(card)["frames"]:
        if frame["role"] != "sweep":
            continue
        with Image.open(card / "card" / frame["file"]) as opened:
            exposure_s = float(opened.getexif().get_ifd(34665)[33434])
        expected = 2**0.8 / 400 if frame["cell"] == [3, 4] else 1 / 400
        assert exposure_s == pytest.approx(expected, rel=0.005)  # 1/n rounds


def test_the_same_seed_gives_the_same_bytes_however_many_work(shoot: Path) -> None:
    for name, start in (("one", run), ("two", run_as_program)):  # with 1 and with 2 processes
        done = start(
            "shoot.toml", name, "--scene", "sketch", "--seed", "3", "--cells", "1,1 2,2 3,3",
            folder=shoot,
        )  # fmt: skip
        assert done.code == 0, done.stderr
    assert digest(shoot / "one" / "card") == digest(shoot / "two" / "card")
    run(
        "shoot.toml", "other", "--scene", "sketch", "--seed", "4", "--cells", "1,1 2,2 3,3",
        folder=shoot,
    )  # fmt: skip
    ours, others = digest(shoot / "one" / "card"), digest(shoot / "other" / "card")
    assert ours.keys() == others.keys()
    assert not set(ours.values()) & set(others.values())


@pytest.mark.parametrize("dated", ["", "start = 2031-05-17T12:00:00+02:00\n"])
def test_a_retake_after_dusk_is_darker_and_as_dusty(tmp_path: Path, dated: str) -> None:
    text = SHOOT.replace("[camera]", dated + "[camera]") if dated else SHOOT
    (tmp_path / "shoot.toml").write_text(text, "utf-8")
    day = ("--scene", "sketch", "--hazard", "dusk", "--hazard", "dusty")
    assert run("shoot.toml", "first", *day, folder=tmp_path).code == 0
    done = run("shoot.toml", "second", "--cells", "2,2", "--after", "first", folder=tmp_path)
    assert done.code == 0, done.stderr
    before, after = truth(tmp_path / "first"), truth(tmp_path / "second")
    assert sorted(after["hazards"]) == ["dusk", "dusty"]
    # Civil twilight loses some 0.1 EV a minute or more (common practice, no source).
    lost_ev = before["frames"][-1]["illumination_ev"] - after["frames"][0]["illumination_ev"]
    assert 0.3 < lost_ev < 6.0
    grains = [
        [f["grains"] for f in card["faults"] if f["kind"] == "Dust"] for card in (before, after)
    ]
    assert grains[0] == grains[1] != []


def test_a_retake_goes_on_where_the_card_ended(card: Path, shoot: Path) -> None:
    done = run("shoot.toml", "second", "--cells", "2,2 2,3", "--after", "first", folder=shoot)
    assert done.code == 0, done.stderr
    before, after = truth(card), truth(shoot / "second")
    assert after["scene"] == before["scene"] == "sketch #1"
    assert after["head"] == before["head"]
    assert after["frames"][0]["taken_at"] > before["frames"][-1]["taken_at"]
    assert after["frames"][0]["file"] > before["frames"][-1]["file"]
    assert [frame["cell"] for frame in after["frames"]] == [[2, 2], [2, 3]]


def test_any_picture_can_be_the_scene(shoot: Path) -> None:
    rng = np.random.default_rng(1)
    Image.fromarray(rng.integers(0, 255, (90, 160, 3), dtype=np.uint8)).resize((800, 450)).save(
        shoot / "view.jpg"
    )
    done = run("shoot.toml", "third", "--scene", "view.jpg", "--cells", "2,2", folder=shoot)
    assert done.code == 0, done.stderr
    assert truth(shoot / "third")["scene"] == "view.jpg #1"


def test_a_picture_goes_once_around_a_full_turn() -> None:
    text = SHOOT.replace("left_deg = -18.0\nright_deg = 18.0", "full_turn = true")
    plan = make_plan(parse_shoot(text.replace("columns = 4\n", "")))
    assert picture_span(plan, 4000, 2000) == Span(-180.0, 180.0, 90.0, -90.0)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("nowhere.toml", "out"), "nowhere.toml"),
        (("shoot.toml", "out", "--fault", "mising 1,1"), "Did you mean “missing”?"),
        (("shoot.toml", "out", "--fault", "soft 9,9"), "cell 9,9"),
        (("shoot.toml", "out", "--cells", "9,9"), "no cell 9,9"),
        (("shoot.toml", "out", "--cells", "1;1"), "like “3,7 4,9”"),
        (("shoot.toml", "out", "--scene", "nothing.jpg"), "nothing.jpg"),
        (("shoot.toml", "out", "--scene", "shoot.toml"), "shoot.toml"),
        (("shoot.toml", "out", "--after", "nowhere"), "nowhere"),
        (("shoot.toml", "out", "--after", "shoot.toml"), "shoot.toml"),
        (("shoot.toml", "full"), "not empty"),
        (("shoot.toml", "shoot.toml"), "is a file"),
        (("shoot.toml", "no/such/out"), "does not exist"),
        (("shoot.toml", "out", "--json", "no/such/truth.json"), "does not exist"),
        (("shoot.toml", "out", "--random-faults", "500"), "11 at most"),
        (("shoot.toml", "out", "--cells", "1,1", "--fault", "missing 1,1"), "No frame"),
    ],
)
def test_bad_input_is_one_sentence_and_leaves_nothing(
    shoot: Path, arguments: tuple[str, ...], says: str
) -> None:
    (shoot / "full").mkdir(exist_ok=True)
    (shoot / "full" / "keep.txt").write_text("ours", "utf-8")
    done = run(*arguments, folder=shoot)
    assert done.code == 2
    assert says in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.stderr
    assert not (shoot / "out").exists()
    assert not list(shoot.glob(".*part*"))
    assert (shoot / "full" / "keep.txt").read_text("utf-8") == "ours"


def test_a_camera_that_is_too_slow_loses_the_same_frames_however_many_work(shoot: Path) -> None:
    slow = SHOOT + "[cycle]\nprocessing_s = 2.0\n[card]\nwrite_mb_s = 0.06\n"
    (shoot / "slow.toml").write_text(slow, "utf-8")
    for name, start in (("slow1", run), ("slow2", run_as_program)):
        done = start("slow.toml", name, "--scene", "sketch", "--hazard", "windy", folder=shoot)
        assert done.code == 0, done.stderr
    assert digest(shoot / "slow1") == digest(shoot / "slow2")
    document = truth(shoot / "slow1")
    lost = [tuple(release["cell"]) for release in document["lost"]]
    assert 0 < len(lost) < 12
    missing = [(c["row"], c["column"]) for c in document["cells"] if c["state"] == "missing"]
    assert missing == lost
    named = sorted(digest(shoot / "slow1" / "card"))
    assert named == [f"DCIM/100SALTM/PIC_{401 + i:04d}.JPG" for i in range(12 - len(lost))]
    # By hand, from the files: 2 s (by a fifth more or less) and the file at 60 kB a second.
    for release in document["lost"]:
        before = [f for f in document["frames"] if f["asked_at"] < release["asked_at"]][-1]
        size = (shoot / "slow1" / "card" / before["file"]).stat().st_size
        assert 2.0 * 0.4 + size / 60e3 < 6.5
        assert 2.0 * 2.0 + size / 60e3 > 2.8


def test_power_pulled_leaves_a_part_and_an_empty_entry(shoot: Path) -> None:
    done = run(
        "shoot.toml", "pulled", "--scene", "sketch", "--fault", "power pulled 2,2 40", folder=shoot
    )
    assert done.code == 0, done.stderr
    document = truth(shoot / "pulled")
    files = {file: (shoot / "pulled" / "card" / file) for file in digest(shoot / "pulled" / "card")}
    assert document["frames"][-1]["cell"] == [2, 2]
    assert document["frames"][-1]["wrong"] == ["corrupt"]
    assert not files[document["frames"][-1]["file"]].read_bytes().endswith(b"\xff\xd9")
    assert files[document["empty_entry"]].stat().st_size == 0
    assert len(files) == len(document["frames"]) + 1
    done = run("shoot.toml", "later", "--cells", "2,3", "--after", "pulled", folder=shoot)
    assert done.code == 0, done.stderr
    assert truth(shoot / "later")["frames"][0]["file"] > document["empty_entry"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("shoot.toml", "out", "--hazard", "wnidy"), "Did you mean “windy”?"),
        (("shoot.toml", "out", "--files", "odd"), "Known are usual"),
        (("shoot.toml",), "a shoot file and a folder"),
        (("--lesson", "wnd"), "Did you mean “wind”?"),
    ],
)
def test_words_that_ask_for_nothing_known(
    shoot: Path, arguments: tuple[str, ...], says: str
) -> None:
    done = run(*arguments, folder=shoot)
    assert done.code == 2
    assert says in done.stderr
    assert not (shoot / "out").exists()
