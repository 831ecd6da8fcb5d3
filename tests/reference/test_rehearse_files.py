"""Rehearsed files as other readers see them, and the rehearsed colours as a standard sees them."""

from __future__ import annotations

import io
import warnings
from datetime import datetime

import cv2
import numpy as np
import pytest
import tifffile
from PIL import ExifTags, Image

from belvedere.imagefiles import encode_frame
from belvedere.rehearse import ColourJump, random_faults
from belvedere.shoot import Settings, make_plan, parse_shoot

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it warns that matplotlib is not there
    import colour

SETTINGS = Settings(1 / 400, 5.6, 100, 30.5, 141.9, "manual", False, "manual")
TAKEN = datetime(2031, 5, 17, 10, 20, 7, 890_000)


def picture() -> np.ndarray:
    rows, columns = np.mgrid[0:96, 0:128]
    channels = [rows * 2, columns, 255 - columns]
    return np.stack(channels, axis=-1).astype(np.uint8)


def encoded(**options: bool) -> bytes:
    return encode_frame(
        picture(), SETTINGS, TAKEN, maker="Belvedere", model="Rehearsal 1", **options
    )


def test_tifffile_reads_the_exif_we_write() -> None:
    # Oracle: tifffile's own TIFF and EXIF reader, on the block that follows "Exif\0\0"
    # (CIPA DC-008, figure 6: the APP1 segment directly after the start of the picture).
    content = encoded(subsecond=True)
    assert content[:4] == b"\xff\xd8\xff\xe1"
    assert content[6:12] == b"Exif\x00\x00"
    length = int.from_bytes(content[4:6], "big")
    with tifffile.TiffFile(io.BytesIO(content[12 : 4 + length])) as block:
        tags = {tag.name: tag.value for tag in block.pages[0].tags}
    exif = tags["ExifTag"]
    assert (tags["Make"], tags["Model"], tags["Orientation"]) == ("Belvedere", "Rehearsal 1", 1)
    assert exif["DateTimeOriginal"] == "2031:05:17 10:20:07"
    assert exif["SubsecTimeOriginal"] == "89"
    assert tuple(exif["ExposureTime"]) == (1, 400)
    assert tuple(exif["FNumber"]) == (28, 5)
    assert tuple(exif["FocalLength"]) == (61, 2)
    assert exif["ISOSpeedRatings"] == 100
    assert exif["FocalLengthIn35mmFilm"] == 142
    assert (exif["WhiteBalance"], exif["ExposureMode"], exif["Flash"]) == (1, 1, 16)
    assert (exif["PixelXDimension"], exif["PixelYDimension"]) == (128, 96)


def test_pillow_and_opencv_decode_the_picture() -> None:
    # Oracles: Pillow's and OpenCV's decoders. At quality 93 a smooth picture is a few codes off.
    content = encoded()
    with Image.open(io.BytesIO(content)) as opened:
        exif = opened.getexif().get_ifd(ExifTags.IFD.Exif)
        assert ExifTags.Base.SubsecTimeOriginal not in exif
        by_pillow = np.asarray(opened)
    by_opencv = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR_RGB)
    for seen in (by_pillow, by_opencv):
        assert np.abs(seen.astype(int) - picture()).mean() < 2.0


@pytest.mark.parametrize("gains", [ColourJump((1, 1)), "random"])
def test_a_colour_jump_is_clearly_visible(gains: ColourJump | str) -> None:
    # CIEDE2000 by colour-science, on a mid grey (18 %) in sRGB, D65: at least 6.
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]

    def lab(linear: np.ndarray) -> np.ndarray:
        return np.asarray(colour.XYZ_to_Lab(colour.RGB_to_XYZ(linear, "sRGB"), white))

    jumps = [gains] if isinstance(gains, ColourJump) else random_colour_jumps()
    assert jumps
    for jump in jumps:
        grey = np.full(3, 0.18)
        turned = grey * [jump.red, 1.0, jump.blue]
        assert colour.delta_E(lab(grey), lab(turned), method="CIE 2000") > 6.0


def random_colour_jumps() -> list[ColourJump]:
    plan = make_plan(
        parse_shoot(
            "[camera]\nsensor_width_mm=7.44\nimage_width_px=288\nimage_height_px=216\n"
            "[lens]\nfocal_length_mm=30.5\n[grid]\nleft_deg=-25\nright_deg=25\ntop_deg=16\n"
            "bottom_deg=-16\noverlap=0.3\n"
        )
    )
    faults = [
        fault
        for seed in range(100)
        for fault in random_faults(plan, np.random.default_rng(seed), 3)
    ]
    return [fault for fault in faults if isinstance(fault, ColourJump)]
