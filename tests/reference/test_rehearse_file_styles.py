"""Files in every maker's style, read back with three libraries that are not ours.

Pillow, ExifRead (I. Sobolev and others) and tifffile (C. Gohlke) each have a reader of their own.
Tags, types and meanings: CIPA DC-008 (Exif 2.32); names of folders and files: CIPA DC-009 (DCF);
both from memory.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import exifread
import numpy as np
import pytest
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import ExifTags, Image, ImageOps

from belvedere.foundation import PlanError
from belvedere.imagefiles import encode_as, read_card
from belvedere.rehearse import FILE_STYLES, CameraClock, FileStyle
from belvedere.rehearse.makers import card_number, card_path
from belvedere.shoot import Settings

SETTINGS = Settings(1 / 400, 5.6, 100, 30.5, 141.9, "manual", False, "manual")
TAKEN = datetime(2031, 5, 17, 10, 20, 7, 894_321)
Exif, Base = ExifTags.IFD.Exif, ExifTags.Base

styles = pytest.mark.parametrize("style", FILE_STYLES.values(), ids=list(FILE_STYLES))


def picture(height: int = 96, width: int = 128) -> np.ndarray:
    rows, columns = np.mgrid[0:height, 0:width]
    return np.stack([rows * 2, columns, 255 - columns], axis=-1).astype(np.uint8)


def by_exifread(content: bytes) -> dict[str, Any]:
    return dict(exifread.process_file(io.BytesIO(content), details=True))


def by_tifffile(content: bytes) -> tuple[dict[str, Any], str]:
    length = int.from_bytes(content[4:6], "big")
    with tifffile.TiffFile(io.BytesIO(content[12 : 4 + length])) as block:
        return {tag.name: tag.value for tag in block.pages[0].tags}, block.byteorder


@styles
def test_pillow_and_exifread_agree_on_every_setting(style: FileStyle) -> None:
    content = encode_as(style, picture(), SETTINGS, TAKEN)
    second = by_exifread(content)
    with Image.open(io.BytesIO(content)) as opened:
        exif = opened.getexif()
        block = exif.get_ifd(Exif)
    assert exif[Base.Make] == str(second["Image Make"]) == style.maker
    assert exif[Base.Model] == str(second["Image Model"]) == style.model
    assert exif[Base.DateTime] == str(second["Image DateTime"]) == "2031:05:17 10:20:07"
    for tag, name, true in (
        (Base.ExposureTime, "EXIF ExposureTime", 1 / 400),
        (Base.FNumber, "EXIF FNumber", 5.6),
        (Base.FocalLength, "EXIF FocalLength", 30.5),
        (Base.ISOSpeedRatings, "EXIF ISOSpeedRatings", 100),
    ):
        assert float(block[tag]) == pytest.approx(true)
        assert float(second[name].values[0]) == pytest.approx(true)
    assert (Base.FocalLengthIn35mmFilm in block) == style.states_focal_length_35mm
    assert ("EXIF FocalLengthIn35mmFilm" in second) == style.states_focal_length_35mm
    assert (Base.WhiteBalance in block) == ("EXIF WhiteBalance" in second) == style.states_modes
    assert (Base.DateTimeOriginal in block) == (style.clock_tags == "all")


@styles
def test_tifffile_reads_the_block_in_its_byte_order(style: FileStyle) -> None:
    tags, order = by_tifffile(encode_as(style, picture(), SETTINGS, TAKEN))
    assert order == {"II": "<", "MM": ">"}[style.byte_order]
    exif = tags["ExifTag"]
    shutter, aperture, focal = {
        "lowest": ((1, 400), (28, 5), (61, 2)),
        "tenths": ((10, 4000), (56, 10), (305, 10)),
        "millionths": ((2500, 1_000_000), (5600, 1000), (30_500, 1000)),
    }[style.ratios]
    assert tuple(exif["ExposureTime"]) == shutter
    assert tuple(exif["FNumber"]) == aperture
    assert tuple(exif["FocalLength"]) == focal


@pytest.mark.parametrize(("digits", "says"), [(1, "8"), (2, "89"), (3, "894")])
def test_fractions_of_a_second_are_cut_and_not_rounded(digits: int, says: str) -> None:
    content = encode_as(FileStyle(subsecond_digits=digits), picture(), SETTINGS, TAKEN)
    assert str(by_exifread(content)["EXIF SubSecTimeOriginal"]) == says


def test_a_whole_second_is_all_that_the_usual_file_states() -> None:
    tags = by_exifread(encode_as(FileStyle(), picture(), SETTINGS, TAKEN))
    assert not [name for name in tags if "SubSec" in name]


def test_a_clock_that_was_never_set_states_no_time(tmp_path: Path) -> None:
    content = encode_as(FileStyle(clock_tags="none"), picture(), SETTINGS, TAKEN)
    assert not [name for name in by_exifread(content) if "DateTime" in name]
    (tmp_path / "PIC_0001.JPG").write_bytes(content)
    assert read(tmp_path)[0].taken_at is None


def test_apex_values_are_those_of_the_standard() -> None:
    # CIPA DC-008, annex C: F5.6 is Av 5 by name (4.97 by 2 log2 5.6); 1/400 s is Tv 8.64.
    style = FileStyle(states_apex=True)
    with Image.open(io.BytesIO(encode_as(style, picture(), SETTINGS, TAKEN))) as opened:
        block = opened.getexif().get_ifd(Exif)
    assert float(block[Base.ApertureValue]) == pytest.approx(4.97, abs=0.005)
    assert float(block[Base.ShutterSpeedValue]) == pytest.approx(8.644, abs=0.001)
    slow = replace(SETTINGS, exposure_time_s=4.0)
    tags = by_exifread(encode_as(style, picture(), slow, TAKEN))
    assert float(tags["EXIF ShutterSpeedValue"].values[0]) == -2.0


@pytest.mark.parametrize(("stated", "says"), [(1.0, (1, 1)), (2.5, (5, 2)), (1 / 3, (1, 3))])
def test_long_times_are_tenths_and_short_ones_parts(stated: float, says: tuple[int, int]) -> None:
    slow = replace(SETTINGS, exposure_time_s=stated)
    tags, _ = by_tifffile(encode_as(FileStyle(), picture(), slow, TAKEN))
    assert tuple(tags["ExifTag"]["ExposureTime"]) == says


@pytest.mark.parametrize("byte_order", ["II", "MM"])
def test_the_thumbnail_is_a_picture_of_160_by_120(byte_order: Any) -> None:
    style = FileStyle(has_thumbnail=True, byte_order=byte_order)
    content = encode_as(style, picture(480, 640), SETTINGS, TAKEN)
    with Image.open(io.BytesIO(content)) as opened:
        second = opened.getexif().get_ifd(ExifTags.IFD.IFD1)
    assert second[Base.Compression] == 6
    by_library = by_exifread(content)["JPEGThumbnail"]
    with Image.open(io.BytesIO(by_library)) as small:
        assert small.size == (160, 120)
        small.load()


def test_a_thumbnail_does_not_hide_the_picture(tmp_path: Path) -> None:
    for name in ("mirrorless", "system"):
        content = encode_as(FILE_STYLES[name], picture(480, 640), SETTINGS, TAKEN)
        (tmp_path / f"{name}.JPG").write_bytes(content)
    for frame in read(tmp_path):
        assert (frame.width_px, frame.height_px, frame.damage) == (640, 480, "")


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_a_turned_camera_stores_turned_and_shows_upright(orientation: Any, tmp_path: Path) -> None:
    # Oracle: Pillow's reading of the orientation tag.
    upright = picture(128, 96)
    content = encode_as(FileStyle(orientation=orientation), upright, SETTINGS, TAKEN, quality=98)
    with Image.open(io.BytesIO(content)) as opened:
        assert opened.size == ((96, 128) if orientation in (1, 3) else (128, 96))
        assert opened.getexif().get_ifd(Exif)[Base.ExifImageWidth] == opened.size[0]
        shown = np.asarray(ImageOps.exif_transpose(opened)).astype(int)
    assert np.abs(shown - upright).mean() < 2.0
    (tmp_path / "PIC_0001.JPG").write_bytes(content)
    frame = read(tmp_path)[0]
    assert (frame.width_px, frame.height_px) == (96, 128)


@styles
def test_the_card_reader_understands_every_maker(style: FileStyle, tmp_path: Path) -> None:
    for number in range(98, 104):
        path = tmp_path / card_path(style, number)
        path.parent.mkdir(parents=True, exist_ok=True)
        taken = TAKEN + timedelta(seconds=3 * number)
        path.write_bytes(encode_as(style, picture(), SETTINGS, taken))
    frames = read(tmp_path)
    assert [card_number(style, frame.file) for frame in frames] == list(range(98, 104))
    assert frames[0].taken_at is not None
    assert frames[0].has_subsecond == (style.subsecond_digits > 0)
    assert frames[0].settings.exposure_time_s == pytest.approx(1 / 400)


@styles
def test_numbers_roll_over_and_the_order_holds(style: FileStyle, tmp_path: Path) -> None:
    numbers = list(range(9997, 10_003))
    for number in numbers:
        path = tmp_path / card_path(style, number)
        path.parent.mkdir(parents=True, exist_ok=True)
        taken = TAKEN + timedelta(seconds=0.3 * (number - 9997))  # several to a second
        path.write_bytes(encode_as(style, picture(), SETTINGS, taken))
    assert [card_number(style, frame.file) for frame in read(tmp_path)] == numbers


@given(st.sampled_from(list(FILE_STYLES)), st.integers(1, 89_000))
def test_names_are_those_of_the_standard_and_no_two_alike(name: str, number: int) -> None:
    # CIPA DC-009 (DCF): three digits 100 to 999 and five characters; four and 0001 to 9999.
    style = FILE_STYLES[name]
    path = card_path(style, number)
    found = re.fullmatch(r"DCIM/([1-9]\d\d)[0-9A-Z_]{5}/[0-9A-Z_]{4}(\d{4})\.(JPG|jpg)", path)
    assert found
    assert 1 <= int(found[2]) <= 9999
    assert card_number(style, path) == number
    assert card_path(style, number + 1) != path


def test_a_camera_runs_out_of_folders_in_the_end() -> None:
    assert card_path(FILE_STYLES["compact"], 90_000) == "DCIM/999_SCW3/SCW_0009.JPG"
    with pytest.raises(PlanError, match="no file number 90001"):
        card_path(FILE_STYLES["compact"], 90_001)
    with pytest.raises(PlanError, match="no file number 0"):
        card_path(FileStyle(), 0)


def test_a_clock_may_be_ahead_drift_and_jump() -> None:
    start = datetime(2031, 5, 17, 10, 20)
    clock = CameraClock(ahead_s=3600.0, gains_s_per_day=86.4, jumps=((600.0, -3600.0),))
    assert clock.shows(start, start) == datetime(2031, 5, 17, 11, 20)
    # 86.4 s a day are 0.1 % : 0.5 s in 500 s.
    at = start + timedelta(seconds=500)
    assert clock.shows(at, start) - at == timedelta(seconds=3600.5)
    at = start + timedelta(seconds=1000)
    assert clock.shows(at, start) - at == timedelta(seconds=1.0)
    assert CameraClock().shows(at, start) == at


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"folder_name": "salt"}, "No camera names a folder “salt”"),
        ({"file_prefix": "PIC"}, "files “PIC”"),
        ({"files_per_folder": 0}, "cannot hold 0 files"),
        ({"subsecond_digits": 6}, "states 6 digits"),
        ({"maker_note_bytes": 60_000}, "60000 bytes does not fit"),
    ],
)
def test_what_no_camera_does_is_refused(wrong: dict[str, Any], says: str) -> None:
    with pytest.raises(PlanError, match=says):
        FileStyle(**wrong)


def test_the_same_style_gives_the_same_bytes() -> None:
    style = FILE_STYLES["mirrorless"]
    first, second = (encode_as(style, picture(), SETTINGS, TAKEN) for _ in range(2))
    assert first == second


def read(card: Path) -> tuple[Any, ...]:
    steps = read_card(card)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return tuple(done.value)
