"""`belvedere publish` and `belvedere serve` as a person uses them."""

from __future__ import annotations

import contextlib
import http.client
import io
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from unittest import mock
from urllib.parse import urlsplit

import jsonschema
import pytest

from belvedere.cli import main
from publish_sites import ROOT, mosaic_description, save_tiff, scenery

BELVEDERE = Path(sys.executable).parent / "belvedere"


@pytest.fixture(autouse=True)
def _page() -> None:
    if not (ROOT / "src/belvedere/publish/page/index.html").is_file():
        pytest.skip("the page has not been built: run python tools/build_pages.py")


@pytest.fixture(scope="module")
def mosaic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("mosaic")
    return save_tiff(folder / "saltmere.tif", scenery(2400, 700), mosaic_description(2400))


def belvedere(*arguments: object, cwd: Path) -> subprocess.CompletedProcess[str]:
    """The command as its entry point runs it, in this process: starting one costs seconds."""
    out, err = io.StringIO(), io.StringIO()
    argv = ["belvedere", *map(str, arguments)]
    code: object = 0
    with (
        contextlib.chdir(cwd),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        mock.patch.object(sys, "argv", argv),
    ):
        try:
            main()
        except SystemExit as ended:
            code = ended.code or 0
    assert isinstance(code, int)
    return subprocess.CompletedProcess(argv, code, out.getvalue(), err.getvalue())


def refused(done: subprocess.CompletedProcess[str]) -> str:
    """The one sentence of a refusal."""
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert done.stderr.startswith("belvedere: ")
    assert done.stderr.count("\n") == 1
    return done.stderr


