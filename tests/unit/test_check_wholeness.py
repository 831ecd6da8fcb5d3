"""Whether a file is there to its end. The reference is Pillow, which refuses to load cut files."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from belvedere.imagefiles import ends_whole
from belvedere.imagefiles.opening import opened


def picture(side_px: int = 96) -> Image.Image:
    rng = np.random.default_rng(5)
    return Image.fromarray(rng.integers(0, 255, (side_px, side_px, 3), dtype=np.uint8))


def encoded(kind: str, **options: object) -> bytes:
    content = io.BytesIO()
    picture().save(content, kind, **options)  # type: ignore[arg-type]
    return content.getvalue()


def with_thumbnail() -> bytes:
    """A picture whose EXIF block holds a whole small JPEG, as cameras write it."""
    small = io.BytesIO()
    picture(16).save(small, "JPEG")
    exif = Image.Exif()
    exif[37500] = small.getvalue()
    return encoded("JPEG", exif=exif)


KINDS = {
    "plain.jpg": encoded("JPEG", quality=90),
    "progressive.jpg": encoded("JPEG", progressive=True),
    "restarts.jpg": encoded("JPEG", restart_marker_blocks=2),
    "thumbnail.jpg": with_thumbnail(),
    "picture.png": encoded("PNG"),
}


def loads(content: bytes) -> bool:
    try:
        with Image.open(io.BytesIO(content)) as image:
            image.load()
    except (OSError, SyntaxError, ValueError):
        return False
    return True


@pytest.mark.parametrize("name", KINDS)
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(share=st.floats(0.0, 1.0))
def test_a_cut_file_is_not_whole(name: str, share: float, tmp_path: Path) -> None:
    content = KINDS[name][: int(share * len(KINDS[name]))]
    path = tmp_path / name
    path.write_bytes(content)
    whole = ends_whole(path)
    assert bool(whole) <= loads(content)
    if len(content) < len(KINDS[name]):
        # Pillow forgives a JPEG without its last marker; the camera writes it all the same.
        assert not whole


@pytest.mark.parametrize("name", KINDS)
def test_what_follows_the_end_does_not_matter(name: str, tmp_path: Path) -> None:
    for after in (b"", b"\0" * 4096, encoded("JPEG")):
        (tmp_path / name).write_bytes(KINDS[name] + after)
        assert ends_whole(tmp_path / name) is True


def test_space_taken_before_it_is_filled_is_not_whole(tmp_path: Path) -> None:
    content = KINDS["plain.jpg"]
    for filled in (0, 300, len(content) // 2, len(content) - 1):
        path = tmp_path / "PIC_0401.JPG"
        path.write_bytes(content[:filled] + b"\0" * (len(content) - filled))
        assert not ends_whole(path)


def test_heif_boxes_fill_the_file(tmp_path: Path) -> None:
    path = tmp_path / "PIC_0401.heic"
    with opened(_saved(tmp_path / "known.jpg")):
        pass  # HEIC is known from here on
    picture().save(path)
    assert ends_whole(path) is True
    content = path.read_bytes()
    for share in (0.05, 0.5, 0.99):
        path.write_bytes(content[: int(share * len(content))])
        assert ends_whole(path) is False


def _saved(path: Path) -> Path:
    picture().save(path)
    return path


def test_where_the_format_does_not_tell(tmp_path: Path) -> None:
    path = tmp_path / "PIC_0401.tif"
    picture().save(path)
    assert ends_whole(path) is None
    assert ends_whole(tmp_path / "not there.jpg") is False
