"""`belvedere assemble` as a person runs it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pytest
import pyvips
import simplejpeg

from belvedere.cli.app import app
from belvedere.foundation import BelvedereError, OrientError, StoreError
from compose_synthetic import LENS, grid_shoot

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs" / "schema" / "assemble-1.schema.json").read_text("utf-8"))

SHOOT = """
[shoot]
title = "Saltmere harbour from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = 480
image_height_px = 360
[lens]
focal_length_mm = 44.0
[grid]
left_deg = -13.0
right_deg = 13.0
top_deg = 9.0
bottom_deg = -7.0
overlap = 0.30
rows = 3
columns = 4
[sweep]
interval_s = 3.0
"""


def run(*arguments: object) -> None:
    """The command in this process; what stops it is raised."""
    app([str(argument) for argument in arguments], standalone_mode=False)


def report(path: Path) -> dict:
    document = json.loads(path.read_text("utf-8"))
    jsonschema.validate(document, SCHEMA)
    return document


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four frames of a scene full of detail, hand-held, with nothing in their EXIF."""
    folder = tmp_path_factory.mktemp("card")
    random = np.random.default_rng(5)
    detail = random.integers(0, 256, (120, 400, 3), dtype=np.uint8)
    detail = cv2.GaussianBlur(
        cv2.resize(detail, (2400, 720), interpolation=cv2.INTER_CUBIC), (0, 0), 1.0
    )
    orientation, _ = grid_shoot([0.0, 8.0], [2.5, -2.5])
    for frame in orientation.frames:
        x, y = np.meshgrid(np.arange(LENS.width_px), np.arange(LENS.height_px))
        rays = LENS.unproject(np.stack([x, y], -1).astype(float)) @ frame.camera_from_world
        u = (np.degrees(np.arctan2(rays[..., 0], rays[..., 2])) + 20.0) * 40.0
        v = (np.degrees(np.arcsin(rays[..., 1])) + 9.0) * 40.0
        rgb = cv2.remap(detail, u.astype(np.float32), v.astype(np.float32), cv2.INTER_LINEAR)
        (folder / frame.file).write_bytes(simplejpeg.encode_jpeg(rgb, quality=95))
    return folder