def tree(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_a_site_is_made(tmp_path: Path, mosaic: Path) -> None:
    done = subprocess.run(
        [BELVEDERE, "publish", mosaic, "site", "--json", "report.json"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "Saltmere harbour from the mole" in done.stdout
    assert sorted(path.name for path in (tmp_path / "site").iterdir()) == [
        "belvedere-site.json",
        "image",
        "index.html",
        "manifest.json",
        "page",
    ]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["report.json", "site"]
    report = json.loads((tmp_path / "report.json").read_text())
    schema = json.loads((ROOT / "docs/schema/publish-1.schema.json").read_text())
    jsonschema.validate(report, schema)
    written = tree(tmp_path / "site")
    assert report["files"] == len(written)
    assert report["size_bytes"] == sum(map(len, written.values()))
    assert (report["width_px"], report["height_px"], report["output_mp"]) == (2400, 700, 1.68)


def test_words_change_and_tiles_stay(tmp_path: Path, mosaic: Path) -> None:
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    tile = tmp_path / "site/image/0,0,512,512/512,512/0/default.jpg"
    before = tile.stat()
    done = belvedere(
        *("publish", mosaic, "site", "--title", "The mole"),
        *("--address", "https://museum.example/mole"),
        cwd=tmp_path,
    )
    assert done.returncode == 0, done.stderr
    assert "kept" in done.stdout
    assert (tile.stat().st_ino, tile.stat().st_mtime) == (before.st_ino, before.st_mtime)
    info = json.loads((tmp_path / "site/image/info.json").read_text())
    assert info["id"] == "https://museum.example/mole/image"
    assert "<h1>The mole</h1>" in (tmp_path / "site/index.html").read_text()
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_another_picture_replaces_all(tmp_path: Path, mosaic: Path) -> None:
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    smaller = save_tiff(tmp_path / "smaller.tif", scenery(600, 300))
    belvedere("publish", smaller, "site", cwd=tmp_path)
    belvedere("publish", smaller, "fresh", cwd=tmp_path)
    assert tree(tmp_path / "site") == tree(tmp_path / "fresh")


def test_a_lost_tile_is_not_kept_lost(tmp_path: Path, mosaic: Path) -> None:
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    whole = tree(tmp_path / "site")
    (tmp_path / "site/image/0,0,512,512/512,512/0/default.jpg").unlink()
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    assert tree(tmp_path / "site") == whole


def test_a_folder_of_somebody_elses_stays_as_it_is(tmp_path: Path, mosaic: Path) -> None:
    (tmp_path / "site").mkdir()
    (tmp_path / "site/thesis.txt").write_text("three years of work")
    says = refused(belvedere("publish", mosaic, "site", cwd=tmp_path))
    assert "not empty" in says
    assert tree(tmp_path / "site") == {"thesis.txt": b"three years of work"}


def test_what_was_added_to_a_site_is_not_lost(tmp_path: Path, mosaic: Path) -> None:
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    (tmp_path / "site/robots.txt").write_text("mine")
    before = tree(tmp_path / "site")
    assert "robots.txt" in refused(belvedere("publish", mosaic, "site", cwd=tmp_path))
    assert tree(tmp_path / "site") == before


def test_an_empty_folder_will_do(tmp_path: Path, mosaic: Path) -> None:
    (tmp_path / "site").mkdir()
    assert belvedere("publish", mosaic, "site", cwd=tmp_path).returncode == 0


def test_the_schema_of_places_is_as_strict(tmp_path: Path, mosaic: Path) -> None:
    schema = json.loads((ROOT / "docs/schema/places-1.schema.json").read_text())
    good = [
        {"name": "The mole", "bearing_deg": 3.0},
        {"name": "The light", "note": "Lit", "region_px": [10, 10, 300, 200]},
    ]
    bad = [
        {"bearing_deg": 3.0},
        {"name": "", "bearing_deg": 3.0},
        {"name": "Two", "bearing_deg": 3.0, "region_px": [1, 1, 2, 2]},
        {"name": "Flat", "region_px": [1, 1, 2, 0]},
        {"name": "Short", "region_px": [1, 1, 2]},
        {"name": "High", "bearing_deg": 0.0, "elevation_deg": 91.0},
        {"name": "Typo", "bearing_deg": 0.0, "width": 2.0},
    ]
    for number, places in enumerate([good, *([place] for place in bad)]):
        document = {"schema": "belvedere/places/1", "places": places}
        (tmp_path / "places.json").write_text(json.dumps(document))
        done = belvedere("publish", mosaic, "site", "--places", "places.json", cwd=tmp_path)
        assert (done.returncode == 0) is (number == 0), places
        assert jsonschema.Draft202012Validator(schema).is_valid(document) is (number == 0), places


BAD = {
    "no picture": (("publish", "nothing.tif", "site"), "does not exist"),
    "a folder": (("publish", ".", "site"), "is a folder"),
    "a text": (("publish", "text.tif", "site"), "text.tif"),
    "no parent": (("publish", "MOSAIC", "no/site"), "no does not exist"),
    "a file": (("publish", "MOSAIC", "text.tif"), "not a folder"),
    "an address": (("publish", "MOSAIC", "site", "--address", "museum"), "museum"),
    "no places": (("publish", "MOSAIC", "site", "--places", "none.json"), "none.json"),
    "bad places": (("publish", "MOSAIC", "site", "--places", "text.tif"), "text.tif"),
    "a far place": (("publish", "MOSAIC", "site", "--places", "far.json"), "The moon"),
    "a strange key": (("publish", "MOSAIC", "site", "--places", "key.json"), "bearing"),
    "no report": (("publish", "MOSAIC", "site", "--json", "no/r.json"), "no does not exist"),
    "no site": (("serve", "."), "holds no site"),
}


@pytest.mark.parametrize("case", list(BAD))
def test_bad_input_is_one_sentence(tmp_path: Path, mosaic: Path, case: str) -> None:
    (tmp_path / "text.tif").write_text("Low water at nine.")
    far = {"name": "The moon", "bearing_deg": 100.0}
    key = {"name": "The mole", "bearing": 3.0}
    for name, place in (("far.json", far), ("key.json", key)):
        content = {"schema": "belvedere/places/1", "places": [place]}
        (tmp_path / name).write_text(json.dumps(content))
    before = tree(tmp_path)
    arguments, word = BAD[case]
    given = [mosaic if part == "MOSAIC" else part for part in arguments]
    assert word in refused(belvedere(*given, cwd=tmp_path))
    assert tree(tmp_path) == before
    assert not (tmp_path / "site").exists()


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_cannot_be_written(tmp_path: Path, mosaic: Path) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    assert "cannot be written" in refused(belvedere("publish", mosaic, "closed/s", cwd=tmp_path))


def test_a_killed_run_leaves_no_site_and_the_next_sweeps_up(tmp_path: Path, mosaic: Path) -> None:
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    before = tree(tmp_path / "site")
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    (tmp_path / f".site.{dead.pid}.part").mkdir()
    big = save_tiff(tmp_path / "big.tif", scenery(7001, 4001))
    run = subprocess.Popen([BELVEDERE, "publish", big, "site"], cwd=tmp_path)
    while run.poll() is None and not list(tmp_path.glob(f".site.{run.pid}.part/image/*,*")):
        time.sleep(0.005)
    assert run.poll() is None, "it was done before it could be killed"
    run.kill()
    run.wait()
    assert tree(tmp_path / "site") == before
    assert belvedere("publish", mosaic, "site", cwd=tmp_path).returncode == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["big.tif", "site"]


@pytest.fixture
def served(tmp_path: Path, mosaic: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    (tmp_path / "secret.txt").write_text("not for visitors")
    run = subprocess.Popen(
        [BELVEDERE, "serve", "site", "--port", "0", "--json", "serve.json"],
        cwd=tmp_path,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert run.stdout is not None
    assert run.stderr is not None
    address = run.stdout.readline().split()[0]
    yield run, address
    if run.poll() is None:
        run.kill()
    run.wait()
    run.stdout.close()
    run.stderr.close()


def get(address: str, path: str, method: str = "GET") -> tuple[int, str, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", urlsplit(address).port, timeout=10)
    connection.putrequest(method, path, skip_accept_encoding=True)
    connection.endheaders()
    answer = connection.getresponse()
    result = answer.status, answer.headers.get("Content-Type", ""), answer.read()
    connection.close()
    return result


def test_a_site_is_served(served: tuple[subprocess.Popen[str], str], tmp_path: Path) -> None:
    run, address = served
    note = json.loads((tmp_path / "serve.json").read_text())
    assert note == {"schema": "belvedere/serve/1", "address": address}
    # Media types: HTML, RFC 9239 (JavaScript), RFC 8259 (JSON), RFC 2046 (JPEG).
    for path, kind in {
        "/": "text/html",
        "/page/viewer.js": "text/javascript",
        "/page/viewer.css": "text/css",
        "/page/licences.txt": "text/plain",
        "/image/info.json": "application/json",
        "/image/full/max/0/default.jpg": "image/jpeg",
    }.items():
        status, media, content = get(address, path)
        assert (status, media.split(";")[0]) == (200, kind), path
        name = "index.html" if path == "/" else path[1:]
        assert content == (tmp_path / "site" / name).read_bytes()
    run.send_signal(signal.SIGINT)
    assert run.wait(timeout=10) == 0
    assert run.stderr is not None
    assert run.stderr.read() == ""


def test_nothing_but_the_site_is_served(served: tuple[subprocess.Popen[str], str]) -> None:
    _, address = served
    for path in ("/../secret.txt", "/%2e%2e/secret.txt", "/page/../../secret.txt", "//secret.txt"):
        status, _, content = get(address, path)
        assert status == 404, path
        assert b"not for visitors" not in content
    assert get(address, "/image/")[0] == 404
    assert get(address, "/nothing")[0] == 404
    assert get(address, "/", "POST")[0] == 501
    assert get(address, "/", "HEAD")[::2] == (200, b"")


def test_a_port_that_is_taken(tmp_path: Path, mosaic: Path) -> None:
    belvedere("publish", mosaic, "site", cwd=tmp_path)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        says = refused(belvedere("serve", "site", "--port", port, cwd=tmp_path))
    assert f"Port {port}" in says
