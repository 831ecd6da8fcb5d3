"""The mosaic as one file: a tiled, pyramidal BigTIFF.

TIFF 6.0 with 64-bit offsets; the full picture is the first directory, its smaller levels are
SubIFDs of it (TIFF Technical Note 1), each half the size of the one before, rounded up. Tiles of
512 px, each a JPEG of its own (TIFF Technical Note 2) or deflated. What the pixels mean on the
sphere stands in ImageDescription as JSON: see `describe`.
"""

from __future__ import annotations

import json
import threading
import zlib
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, BinaryIO, Literal

import numpy as np
import simplejpeg
import tifffile
from numpy.typing import NDArray

from belvedere.compose import UNCOVERED_RGB, Layout, Window
from belvedere.foundation import StoreError

Pixels = NDArray[np.uint8]
Packing = Literal["jpeg", "deflate"]

SCHEMA = "belvedere/mosaic/1"


class TiffSink:
    """A `BlockSink` that writes a BigTIFF to `path`, which should be a temporary name.

    Tiles wait, packed, in a spool file beside it until `finish` puts them in order. 4:4:4 JPEG:
    the mosaic is cut and packed again on its way to the page, and colour should be thinned once.
    """

    def __init__(
        self,
        path: Path,
        title: str = "",
        frames: tuple[str, ...] = (),
        packing: Packing = "jpeg",
        quality: int = 92,
        tile_px: int = 512,
    ) -> None:
        self._path = path
        self._title = title
        self._frames = frames
        self._packing = packing
        self._quality = quality
        self._tile_px = tile_px
        self._layout: Layout | None = None
        self._tiles: list[dict[tuple[int, int], tuple[int, int]]] = []
        self._lock = threading.Lock()
        self._open = ExitStack()
        self._spool: BinaryIO | None = None

    def __enter__(self) -> TiffSink:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    @property
    def tile_px(self) -> int:
        """Width and height of the tiles."""
        return self._tile_px

    def begin(self, layout: Layout, levels: int) -> None:
        """Before the first block."""
        self._layout = layout
        self._tiles = [{} for _ in range(levels)]
        try:
            spool = TemporaryFile(dir=self._path.parent, prefix=".belvedere-tiles-")  # noqa: SIM115
            self._spool = self._open.enter_context(spool)
        except OSError as error:
            raise _unwritable(self._path, error) from error

    def put(self, level: int, window: Window, rgb: Pixels) -> None:
        """Cut a block into tiles, pack them, and spool them."""
        side = self._tile_px
        for top in range(0, window.height, side):
            for left in range(0, window.width, side):
                tile = _whole_tile(rgb[top : top + side, left : left + side], side)
                packed = self._packed(tile)
                place = ((window.top + top) // side, (window.left + left) // side)
                self._spooled(level, place, packed)

    def finish(self) -> None:
        """Write the file: every level's tiles in their order."""
        if self._layout is None:
            raise StoreError("There is no mosaic to write.")
        description = json.dumps(describe(self._layout, self._title, self._frames))
        try:
            with tifffile.TiffWriter(self._path, bigtiff=True) as writer:
                for level in range(len(self._tiles)):
                    self._write_level(writer, level, description)
        except OSError as error:
            raise _unwritable(self._path, error) from error

    def _write_level(self, writer: tifffile.TiffWriter, level: int, description: str) -> None:
        assert self._layout is not None
        width, height = self._layout.size_at(level)
        jpeg = self._packing == "jpeg"
        options: dict[str, Any] = {
            "shape": (height, width, 3),
            "dtype": np.uint8,
            "tile": (self._tile_px, self._tile_px),
            "photometric": "ycbcr" if jpeg else "rgb",
            "compression": "jpeg" if jpeg else "adobe_deflate",
            "metadata": None,
        }
        if jpeg:
            options["subsampling"] = (1, 1)
        if level == 0:
            options |= {
                "subifds": len(self._tiles) - 1,
                "description": description,
                "software": "Belvedere",
            }
        else:
            options["subfiletype"] = 1
        writer.write(self._in_order(level), **options)

    def _in_order(self, level: int) -> Iterator[bytes]:
        assert self._layout is not None
        assert self._spool is not None
        width, height = self._layout.size_at(level)
        for row in range(-(-height // self._tile_px)):
            for column in range(-(-width // self._tile_px)):
                start, length = self._tiles[level][row, column]
                self._spool.seek(start)
                yield self._spool.read(length)

    def _packed(self, tile: Pixels) -> bytes:
        if self._packing == "deflate":
            return zlib.compress(tile.tobytes(), 6)
        packed: bytes = simplejpeg.encode_jpeg(
            tile, quality=self._quality, colorspace="RGB", colorsubsampling="444", fastdct=False
        )
        return packed

    def _spooled(self, level: int, place: tuple[int, int], packed: bytes) -> None:
        assert self._spool is not None
        try:
            with self._lock:
                start = self._spool.seek(0, 2)
                self._spool.write(packed)
                self._tiles[level][place] = (start, len(packed))
        except OSError as error:
            raise _unwritable(self._path, error) from error


def describe(layout: Layout, title: str, frames: tuple[str, ...]) -> dict[str, Any]:
    """What ImageDescription says, as JSON in ASCII.

    `projection`, `scale_px_per_deg`, `left_deg`, `top_deg` and `full_turn` are those of `Layout`;
    `uncovered_rgb` is the colour of pixels that no frame covers; `frames` are the files used.
    """
    return {
        "schema": SCHEMA,
        "title": title,
        "projection": layout.projection,
        "scale_px_per_deg": layout.scale_px_per_deg,
        "left_deg": layout.left_deg,
        "top_deg": layout.top_deg,
        "width_px": layout.width_px,
        "height_px": layout.height_px,
        "full_turn": layout.full_turn,
        "uncovered_rgb": list(UNCOVERED_RGB),
        "frames": list(frames),
    }


def _whole_tile(rgb: Pixels, side: int) -> Pixels:
    """A tile at the right or bottom edge, filled up by going on with its last pixels."""
    below, right = side - rgb.shape[0], side - rgb.shape[1]
    return np.ascontiguousarray(np.pad(rgb, ((0, below), (0, right), (0, 0)), mode="edge"))


def _unwritable(path: Path, error: OSError) -> StoreError:
    return StoreError(
        f"{path} cannot be written: {error.strerror or error}.",
        "Make room on that disk, or choose another place.",
    )
