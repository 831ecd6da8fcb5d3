"""Any picture as the levels of a pyramid that can be read tile by tile.

A pyramidal TIFF of our own making already is that. What another picture lacks is made on disk,
one level from the one before. At no time is a whole picture in memory.
"""

from __future__ import annotations

from pathlib import Path

import pyvips

from belvedere.foundation import Progress, PublishError, Steps
from belvedere.imagefiles.tile_reader import LevelFile, stored_levels
from belvedere.publish import TILE_PX, Level, Pyramid, make_pyramid

#: What libvips opens that is no photograph: tables, drawings, documents.
_FOREIGN = ("csv", "matrix", "svg", "pdf", "rawload", "analyze", "openslide")


def require_file(path: Path) -> None:
    """Refuse what is no file.

    Raises
    ------
    PublishError
        Where there is nothing at `path`, or a folder.
    """
    if not path.is_file():
        what = "is a folder" if path.is_dir() else "does not exist"
        raise PublishError(f"{path} {what}.", "Give the mosaic that `belvedere assemble` wrote.")


def open_picture(path: Path, *, sequential: bool = False) -> pyvips.Image:
    """Open a picture without reading its pixels; the largest level where it has several.

    Raises
    ------
    PublishError
        Where there is no picture that can be read at `path`.
    """
    require_file(path)
    try:
        access = "sequential" if sequential else "random"
        picture = pyvips.Image.new_from_file(str(path), fail_on="truncated", access=access)
    except pyvips.Error as error:
        raise PublishError(
            f"{path} is not a picture that can be read.", "Give a TIFF, JPEG or PNG."
        ) from error
    if any(word in picture.get("vips-loader") for word in _FOREIGN):
        raise PublishError(f"{path} is not a photograph.", "Give a TIFF, JPEG or PNG.")
    return picture


def make_levels(path: Path, scratch: Path) -> Steps[tuple[Pyramid, list[LevelFile]]]:
    """The pyramid of the picture at `path`, and a file to read each of its levels from.

    Levels of the file are used as long as their sizes fit; from the first that does not, each is
    the mean of 2 x 2 px of the one before, written below `scratch`.

    Raises
    ------
    PublishError
        Where the picture cannot be opened.
    pyvips.Error
        Where it is cut short.
    """
    require_file(path)
    stored = stored_levels(path)
    # Our own reader first: libvips takes no picture that is much smaller than its tiles.
    width, height = stored[0][1:] if stored else upright_size(open_picture(path))
    pyramid = make_pyramid(width, height)
    total = len(pyramid.levels)
    yield Progress("levels", 0, total, "levels")
    files = [stored.pop(0)[0] if stored else _write_base(path, scratch / "level-0.tif")]
    for number, level in enumerate(pyramid.levels[1:], 1):
        yield Progress("levels", number, total, "levels")
        if stored and stored[0][1:] == (level.width_px, level.height_px):
            files.append(stored.pop(0)[0])
        else:
            stored = []
            files.append(_halve(files[-1], level, scratch / f"level-{number}.tif"))
    yield Progress("levels", total, total, "levels")
    return pyramid, files


def upright_size(picture: pyvips.Image) -> tuple[int, int]:
    """Width and height of `picture` when it stands upright, in px."""
    lies = _orientation(picture) >= 5
    return (picture.height, picture.width) if lies else (picture.width, picture.height)


def _orientation(picture: pyvips.Image) -> int:
    return picture.get("orientation") if picture.get_typeof("orientation") else 1


def _write_base(path: Path, target: Path) -> LevelFile:
    picture = open_picture(path)
    if _orientation(picture) == 1:  # a turned picture cannot be read from top to bottom
        picture = open_picture(path, sequential=True)
    return _write_level(_as_srgb(picture), target)


def _as_srgb(picture: pyvips.Image) -> pyvips.Image:
    """`picture` upright, in 8-bit sRGB, on black where it is transparent."""
    upright = picture.autorot()
    if upright.get_typeof("icc-profile-data"):
        upright = upright.icc_transform("srgb", embedded=True, depth=8)
    if upright.hasalpha():
        upright = upright.flatten()
    return upright.colourspace("srgb").cast("uchar")


def _halve(above: LevelFile, level: Level, target: Path) -> LevelFile:
    options = {} if above.subifd < 0 else {"subifd": above.subifd}
    picture = pyvips.Image.new_from_file(
        str(above.path), fail_on="truncated", access="sequential", **options
    )
    smaller = picture.shrink(2, 2, ceil=True)
    if (smaller.width, smaller.height) != (level.width_px, level.height_px):
        raise PublishError(
            f"{above.path} gives a level of {smaller.width} x {smaller.height} px where "
            f"{level.width_px} x {level.height_px} px are due."
        )
    return _write_level(smaller, target)


def _write_level(picture: pyvips.Image, target: Path) -> LevelFile:
    picture.tiffsave(
        str(target), tile=True, tile_width=TILE_PX, tile_height=TILE_PX, bigtiff=True, keep="none"
    )
    return LevelFile(target)
