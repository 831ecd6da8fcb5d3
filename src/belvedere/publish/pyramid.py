"""The published pyramid: its levels, sizes and tiles, and where each lies on disk.

The names are the canonical URIs of the IIIF Image API 3.0 (section 4.7), read as file names, so
that a folder of files is a level 0 image service: ``{region}/{size}/0/default.jpg``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

#: Side of a tile.
TILE_PX = 512

#: No whole picture longer or higher than this is written: ``full/max`` stays a small file.
MAX_SIDE_PX = 2048


@dataclass(frozen=True, slots=True)
class Level:
    """The picture made `scale_factor` times smaller, sides rounded up."""

    scale_factor: int
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class Tile:
    """One tile of a level.

    `left_px`, `top_px`, `width_px` and `height_px` are pixels of the level; `region` is the same
    rectangle in pixels of the whole picture: left, top, width, height.
    """

    left_px: int
    top_px: int
    width_px: int
    height_px: int
    region: tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Pyramid:
    """A picture and its levels, the whole picture first, each half the one before."""

    width_px: int
    height_px: int
    levels: tuple[Level, ...]

    @property
    def sizes(self) -> tuple[Level, ...]:
        """The levels that are also written as whole pictures, the smallest first."""
        return tuple(
            level
            for level in reversed(self.levels)
            if max(level.width_px, level.height_px) <= MAX_SIDE_PX
        )

    @property
    def largest(self) -> Level:
        """The level that ``full/max`` answers with."""
        return self.sizes[-1]

    @property
    def tile_count(self) -> int:
        """Number of tiles of all levels."""
        return sum(
            -(-level.width_px // TILE_PX) * -(-level.height_px // TILE_PX) for level in self.levels
        )


def make_pyramid(width_px: int, height_px: int) -> Pyramid:
    """Halve a picture, rounding up, until it fits into one tile.

    Parameters
    ----------
    width_px, height_px
        Size of the whole picture, at least 1.

    Returns
    -------
    Pyramid
        Level `k` has scale factor ``2**k`` and sides ``ceil(side / 2**k)``, the sizes that a
        client computes from the scale factors (Image API 3.0, implementation notes, "Tile region
        parameter calculation").

    Raises
    ------
    ValueError
        Where a side is less than 1.
    """
    if width_px < 1 or height_px < 1:
        raise ValueError(f"a picture of {width_px} x {height_px} px has no pyramid")
    levels = [Level(1, width_px, height_px)]
    while max(levels[-1].width_px, levels[-1].height_px) > TILE_PX:
        factor = levels[-1].scale_factor * 2
        levels.append(Level(factor, -(-width_px // factor), -(-height_px // factor)))
    return Pyramid(width_px, height_px, tuple(levels))


def tiles(pyramid: Pyramid, level: Level) -> Iterator[Tile]:
    """The tiles of `level`, row by row."""
    step = TILE_PX * level.scale_factor
    for top in range(0, level.height_px, TILE_PX):
        for left in range(0, level.width_px, TILE_PX):
            x, y = left * level.scale_factor, top * level.scale_factor
            yield Tile(
                left,
                top,
                min(TILE_PX, level.width_px - left),
                min(TILE_PX, level.height_px - top),
                (x, y, min(step, pyramid.width_px - x), min(step, pyramid.height_px - y)),
            )


def tile_path(pyramid: Pyramid, tile: Tile) -> str:
    """Where a tile lies below the image service, with ``/`` between the parts."""
    whole = (0, 0, pyramid.width_px, pyramid.height_px)
    region = "full" if tile.region == whole else ",".join(map(str, tile.region))
    size = f"{tile.width_px},{tile.height_px}"
    if tile.region == whole and (tile.width_px, tile.height_px) == whole[2:]:
        size = "max"
    return f"{region}/{size}/0/default.jpg"


def size_path(level: Level) -> str:
    """Where the whole picture in the size of `level` lies below the image service."""
    return f"full/{level.width_px},{level.height_px}/0/default.jpg"


#: Where the largest whole picture lies below the image service.
MAX_PATH = "full/max/0/default.jpg"
