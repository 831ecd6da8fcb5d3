"""The tiles of one level of a TIFF, read one by one: as pixels, or as the JPEG they already are.

A tile inside a JPEG-compressed TIFF is an abbreviated JPEG stream whose tables stand in a tag of
their own (TIFF Technical Note 2, 1995). Put before the stream they make a complete JPEG file.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from types import TracebackType

import numpy as np
import simplejpeg
import tifffile
from numpy.typing import NDArray

from belvedere.foundation import PublishError
from belvedere.publish import TILE_PX, Tile

Pixels = NDArray[np.uint8]

_START, _END = b"\xff\xd8", b"\xff\xd9"

#: JFIF header (ITU-T T.871): says that the three components are Y, Cb, Cr.
_JFIF = b"\xff\xe0\x00\x10JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x00\x00"

#: Adobe's marker with transform 0 (ITU-T T.872): says that they are R, G, B.
_RGB = b"\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00\x00"

_JPEG, _PLAIN = tifffile.COMPRESSION.JPEG, tifffile.COMPRESSION.NONE
_DEFLATE = tifffile.COMPRESSION.ADOBE_DEFLATE
_YCBCR, _AS_RGB = tifffile.PHOTOMETRIC.YCBCR, tifffile.PHOTOMETRIC.RGB
_ORIENTATION, _PREDICTOR, _CHROMA, _COLOUR_PROFILE = 274, 317, 530, 34675


@dataclass(frozen=True, slots=True)
class LevelFile:
    """Where a level lies: a TIFF, and which of its first page's sub-images (-1: that page)."""

    path: Path
    subifd: int = -1


class TileReader:
    """Opens a level that `stored_levels` found; use it in a `with` block, from any thread."""

    def __init__(self, level: LevelFile) -> None:
        self._path = level.path
        self._file = tifffile.TiffFile(level.path)
        self._page = _pages(self._file)[level.subifd + 1]
        self._tables = self._page.jpegtables or b""
        self._thinned = (
            self._page.compression == _JPEG
            and self._page.photometric == _YCBCR
            and tuple(self._page.tags.valueof(_CHROMA, (2, 2))) == (2, 2)
        )
        self._lock = Lock()

    def __enter__(self) -> TileReader:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()

    def jpeg(self, tile: Tile) -> bytes | None:
        """The tile as a JPEG file that can be published as it is, if there is one.

        Not one that the picture's edge cuts, nor one whose colour is not yet thinned (4:2:0) as
        a tile's is: a working file of twice the size.
        """
        whole = (tile.width_px, tile.height_px) == (TILE_PX, TILE_PX)
        return self._complete(self._stream(tile)) if whole and self._thinned else None

    def pixels(self, tile: Tile) -> Pixels:
        """The tile as (height, width, 3) sRGB.

        Raises
        ------
        PublishError
            Where the file is damaged there.
        """
        stream = self._stream(tile)
        try:
            if self._page.compression == _JPEG:
                block: Pixels = simplejpeg.decode_jpeg(self._complete(stream), strict=True)
            else:
                plain = zlib.decompress(stream) if self._page.compression == _DEFLATE else stream
                block = np.frombuffer(plain, np.uint8).reshape(TILE_PX, TILE_PX, 3)
        except (ValueError, zlib.error) as error:
            raise self._damaged() from error
        return np.ascontiguousarray(block[: tile.height_px, : tile.width_px])

    def _stream(self, tile: Tile) -> bytes:
        across = -(-self._page.imagewidth // TILE_PX)
        index = tile.top_px // TILE_PX * across + tile.left_px // TILE_PX
        handle = self._file.filehandle
        with self._lock:
            handle.seek(self._page.dataoffsets[index])
            stream: bytes = handle.read(self._page.databytecounts[index])
        if len(stream) != self._page.databytecounts[index] or not stream:
            raise self._damaged()
        return stream

    def _complete(self, stream: bytes) -> bytes:
        if not stream.startswith(_START) or not stream.rstrip(b"\x00").endswith(_END):
            raise self._damaged()
        header = _JFIF if self._page.photometric == _YCBCR else _RGB
        if stream[2:4] in (_JFIF[:2], _RGB[:2]):
            header = b""
        tables = self._tables.removeprefix(_START).removesuffix(_END)
        return _START + header + tables + stream[2:]

    def _damaged(self) -> PublishError:
        return PublishError(f"{self._path} is damaged or cut short.", "Assemble it again.")


def stored_levels(path: Path) -> list[tuple[LevelFile, int, int]]:
    """The levels of a TIFF that `TileReader` reads as they are, with width and height in px.

    Empty where the file is no TIFF, or its first page is not in 512 px tiles of upright 8-bit
    sRGB, plain, deflated or JPEG.
    """
    found: list[tuple[LevelFile, int, int]] = []
    try:
        with tifffile.TiffFile(path) as file:
            for number, page in enumerate(_pages(file), -1):
                if not _fits(page):
                    break
                found.append((LevelFile(path, number), page.imagewidth, page.imagelength))
    except (tifffile.TiffFileError, OSError, ValueError, KeyError, IndexError, TypeError):
        return []
    return found


def description(path: Path) -> str:
    """The ImageDescription (tag 270) of a TIFF that `stored_levels` reads."""
    with tifffile.TiffFile(path) as file:
        return str(file.pages.first.description)


def _pages(file: tifffile.TiffFile) -> list[tifffile.TiffPage]:
    first = file.pages.first
    return [first, *(first.pages or ())]


def _fits(page: tifffile.TiffPage) -> bool:
    return bool(
        page.is_tiled
        and page.compression in (_JPEG, _PLAIN, _DEFLATE)
        and page.photometric in ((_YCBCR, _AS_RGB) if page.compression == _JPEG else (_AS_RGB,))
        and (page.tilewidth, page.tilelength) == (TILE_PX, TILE_PX)
        and (page.samplesperpixel, page.bitspersample, page.planarconfig) == (3, 8, 1)
        and page.tags.valueof(_ORIENTATION, 1) == 1
        and page.tags.valueof(_PREDICTOR, 1) == 1
        and _COLOUR_PROFILE not in page.tags
    )
