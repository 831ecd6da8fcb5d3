"""`belvedere plan` with --sample, --find-camera and --find-lens, and what it writes besides."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import lensfunpy
import numpy as np
import pytest

from belvedere.cli import main
from belvedere.imagefiles import encode_frame
from belvedere.shoot import Settings
from belvedere.workflows.gear import find_cameras, find_lenses

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/examples/saltmere/shoot.toml"
Ran = tuple[int, str, str]


@pytest.fixture
def plan(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    def run(*words: str | Path) -> Ran:
        monkeypatch.setattr(sys, "argv", ["belvedere", "plan", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        printed = capsys.readouterr()
        return int(ended.value.code or 0), printed.out, printed.err

    return run


def test_a_sample_picture_becomes_lines_of_a_shoot_file(
    tmp_path: Path, plan: Callable[..., Ran]
) -> None:
    """44 mm that see what 205 mm see on 36 × 24 mm: a diagonal of 43.267 × 44 / 205 mm."""
    stated = Settings(
        exposure_time_s=1 / 125,
        f_number=8.0,
        iso=100.0,
        focal_length_mm=44.0,
        focal_length_35mm_mm=205.0,
    )
    picture = tmp_path / "before.jpg"
    pixels = np.full((300, 400, 3), 120, np.uint8)
    taken_at = datetime(2031, 5, 1, 12, 0)
    picture.write_bytes(encode_frame(pixels, stated, taken_at, maker="Our own", model="One"))
    code, out, _ = plan("--sample", picture)
    assert code == 0
    lines = tomllib.loads(out[out.index("[camera]") :])
    assert lines["camera"]["image_width_px"] == 400
    assert lines["camera"]["sensor_width_mm"] == pytest.approx(0.8 * 43.267 * 44 / 205, abs=0.01)
    assert lines["lens"]["focal_length_mm"] == 44.0
    # f/8 and 1/125 s at ISO 100: EV 12.97 by the APEX sum.
    assert lines["exposure"]["ev100"] == pytest.approx(12.97, abs=0.05)


def test_a_camera_by_name_and_the_lenses_that_fit(plan: Callable[..., Ran]) -> None:
    names = [f"{camera.maker} {camera.model}" for camera in lensfunpy.Database().cameras]
    alone = next(
        name
        for name in names
        if len(found := find_cameras(name)) == 1 and len(find_lenses("", found[0])) > 1
    )
    code, out, _ = plan("--find-camera", alone)
    assert code == 0
    assert "crop factor" in out
    assert "Not known: How many pixels" in out
    code, out, _ = plan("--find-camera", alone, "--find-lens", "mm")
    assert code == 0
    assert "lenses go by that name" in out
    many = next(name for name in names if len(find_cameras(name.split()[0])) > 1).split()[0]
    code, out, _ = plan("--find-camera", many)
    assert code == 0
    assert "cameras go by that name; give more of it to choose" in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--find-camera", "no such thing at all"), "No camera like"),
        (("--find-lens", "50"), "Add --find-camera"),
        (("--sample", "nowhere.jpg"), "nowhere.jpg"),
        ((), "There is no shoot file to plan"),
    ],
)
def test_nothing_found_is_one_sentence(
    plan: Callable[..., Ran], words: tuple[str, ...], says: str
) -> None:
    code, out, err = plan(*words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err


def test_sheet_and_pictures_are_written_whole(tmp_path: Path, plan: Callable[..., Ran]) -> None:
    sheet, pictures = tmp_path / "sheet.pdf", tmp_path / "pictures"
    code, out, _ = plan(EXAMPLE, "--sheet", sheet, "--paper", "letter", "--pictures", pictures)
    assert code == 0
    assert "Written: " in out
    assert sheet.read_bytes().startswith(b"%PDF-")
    names = {f"{name}.{kind}" for name in ("grid", "sphere", "interval", "ages") for kind in
             ("svg", "png")}  # fmt: skip
    assert {file.name for file in pictures.iterdir()} == names
    code, _, err = plan(EXAMPLE, "--pictures", sheet)
    assert (code, err.count("\n")) == (2, 1)
    assert "is a file" in err
    code, _, err = plan(EXAMPLE, "--sheet", tmp_path / "nowhere" / "sheet.pdf")
    assert (code, err.count("\n")) == (2, 1)
