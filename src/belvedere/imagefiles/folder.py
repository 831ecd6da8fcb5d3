"""A folder of pictures as a `FrameSource`: upright, scaled decoding, nothing ever written."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path, PurePosixPath

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from belvedere.foundation import CardError

Pixels = NDArray[np.uint8]

#: Orientation tag (TIFF 6.0, tag 274) to what makes the picture upright: (flip, rotation).
_UPRIGHT: dict[int, tuple[bool, int | None]] = {
    2: (True, None),
    3: (False, cv2.ROTATE_180),
    4: (True, cv2.ROTATE_180),
    5: (True, cv2.ROTATE_90_COUNTERCLOCKWISE),
    6: (False, cv2.ROTATE_90_CLOCKWISE),
    7: (True, cv2.ROTATE_90_CLOCKWISE),
    8: (False, cv2.ROTATE_90_COUNTERCLOCKWISE),
}


_JPEG = frozenset({".jpg", ".jpeg", ".jpe"})


def without_companions(files: Sequence[str]) -> list[str]:
    """`files` less those that a camera wrote beside a JPEG of the same frame.

    Set to write two kinds of file, a camera gives both one name up to the suffix (JEITA CP-3461,
    the DCF object, from memory). The JPEG is the frame, its HEIC, TIFF or PNG the companion.
    """

    def stem(file: str) -> str:
        return str(PurePosixPath(file).with_suffix("")).casefold()

    def is_jpeg(file: str) -> bool:
        return PurePosixPath(file).suffix.lower() in _JPEG

    frames = {stem(file) for file in files if is_jpeg(file)}
    return [file for file in files if is_jpeg(file) or stem(file) not in frames]


class FolderSource:
    """Frames of one folder, by their path relative to it.

    `orientation` maps a file to its orientation tag; a file it does not name is asked itself.
    """

    def __init__(self, root: Path, orientation: dict[str, int] | None = None) -> None:
        self._root = root
        self._orientation = dict(orientation or {})

    def colour(self, file: str, shrink: int = 1) -> Pixels:
        """The picture as (height, width, 3) RGB."""
        return self._decode(file, shrink, "RGB")

    def grey(self, file: str, shrink: int = 1) -> Pixels:
        """The luma of the picture as (height, width)."""
        picture = self._decode(file, shrink, "GRAY")
        return picture[..., 0] if picture.ndim == 3 else picture

    def _decode(self, file: str, shrink: int, colourspace: str) -> Pixels:
        path = self._root / file
        try:
            content = path.read_bytes()
        except OSError as error:
            raise CardError(f"{file} cannot be read: {error.strerror}.") from error
        if content[:2] == b"\xff\xd8":
            picture = _decode_jpeg(content, shrink, colourspace, file)
            return upright(picture, self._tag(file, path))
        return _decode_other(path, shrink, colourspace, file)

    def _tag(self, file: str, path: Path) -> int:
        if file not in self._orientation:
            try:
                with Image.open(path) as picture:
                    self._orientation[file] = int(picture.getexif().get(274, 1))
            except (OSError, ValueError, TypeError, SyntaxError):
                self._orientation[file] = 1
        return self._orientation[file]


def _decode_jpeg(content: bytes, shrink: int, colourspace: str, file: str) -> Pixels:
    try:
        height, width, _, _ = simplejpeg.decode_jpeg_header(content, strict=False)
        picture: Pixels = simplejpeg.decode_jpeg(
            content,
            colorspace=colourspace,
            min_height=-(-height // shrink),
            min_width=-(-width // shrink),
            strict=False,
        )
    except ValueError as error:
        raise CardError(f"{file} is not a picture that can be decoded ({error}).") from error
    return picture


def _decode_other(path: Path, shrink: int, colourspace: str, file: str) -> Pixels:
    try:
        with Image.open(path) as opened:
            upright = ImageOps.exif_transpose(opened).convert(
                "L" if colourspace == "GRAY" else "RGB"
            )
            if shrink > 1:
                upright = upright.reduce(shrink)
            return np.asarray(upright, dtype=np.uint8)
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError) as error:
        raise CardError(f"{file} is not a picture that can be decoded.") from error


def upright(picture: Pixels, tag: int) -> Pixels:
    """`picture` turned as its orientation tag asks."""
    flip, rotation = _UPRIGHT.get(tag, (False, None))
    if flip:
        picture = cv2.flip(picture, 1).astype(np.uint8, copy=False)
    if rotation is not None:
        picture = cv2.rotate(picture, rotation).astype(np.uint8, copy=False)
    return picture
