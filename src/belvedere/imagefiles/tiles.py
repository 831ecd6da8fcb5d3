"""From a picture of any size to the files of a level 0 image service."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import islice
from pathlib import Path

import numpy as np
import pyvips
import simplejpeg

from belvedere.foundation import Progress, PublishError, Steps
from belvedere.imagefiles.levels import make_levels
from belvedere.imagefiles.tile_reader import LevelFile, Pixels, TileReader
from belvedere.publish import MAX_PATH, TILE_PX, Level, Pyramid, Tile, size_path, tile_path, tiles

QUALITY = 85

#: Changes whenever the same picture would give other tiles.
TILE_RECIPE = f"tiles/1 q{QUALITY} {TILE_PX}px"

#: Tiles handed to the workers at a time: enough to keep them busy, few enough to report.
_BATCH = 64


def write_tiles(picture: Path, folder: Path, workers: int = 2) -> Steps[Pyramid]:
    """Write the tiles and whole pictures of an image service below `folder`.

    A tile that the picture holds as JPEG of the right size is taken over unchanged; all others
    are encoded anew. No metadata of the picture goes into the tiles, so no position either.

    Parameters
    ----------
    picture
        A pyramidal TIFF, or any picture that libvips opens.
    folder
        An existing folder, best an empty one; levels that have to be made lie in it meanwhile.
    workers
        Threads that read and encode.

    Yields
    ------
    Progress
        In levels, then in tiles.

    Raises
    ------
    PublishError
        Where the picture cannot be read to its end, or the folder cannot be written.
    """
    try:
        scratch = Path(tempfile.mkdtemp(prefix=".levels-", dir=folder))
        try:
            pyramid, files = yield from make_levels(picture, scratch)
            yield from _write_all(pyramid, files, folder, workers)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except pyvips.Error as error:
        raise PublishError(
            f"{picture} is damaged or cut short, or there is no room for its levels in {folder}.",
            "Look at the disk, or assemble the mosaic again.",
        ) from error
    except OSError as error:
        raise PublishError(
            f"The tiles cannot be written to {folder}: {error.strerror or error}.",
            "Choose another place or make room there.",
        ) from error
    return pyramid


def _write_all(
    pyramid: Pyramid, files: Sequence[LevelFile], folder: Path, workers: int
) -> Steps[None]:
    done = 0
    with ThreadPoolExecutor(workers) as pool:
        for level, file in zip(pyramid.levels, files, strict=True):
            with TileReader(file) as reader:
                for batch in _batches(tiles(pyramid, level), _BATCH):
                    shares = (batch[start::workers] for start in range(workers))
                    jobs = [pool.submit(_write_some, pyramid, s, reader, folder) for s in shares]
                    for job in jobs:
                        job.result()
                    done += len(batch)
                    yield Progress("tiles", done, pyramid.tile_count, "tiles")
                if level in pyramid.sizes:
                    _write_whole(pyramid, level, reader, folder)


def _write_some(pyramid: Pyramid, some: list[Tile], reader: TileReader, folder: Path) -> None:
    for tile in some:
        content = reader.jpeg(tile) or _encode(reader.pixels(tile))
        _write_file(folder / tile_path(pyramid, tile), content)


def _write_whole(pyramid: Pyramid, level: Level, reader: TileReader, folder: Path) -> None:
    whole = np.empty((level.height_px, level.width_px, 3), np.uint8)
    for tile in tiles(pyramid, level):
        rows = slice(tile.top_px, tile.top_px + tile.height_px)
        whole[rows, tile.left_px : tile.left_px + tile.width_px] = reader.pixels(tile)
    content = _encode(whole)
    _write_file(folder / size_path(level), content)
    if level == pyramid.largest:
        _write_file(folder / MAX_PATH, content)


def _encode(pixels: Pixels) -> bytes:
    encoded: bytes = simplejpeg.encode_jpeg(pixels, quality=QUALITY, colorsubsampling="420")
    return encoded


def _write_file(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)


def _batches(all_tiles: Iterable[Tile], size: int) -> Iterator[list[Tile]]:
    remaining = iter(all_tiles)
    while batch := list(islice(remaining, size)):
        yield batch
