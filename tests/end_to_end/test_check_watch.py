"""`belvedere check --watch` as a person runs it: rehearsed frames come in, file by file."""

from __future__ import annotations

import json
import threading
import time
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from belvedere.cli import main
from belvedere.workflows import watch as watching
from belvedere.workflows.watch_events import WatchEvent

INTERVAL_S = 1.0
SHOOT = f"""
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = 640
image_height_px = 480
[lens]
focal_length_mm = 40.0
[grid]
left_deg = -16.0
right_deg = 16.0
top_deg = 7.0
bottom_deg = -7.0
overlap = 0.30
rows = 2
columns = 5
[head]
pan_speed_deg_s = 60.0
[sweep]
interval_s = {INTERVAL_S}
"""
MISSING, SOFT = (2, 4), (2, 2)
#: Each file appears some time after its release, half of it first.
WAY_S, WRITING_S = 0.1, 0.25


@dataclass(frozen=True)
class Done:
    code: int
    out: str


def run(capsys: pytest.CaptureFixture[str], *words: object) -> Done:
    arguments = ["belvedere", *(str(word) for word in words)]
    with mock.patch("sys.argv", arguments), pytest.raises(SystemExit) as left:
        main()
    said = capsys.readouterr()
    code = left.value.code
    return Done(code if isinstance(code, int) else 0, said.out + said.err)


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shoot")
    (folder / "shoot.toml").write_text(SHOOT, "utf-8")
    arguments = [
        "belvedere", "rehearse", str(folder / "shoot.toml"), str(folder / "first"),
        "--scene", "sketch", "--seed", "5", "--workers", "1", "--subsecond",
        "--fault", f"missing {MISSING[0]},{MISSING[1]}", "--fault", f"soft {SOFT[0]},{SOFT[1]} 3",
    ]  # fmt: skip
    with mock.patch("sys.argv", arguments), pytest.raises(SystemExit) as left:
        main()
    assert not left.value.code
    return folder


def shots_of(shoot: Path) -> list[tuple[float, str]]:
    """Seconds from the first release, and file, of every frame of a rehearsal."""
    document: dict[str, Any] = json.loads((shoot / "first" / "truth.json").read_text("utf-8"))
    shots = sorted((datetime.fromisoformat(f["taken_at"]), f["file"]) for f in document["frames"])
    return [((taken_at - shots[0][0]).total_seconds(), file) for taken_at, file in shots]


