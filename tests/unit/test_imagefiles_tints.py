"""Small pictures in colour from luma and thumbnail, against the same picture decoded whole."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from belvedere.imagefiles import tinted

ROOT = Path(__file__).resolve().parents[2]


def scene(width: int, height: int) -> Image.Image:
    """Large areas of colour and some detail."""
    picture = Image.open(ROOT / "docs" / "saltmere.jpg").convert("RGB")
    return ImageOps.fit(picture, (width, height))


def written(path: Path, picture: Image.Image, tag: int, with_thumbnail: bool = True) -> None:
    """A JPEG file as a camera writes it: stored as the sensor has it, 4:3 thumbnail with bars."""
    turns = {1: None, 3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90,
             8: Image.Transpose.ROTATE_270}  # fmt: skip
    turn = turns[tag]
    stored = picture if turn is None else picture.transpose(turn)
    exif = Image.Exif()
    exif[274] = tag
    small = io.BytesIO()
    ImageOps.pad(stored, (160, 120), color="black").save(small, "JPEG", quality=85)
    block = exif.tobytes() if not with_thumbnail else _with_thumbnail(tag, small.getvalue())
    stored.save(path, "JPEG", quality=92, exif=block)


def _with_thumbnail(tag: int, thumbnail: bytes) -> bytes:
    """An EXIF block by hand: TIFF 6.0 header, IFD0 with the orientation, IFD1 with the thumbnail
    (CIPA DC-008, 4.5.2 and table 5: tags 259, 513, 514)."""
    short, long_ = 3, 4

    def entry(number: int, kind: int, value: int) -> bytes:
        body = value.to_bytes(2, "big") + b"\0\0" if kind == short else value.to_bytes(4, "big")
        return number.to_bytes(2, "big") + kind.to_bytes(2, "big") + b"\0\0\0\1" + body

    first_at, second_at = 8, 8 + 2 + 12 + 4
    data_at = second_at + 2 + 3 * 12 + 4
    first = b"\0\1" + entry(274, short, tag) + second_at.to_bytes(4, "big")
    second = b"\0\3" + entry(259, short, 6) + entry(513, long_, data_at)
    second += entry(514, long_, len(thumbnail)) + b"\0\0\0\0"
    header = b"MM\0\x2a" + first_at.to_bytes(4, "big")
    return b"Exif\0\0" + header + first + second + thumbnail


@pytest.mark.parametrize("tag", [1, 3, 6, 8])
@pytest.mark.parametrize("shape", [(960, 720), (900, 600), (600, 900)])
def test_colours_are_those_of_the_whole_picture(
    tmp_path: Path, tag: int, shape: tuple[int, int]
) -> None:
    file = tmp_path / "PIC_0001.JPG"
    written(file, scene(*shape), tag)
    with Image.open(file) as opened:
        whole = np.asarray(ImageOps.exif_transpose(opened).convert("RGB"))
    size = (shape[0] // 4, shape[1] // 4)
    small = cv2.resize(whole, size, interpolation=cv2.INTER_AREA)
    luma = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY).astype(np.uint8)
    seen = tinted(file, luma)
    assert seen is not None
    assert seen.shape == (size[1], size[0], 3)
    off = np.abs(seen.astype(float) - small.astype(float))
    assert off.mean() < 8.0
    coarse = [cv2.blur(p.astype(np.float32), (25, 25)) for p in (seen, small)]
    assert np.abs(coarse[0] - coarse[1]).max() < 14.0
    back = cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY).astype(float)
    assert np.abs(back - luma).mean() < 1.5


def test_without_a_thumbnail_nothing_is_made_up(tmp_path: Path) -> None:
    luma = np.full((60, 80), 90, dtype=np.uint8)
    bare, text, nowhere = (tmp_path / name for name in ("BARE.JPG", "TEXT.JPG", "NOWHERE.JPG"))
    written(bare, scene(320, 240), 1, with_thumbnail=False)
    text.write_text("The ferry was late.", "utf-8")
    assert [tinted(file, luma) for file in (bare, text, nowhere)] == [None, None, None]


def test_a_spoilt_thumbnail_is_no_reason_to_stop(tmp_path: Path) -> None:
    file = tmp_path / "PIC_0001.JPG"
    written(file, scene(320, 240), 1)
    content = bytearray(file.read_bytes())
    start = content.index(b"\xff\xd8", 4)
    content[start + 30 : start + 400] = bytes(370)
    file.write_bytes(bytes(content))
    seen = tinted(file, np.full((60, 80), 90, dtype=np.uint8))
    assert seen is None or seen.shape == (60, 80, 3)
