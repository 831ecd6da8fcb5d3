"""Our tiles against those of libvips 8.18 (`dzsave` with layout iiif3), an independent writer.

libvips writes neither ``full/max`` nor the list of sizes that level 0 asks for; those are ours.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import pyvips
from PIL import Image

from belvedere.foundation import finish
from belvedere.imagefiles import write_tiles
from belvedere.publish import make_pyramid, tile_path, tiles
from publish_sites import save_tiff, scenery

SIZES = [
    (1000, 700),
    (512, 512),
    (513, 511),
    (1025, 1024),
    (1537, 300),
    (700, 2050),
    (2600, 1900),
    (3000, 40),
    (90, 60),
]


def libvips_tiles(pixels: np.ndarray, folder: Path) -> dict[str, tuple[int, int]]:
    picture = pyvips.Image.new_from_array(pixels).copy(interpretation="srgb")
    picture.dzsave(
        str(folder), layout="iiif3", tile_size=512, overlap=0, suffix=".jpg[Q=85]", depth="onetile"
    )
    return sizes_below(folder)


def sizes_below(folder: Path) -> dict[str, tuple[int, int]]:
    found = {}
    for path in folder.rglob("default.jpg"):
        with Image.open(path) as tile:
            found[path.relative_to(folder).as_posix()] = tile.size
    return found


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_same_regions_and_sizes(tmp_path: Path, width: int, height: int) -> None:
    pixels = scenery(width, height)
    theirs = libvips_tiles(pixels, tmp_path / "theirs")
    (tmp_path / "ours").mkdir()
    finish(write_tiles(save_tiff(tmp_path / "picture.tif", pixels), tmp_path / "ours"))
    pyramid = make_pyramid(width, height)
    of_tiles = {tile_path(pyramid, t) for level in pyramid.levels for t in tiles(pyramid, level)}
    ours = sizes_below(tmp_path / "ours")
    assert of_tiles <= set(ours)
    if max(width, height) <= 512:  # we write the one tile by its canonical name, max
        theirs["full/max/0/default.jpg"] = theirs.pop(f"full/{width},{height}/0/default.jpg")
    assert {name: ours[name] for name in of_tiles} == theirs


# From libvips 8.18.7, dzsave layout=iiif3 tile_size=256 on 1000 x 700 px: the edge tiles of a
# picture twice that size have the same names, doubled, with tiles of 512 px.
def test_edge_tiles_of_a_published_run() -> None:
    pyramid = make_pyramid(2000, 1400)
    names = {tile_path(pyramid, t) for level in pyramid.levels for t in tiles(pyramid, level)}
    assert [level.scale_factor for level in pyramid.levels] == [1, 2, 4]
    assert "1536,1024,464,376/464,376/0/default.jpg" in names
    assert "1024,1024,976,376/488,188/0/default.jpg" in names
    assert "0,1024,1024,376/512,188/0/default.jpg" in names
    assert "full/500,350/0/default.jpg" in names


@pytest.mark.parametrize("suffix", ["tif", "png"])
def test_same_pictures(tmp_path: Path, suffix: str) -> None:
    """Both halve by the mean of 2 x 2 px; two JPEG encoders may differ by a level or two."""
    pixels = scenery(1801, 1203)
    theirs = libvips_tiles(pixels, tmp_path / "theirs")
    picture = tmp_path / f"picture.{suffix}"
    if suffix == "tif":
        save_tiff(picture, pixels)
    else:
        Image.fromarray(pixels).save(picture)
    (tmp_path / "ours").mkdir()
    finish(write_tiles(picture, tmp_path / "ours"))
    for name in theirs:
        with (
            Image.open(tmp_path / "ours" / name) as mine,
            Image.open(tmp_path / "theirs" / name) as yours,
        ):
            difference = np.abs(np.asarray(mine, float) - np.asarray(yours, float))
        assert difference.mean() < 1.5, name
        assert np.percentile(difference, 99) < 8, name