@pytest.fixture(scope="module")
def assembled(card: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with mosaic.tif, report.json and orientation.json of that card."""
    folder = tmp_path_factory.mktemp("assembled")
    run(
        "assemble", card, "--out", folder / "mosaic.tif", "--json", folder / "report.json",
        "--orientation", folder / "orientation.json", "--packing", "deflate",
    )  # fmt: skip
    return folder


def test_a_folder_of_pictures_becomes_one_mosaic(card: Path, assembled: Path) -> None:
    said = report(assembled / "report.json")
    assert said["frames"] == 4
    assert sorted(said["files"]) == sorted(path.name for path in card.iterdir())
    assert said["residual_px_rms"] < 0.5
    assert said["input_mp"] == pytest.approx(4 * 320 * 240 / 1e6)
    assert said["verdict"] is None
    picture = pyvips.Image.new_from_file(str(assembled / "mosaic.tif"))
    assert picture.width == said["layout"]["width_px"]
    assert picture.height == said["layout"]["height_px"]
    told = json.loads((assembled / "orientation.json").read_text("utf-8"))
    assert told["schema"] == "belvedere/orientation/1"


def test_nothing_else_is_left_behind(card: Path, assembled: Path) -> None:
    assert len(list(card.iterdir())) == 4
    assert sorted(path.name for path in assembled.iterdir()) == [
        "mosaic.tif",
        "orientation.json",
        "report.json",
    ]


def test_cropped_nothing_is_left_uncovered(card: Path, tmp_path: Path) -> None:
    out, told = tmp_path / "mosaic.tif", tmp_path / "report.json"
    run("assemble", card, "--out", out, "--json", told, "--crop", "--packing", "deflate")
    pixels = pyvips.Image.new_from_file(str(out)).numpy()
    assert not (pixels == (32, 32, 32)).all(axis=-1).any()
    assert report(told)["covered_share"] == 1.0


def test_half_the_scale_is_half_the_picture(card: Path, assembled: Path, tmp_path: Path) -> None:
    scale = report(assembled / "report.json")["layout"]["scale_px_per_deg"] / 2.0
    out = tmp_path / "half.tif"
    run("assemble", card, "--out", out, "--packing", "deflate", "--scale", scale)
    large = pyvips.Image.new_from_file(str(assembled / "mosaic.tif")).numpy()
    small = pyvips.Image.new_from_file(str(out)).numpy()
    assert abs(large.shape[1] - 2 * small.shape[1]) <= 2
    halved = cv2.resize(large, small.shape[1::-1], interpolation=cv2.INTER_AREA)
    inner = np.s_[20:-20, 20:-20]
    assert np.abs(halved[inner].astype(int) - small[inner]).mean() < 6.0


@pytest.mark.parametrize("asked", ["missing/mosaic.tif", "folder"])
def test_a_place_that_cannot_be_written_is_refused_before_any_work(
    card: Path, tmp_path: Path, asked: str
) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(StoreError):
        run("assemble", card, "--out", tmp_path / asked)
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


def test_nothing_is_written_among_the_frames(card: Path) -> None:
    before = sorted(card.iterdir())
    with pytest.raises(StoreError, match="never written"):
        run("assemble", card, "--out", card / "mosaic.tif")
    assert sorted(card.iterdir()) == before


def test_frames_that_show_different_things_are_refused_in_a_sentence(tmp_path: Path) -> None:
    folder = tmp_path / "card"
    folder.mkdir()
    for seed in range(2):
        noise = np.random.default_rng(seed).integers(0, 255, (24, 32, 3), dtype=np.uint8)
        picture = cv2.resize(noise, (640, 480), interpolation=cv2.INTER_CUBIC)
        (folder / f"{seed}.jpg").write_bytes(simplejpeg.encode_jpeg(picture, quality=92))
    out = tmp_path / "mosaic.tif"
    with pytest.raises(BelvedereError) as stopped:
        run("assemble", folder, "--out", out)
    assert isinstance(stopped.value, OrientError)
    assert not out.exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["card"]


def test_the_real_command_says_one_sentence_and_exits_2(tmp_path: Path) -> None:
    command = "import sys; from belvedere.cli import main; sys.exit(main())"
    out = tmp_path.parent / "mosaic.tif"
    done = subprocess.run(
        [sys.executable, "-c", command, "assemble", tmp_path, "--out", out],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("belvedere: ")
    assert "Traceback" not in done.stderr


def test_with_a_shoot_file_a_missing_cell_is_a_hole_with_a_name(tmp_path: Path) -> None:
    """Rehearsed with one cell missing; retaken, the hole is gone."""
    shoot = tmp_path / "shoot.toml"
    shoot.write_text(SHOOT, "utf-8")
    first, second = tmp_path / "first", tmp_path / "second"
    run("rehearse", shoot, first, "--scene", "sketch", "--fault", "missing 2,2", "--workers", 1)
    out, told = tmp_path / "mosaic.tif", tmp_path / "report.json"
    arguments = ("assemble", first / "card", "--shoot", shoot, "--out", out, "--json", told)
    run(*arguments)
    said = report(told)
    assert said["title"] == "Saltmere harbour from the mole"
    assert said["frames"] == 11
    assert said["verdict"] == "reshoot"
    assert [(hole["row"], hole["column"]) for hole in said["holes"]] == [(2, 2)]

    run("rehearse", shoot, second, "--scene", "sketch", "--cells", "2,2", "--after", first,
        "--workers", 1)  # fmt: skip
    run("retake", second / "card", "--shoot", shoot)
    run(*arguments)
    said = report(told)
    assert said["frames"] == 12
    assert said["holes"] == []
    assert sum("second" in file for file in said["files"]) == 1


@pytest.mark.photos
@pytest.mark.parametrize(
    ("folder", "frames", "homography_px"),
    # What a homography between the same pairs leaves over its inliers: SIFT, MAGSAC at 3 px,
    # measured with OpenCV 5.0 on these very files; the least of the pairs.
    [("petra", 3, 1.7), ("arches", 3, 0.55), ("kayak", 7, 1.1)],
)
def test_real_frames_become_one_picture(
    photos: Path, tmp_path: Path, folder: str, frames: int, homography_px: float
) -> None:
    out, told = tmp_path / "mosaic.tif", tmp_path / "report.json"
    run("assemble", photos / folder, "--out", out, "--json", told)
    said = report(told)
    assert said["frames"] == frames
    assert said["residual_px_rms"] < homography_px
    assert said["peak_rss_mb"] < 1536
    assert said["covered_share"] > 0.5
