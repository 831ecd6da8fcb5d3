"""Focus distance and JPEG quality as files state them, against other writers."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from belvedere.imagefiles.exif import read_statement

_EXIF_BLOCK, _SUBJECT_DISTANCE = 0x8769, 0x9206


def stated_focus_m(numerator: int, denominator: int) -> float | None:
    """A JPEG with this SubjectDistance, written by Pillow and read back by us."""
    exif = Image.Exif()
    exif.get_ifd(_EXIF_BLOCK)[_SUBJECT_DISTANCE] = IFDRational(numerator, denominator)
    file = io.BytesIO()
    Image.new("RGB", (16, 16), (90, 120, 150)).save(file, "JPEG", exif=exif)
    with Image.open(file) as image:
        return read_statement(image).settings.focus_distance_m


def test_focus_distance_by_the_standard() -> None:
    """CIPA DC-008 (Exif 2.32), tag 37382: metres; FFFFFFFF.H is infinity, 0 unknown (memory)."""
    assert stated_focus_m(375, 100) == pytest.approx(3.75)
    assert stated_focus_m(0xFFFFFFFF, 1) == 1e6
    assert stated_focus_m(0, 1) is None
    assert stated_focus_m(0, 0) is None


@pytest.mark.photos
@pytest.mark.parametrize(
    ("file", "focus_m"),
    # Subject distance by Pillow alone, beside our reading of it.
    [("canon-ixus.jpg", 3.75), ("kodak-dc210.jpg", None)],
)
def test_focus_distance_of_real_cameras(photos: Path, file: str, focus_m: float | None) -> None:
    path = next((photos / "exif-samples").rglob(file))
    with Image.open(path) as image:
        said = read_statement(image).settings.focus_distance_m
    assert said == (focus_m if focus_m is None else pytest.approx(focus_m, abs=0.01))


@pytest.mark.parametrize("quality", [30, 50, 60, 75, 80, 88, 92, 95, 98])
def test_quality_is_what_the_file_was_written_with(quality: int) -> None:
    """The Independent JPEG Group's scale, by libjpeg-turbo through Pillow.

    Steps are whole numbers and never below 1, which costs up to two steps of quality.
    """
    file = io.BytesIO()
    Image.new("RGB", (16, 16), (90, 120, 150)).save(file, "JPEG", quality=quality)
    with Image.open(file) as image:
        assert read_statement(image).settings.jpeg_quality == pytest.approx(quality, abs=2)


def test_other_files_have_no_jpeg_quality() -> None:
    file = io.BytesIO()
    Image.new("RGB", (16, 16)).save(file, "PNG")
    with Image.open(file) as image:
        assert read_statement(image).settings.jpeg_quality is None
