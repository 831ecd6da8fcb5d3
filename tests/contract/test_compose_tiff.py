"""The mosaic's file, read by two other libraries: tifffile and libvips."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import pyvips
import tifffile

from belvedere.compose import Making, Window, compose, make_layout
from belvedere.foundation import StoreError, finish
from belvedere.imagefiles import DiskScratch, TiffSink
from compose_synthetic import MemoryScratch, MemorySink, grid_shoot

TILE_PX = 64


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory):
    """The same mosaic as a deflated file, as a JPEG one and in memory."""
    folder = tmp_path_factory.mktemp("tiff")
    orientation, source = grid_shoot([0.0, 10.0], [2.0])
    layout = make_layout(orientation)
    memory = MemorySink(TILE_PX)
    finish(compose(orientation, source, layout, memory, MemoryScratch()))
    for packing in ("jpeg", "deflate"):
        files = tuple(frame.file for frame in orientation.frames)
        title, making = "Saltmere, by day — “mole”", Making(block_px=2 * TILE_PX)
        with (
            DiskScratch(folder) as scratch,
            TiffSink(folder / f"{packing}.tif", title, files, packing, tile_px=TILE_PX) as sink,
        ):
            finish(compose(orientation, source, layout, sink, scratch, making))
            sink.finish()
    return folder, memory, layout


@pytest.mark.parametrize("packing", ["jpeg", "deflate"])
def test_tifffile_and_libvips_agree_on_every_level(written, packing: str) -> None:
    folder, memory, layout = written
    path = folder / f"{packing}.tif"
    with tifffile.TiffFile(path) as file:
        assert file.is_bigtiff
        assert file.pages[0].tile == (TILE_PX, TILE_PX)
        levels = file.series[0].levels
        assert [level.shape[1::-1] for level in levels] == [
            layout.size_at(k) for k in range(len(memory.levels))
        ]
        for k, level in enumerate(levels):
            by_tifffile = level.asarray()
            by_vips = pyvips.Image.tiffload(str(path), subifd=k - 1).numpy()
            np.testing.assert_array_equal(by_tifffile, by_vips)
            difference = np.abs(by_tifffile.astype(int) - memory.levels[k])
            if packing == "deflate":
                assert difference.max() == 0
            else:
                assert difference.mean() < 4.0


def test_the_last_level_fits_into_one_tile(written) -> None:
    _, memory, _ = written
    assert max(memory.levels[-1].shape) <= TILE_PX < max(memory.levels[-2].shape)


def test_it_says_what_its_pixels_mean(written) -> None:
    folder, _, layout = written
    with tifffile.TiffFile(folder / "jpeg.tif") as file:
        says = json.loads(file.pages[0].description)
    assert says["schema"] == "belvedere/mosaic/1"
    assert says["title"] == "Saltmere, by day — “mole”"
    assert says["projection"] == "equirectangular"
    assert says["scale_px_per_deg"] == layout.scale_px_per_deg
    assert (says["left_deg"], says["top_deg"]) == (layout.left_deg, layout.top_deg)
    assert (says["width_px"], says["height_px"]) == (layout.width_px, layout.height_px)
    assert says["frames"] == ["r0c0.jpg", "r0c1.jpg"]


def test_a_place_that_cannot_be_written_is_an_error_of_ours(tmp_path: Path) -> None:
    orientation, _ = grid_shoot([0.0], [0.0])
    sink = TiffSink(tmp_path / "nowhere" / "mosaic.tif")
    with pytest.raises(StoreError, match="cannot be written"):
        sink.begin(make_layout(orientation), 2)


def test_scratch_keeps_what_it_is_given_and_leaves_nothing_behind(tmp_path: Path) -> None:
    with DiskScratch(tmp_path) as scratch:
        scratch.create("level", (40, 30, 3), np.int16)
        block = np.arange(5 * 4 * 3, dtype=np.int16).reshape(5, 4, 3)
        scratch.write("level", (slice(10, 15), slice(20, 24)), block)
        whole = scratch.read("level", (slice(0, 40), slice(0, 30)))
        np.testing.assert_array_equal(whole[10:15, 20:24], block)
        assert np.count_nonzero(whole) == np.count_nonzero(block)
        # No name on the disk, so nothing stays even of a run that is killed.
        assert not list(tmp_path.iterdir())
        scratch.drop("level")
        with pytest.raises(KeyError):
            scratch.read("level", (slice(0, 1),))


def test_scratch_without_room_is_an_error_now_and_not_a_crash_later(tmp_path: Path) -> None:
    with DiskScratch(tmp_path) as scratch, pytest.raises(StoreError, match="no room"):
        scratch.create("level", (1 << 45,), np.uint8)


def test_blocks_at_the_edge_fill_their_tiles(tmp_path: Path) -> None:
    """A tile that is half outside goes on with its last pixels, so JPEG does not ring at the edge.

    common practice, no source
    """
    orientation, _ = grid_shoot([0.0], [0.0])
    layout = make_layout(orientation)
    with TiffSink(tmp_path / "m.tif", tile_px=256, quality=60) as sink:
        sink.begin(layout, 1)
        for top in range(0, layout.height_px, 256):
            for left in range(0, layout.width_px, 256):
                window = Window(left, top, left + 256, top + 256).within(
                    Window(0, 0, layout.width_px, layout.height_px)
                )
                sink.put(0, window, np.full((window.height, window.width, 3), 240, np.uint8))
        sink.finish()
    assert set(np.unique(tifffile.imread(tmp_path / "m.tif"))) == {240}
