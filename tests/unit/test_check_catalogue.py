"""Reading a card: what is a frame, what is damaged, what is refused."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from belvedere.foundation import CardError, finish
from belvedere.imagefiles import read_card, read_card_with_pictures, require_one_size
from belvedere.imagefiles.opening import opened


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card" / "DCIM" / "100SALTM"
    folder.mkdir(parents=True)
    return tmp_path / "card"


def picture(width: int = 96, height: int = 64, seed: int = 1) -> Image.Image:
    rng = np.random.default_rng(seed)
    coarse = rng.integers(0, 255, (height // 8, width // 8, 3), dtype=np.uint8)
    return Image.fromarray(cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC))


def save(card: Path, name: str, image: Image.Image, **options: object) -> Path:
    path = card / "DCIM" / "100SALTM" / name
    image.save(path, **options)  # type: ignore[arg-type]
    return path


def exif(**tags: object) -> Image.Exif:
    made = Image.Exif()
    block = made.get_ifd(0x8769)
    block[36867] = "2031:05:17 10:20:03"
    block[37521] = "25"
    block[33434] = 1 / 400
    block[33437] = 8.0
    block[34855] = 100
    made[274] = tags.get("orientation", 1)
    made[271] = "Saltmere Optics"
    return made


def test_states_what_the_file_says(card: Path) -> None:
    save(card, "PIC_0401.JPG", picture(), exif=exif(), quality=95)
    (frame,) = finish(read_card(card))
    assert frame.file == "DCIM/100SALTM/PIC_0401.JPG"
    assert frame.taken_at == datetime(2031, 5, 17, 10, 20, 3, 250_000)
    assert frame.has_subsecond
    assert (frame.width_px, frame.height_px, frame.damage) == (96, 64, "")
    assert frame.settings.exposure_time_s == pytest.approx(1 / 400)
    assert (frame.settings.f_number, frame.settings.iso) == (8.0, 100.0)
    assert frame.maker == "Saltmere Optics"


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_upright_as_pillow_turns_it(card: Path, orientation: int) -> None:
    path = save(card, "PIC_0401.JPG", picture(), exif=exif(orientation=orientation), quality=95)
    (reading,) = finish(read_card_with_pictures(card)).readings
    # Pillow's exif_transpose is the reference here.
    from PIL import ImageOps

    with opened(path) as image:
        upright = ImageOps.exif_transpose(image).convert("L")
    assert (reading.frame.width_px, reading.frame.height_px) == upright.size
    assert np.abs(reading.small.astype(int) - np.asarray(upright, dtype=int)).mean() < 1.5


@pytest.mark.parametrize("suffix", [".png", ".tif", ".heic"])
def test_other_kinds_of_pictures(card: Path, suffix: str) -> None:
    with opened(save(card, "PIC_0402.JPG", picture())):
        pass  # HEIC is known from here on
    save(card, f"PIC_0401{suffix}", picture())
    frame = finish(read_card(card))[0]
    assert (frame.width_px, frame.height_px, frame.damage) == (96, 64, "")


def test_truncated_file_is_a_frame_with_damage(card: Path) -> None:
    path = save(card, "PIC_0401.JPG", picture(640, 480), exif=exif(), quality=95)
    path.write_bytes(path.read_bytes()[: path.stat().st_size * 6 // 10])
    (reading,) = finish(read_card_with_pictures(card)).readings
    assert reading.frame.damage == "ends in the middle of the picture"
    assert reading.frame.taken_at is not None
    assert (reading.frame.width_px, reading.frame.height_px) == (640, 480)


def test_spoilt_middle_is_noticed(card: Path) -> None:
    path = save(card, "PIC_0401.JPG", picture(640, 480), quality=95)
    content = bytearray(path.read_bytes())
    middle = len(content) // 2
    content[middle : middle + 400] = b"\x00" * 400
    path.write_bytes(bytes(content))
    (frame,) = finish(read_card(card))
    assert "spoilt" in frame.damage or "ends" in frame.damage


@pytest.mark.parametrize(
    ("content", "damage"),
    [
        (b"Dear diary, the ferry was late.\n", "is not a picture"),
        (b"", "is empty"),
        (b"\xff\xd8\xff", "cannot be decoded"),
    ],
)
def test_what_is_no_picture_is_a_frame_with_damage(card: Path, content: bytes, damage: str) -> None:
    (card / "DCIM" / "100SALTM" / "PIC_0401.JPG").write_bytes(content)
    (frame,) = finish(read_card(card))
    assert frame.damage == damage
    assert (frame.width_px, frame.height_px) == (0, 0)


def test_hidden_files_are_no_frames(card: Path) -> None:
    save(card, "PIC_0401.JPG", picture())
    (card / "DCIM" / "100SALTM" / "._PIC_0401.JPG").write_bytes(b"shadow")
    (card / ".Trash").mkdir()
    shutil.copy(card / "DCIM" / "100SALTM" / "PIC_0401.JPG", card / ".Trash" / "PIC_0400.JPG")
    assert len(finish(read_card(card))) == 1


def test_copies_have_one_hash(card: Path) -> None:
    path = save(card, "PIC_0401.JPG", picture())
    shutil.copy(path, path.with_name("PIC_0402.JPG"))
    save(card, "PIC_0403.JPG", picture(seed=2))
    first, second, third = finish(read_card(card))
    assert first.content_hash == second.content_hash != third.content_hash


def test_nothing_on_the_card_changes(card: Path) -> None:
    save(card, "PIC_0401.JPG", picture(), exif=exif())
    before = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in card.rglob("*") if p.is_file()}
    finish(read_card(card))
    after = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in card.rglob("*") if p.is_file()}
    assert before == after


def test_folder_without_pictures_is_refused(card: Path) -> None:
    (card / "truth.txt").write_text("no picture", "utf-8")
    with pytest.raises(CardError, match="no picture file"):
        finish(read_card(card))


def test_missing_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CardError, match="does not exist"):
        finish(read_card(tmp_path / "nowhere"))


def test_two_sizes_are_refused_with_both_named(card: Path) -> None:
    for number in (401, 402, 403):
        save(card, f"PIC_0{number}.JPG", picture())
    save(card, "PIC_0404.JPG", picture(64, 96))
    with pytest.raises(CardError, match=r"3 of 96 × 64 px and 1 of 64 × 96 px.*PIC_0404"):
        require_one_size(finish(read_card(card)))


def test_damaged_frames_do_not_count_as_another_size(card: Path) -> None:
    save(card, "PIC_0401.JPG", picture())
    (card / "DCIM" / "100SALTM" / "PIC_0402.JPG").write_bytes(b"text")
    require_one_size(finish(read_card(card)))


def test_a_frame_written_twice_is_one_frame(card: Path) -> None:
    """One name up to the suffix is one frame: JEITA CP-3461, the DCF object, from memory."""
    save(card, "PIC_0401.JPG", picture(seed=1))
    save(card, "PIC_0401.TIF", picture(seed=1))
    save(card, "PIC_0401.png", picture(seed=1))
    (card / "DCIM" / "100SALTM" / "PIC_0401.RAW").write_bytes(b"raw")
    save(card, "PIC_0402.TIF", picture(seed=2))
    other = card / "DCIM" / "101SALTM"
    other.mkdir()
    picture(seed=3).save(other / "PIC_0401.TIF")
    files = [frame.file for frame in finish(read_card(card))]
    assert files == [
        "DCIM/100SALTM/PIC_0401.JPG",
        "DCIM/100SALTM/PIC_0402.TIF",
        "DCIM/101SALTM/PIC_0401.TIF",
    ]