def followed(shoot: Path, into: Path) -> list[tuple[float, WatchEvent]]:
    """What a watch says of a rehearsal, on a clock that work does not wind on."""
    content = {file: (shoot / "first" / "card" / file).read_bytes() for _, file in shots_of(shoot)}
    writes = [
        write
        for shot_s, file in shots_of(shoot)
        for write in (
            (shot_s + WAY_S, file, content[file][: len(content[file]) // 2]),
            (shot_s + WAY_S + WRITING_S, file, content[file]),
        )
    ]
    writes.sort(key=lambda write: write[0])
    now_s = -1.0

    def sleep(seconds: float) -> None:
        nonlocal now_s
        now_s += max(seconds, 0.01)
        while writes and writes[0][0] <= now_s:
            _, file, part = writes.pop(0)
            (into / file).parent.mkdir(parents=True, exist_ok=True)
            (into / file).write_bytes(part)

    steps = watching.watch_folder(into, shoot / "shoot.toml", clock=lambda: now_s, sleep=sleep)
    return [(now_s, event) for event in steps if isinstance(event, WatchEvent)]


def copied(shoot: Path, into: Path, began: threading.Event) -> None:
    """Frames come as they were shot, each written in two halves."""
    began.wait(10.0)
    start_s = time.monotonic()
    for shot_s, file in shots_of(shoot):
        time.sleep(max(0.0, start_s + shot_s + WAY_S - time.monotonic()))
        content = (shoot / "first" / "card" / file).read_bytes()
        path = into / file
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("wb", buffering=0) as out:
            out.write(content[: len(content) // 2])
            time.sleep(WRITING_S)
            out.write(content[len(content) // 2 :])


def test_a_shoot_is_followed_to_its_verdict(
    rehearsed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: Any
) -> None:
    """The missing and the soft frame are named before the end, and no other."""
    said: list[tuple[float, WatchEvent]] = []
    began = threading.Event()
    advance = watching.advance

    def noted(*arguments: Any) -> Any:
        began.set()
        watch, events = advance(*arguments)
        said.extend((time.monotonic(), event) for event in events)
        return watch, events

    monkeypatch.setattr(watching, "advance", noted)
    (tmp_path / "shoot.toml").write_text(SHOOT, "utf-8")
    tether = tmp_path / "tether"
    camera = threading.Thread(target=copied, args=(rehearsed, tether, began))
    camera.start()
    done = run(
        capsys, "check", tether, "--shoot", tmp_path / "shoot.toml", "--watch",
        "--json", tmp_path / "check.json",
    )  # fmt: skip
    camera.join()

    document = json.loads((tmp_path / "check.json").read_text("utf-8"))
    wrong = {(c["row"], c["column"]): c["state"] for c in document["cells"] if c["state"] != "good"}
    assert wrong == {MISSING: "missing", SOFT: "soft"}
    assert done.code == 1
    assert "RE-SHOOT" in done.out
    came = [(s, e) for s, e in said if e.kind == "came"]
    assert len(came) == 9
    # A busy machine may bring a file late: then it is asked for, and taken back.
    cleared = {cell for _, e in said if e.kind == "better" for cell in e.cells}
    faults = [(s, e) for s, e in said if e.kind == "fault" and set(e.cells) - cleared]
    assert {(e.cells, e.state) for _, e in faults} == {((MISSING,), "missing"), ((SOFT,), "soft")}
    assert "row 2, column 4" in done.out


def test_the_missing_frame_is_named_within_two_intervals(rehearsed: Path, tmp_path: Path) -> None:
    said = followed(rehearsed, tmp_path / "tether")
    faults = [(s, e) for s, e in said if e.kind == "fault"]
    assert [(e.cells, e.state) for _, e in faults] == [((SOFT,), "soft"), ((MISSING,), "missing")]
    before = next(e.file for _, e in said if e.kind == "came" and e.cells == ((2, 3),))
    # The release that was lost was due one interval after the one of the cell before.
    absent_s = next(s for s, file in shots_of(rehearsed) if file == before) + INTERVAL_S
    assert absent_s < faults[1][0] <= absent_s + 2.0 * INTERVAL_S


def test_it_needs_a_shoot_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = run(capsys, "check", tmp_path, "--watch")
    assert done.code == 2
    assert "--watch needs the shoot file" in done.out


def test_a_file_is_no_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "shoot.toml").write_text(SHOOT, "utf-8")
    file = tmp_path / "shoot.toml"
    done = run(capsys, "check", file, "--shoot", file, "--watch")
    assert done.code == 2
    assert "is not a folder" in done.out


def test_ctrl_c_ends_the_watch_and_checks_what_is_there(
    rehearsed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: Any
) -> None:
    (tmp_path / "shoot.toml").write_text(SHOOT, "utf-8")
    looks = 0

    def interrupted(root: Path, done: frozenset[str]) -> Any:
        nonlocal looks
        looks += 1
        if looks > 12:
            raise KeyboardInterrupt
        return watching_look(root, done)

    watching_look = watching.look
    monkeypatch.setattr(watching, "look", interrupted)
    card = rehearsed / "first" / "card"
    done = run(capsys, "check", card, "--shoot", tmp_path / "shoot.toml", "--watch", "--quiet")
    assert done.code == 1
    assert "the watch is ended" in done.out
    assert "RE-SHOOT" in done.out
    assert "PIC_0401.JPG  row" not in done.out


def test_a_knocked_tripod_is_said_while_the_head_sweeps(tmp_path: Path) -> None:
    shoot = tmp_path / "shoot.toml"
    shoot.write_text(SHOOT.replace("rows = 2", "rows = 3"), "utf-8")
    arguments = [
        "belvedere", "rehearse", str(shoot), str(tmp_path / "first"), "--scene", "sketch",
        "--seed", "6", "--workers", "1", "--fault", "bumped 2,3 1.5",
    ]  # fmt: skip
    with mock.patch("sys.argv", arguments), pytest.raises(SystemExit) as left:
        main()
    assert not left.value.code
    faults = [(s, e) for s, e in followed(tmp_path, tmp_path / "tether") if e.kind == "fault"]
    ((said_s, fault),) = faults
    assert "between PIC_0407.JPG and PIC_0408.JPG the camera moved" in fault.says
    # The knock was before the eighth frame; a few more make it sure.
    knocked_s = shots_of(tmp_path)[7][0]
    assert said_s <= knocked_s + 5.0 * INTERVAL_S
