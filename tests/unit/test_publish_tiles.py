"""From picture files of all kinds to tiles, read back by other libraries."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import pyvips
import tifffile
from PIL import Image, ImageCms, ImageOps

from belvedere.compose import Layout, Window
from belvedere.foundation import PublishError, finish
from belvedere.imagefiles import TiffSink, read_mosaic, write_tiles
from belvedere.publish import Pyramid
from publish_sites import mosaic_description, save_tiff, scenery


def publish_tiles(picture: Path) -> tuple[Pyramid, Path]:
    folder = picture.parent / "image"
    folder.mkdir()
    return finish(write_tiles(picture, folder)), folder


def read(path: Path) -> np.ndarray:
    with Image.open(path) as tile:
        assert tile.mode == "RGB"
        return np.asarray(tile, float)


def test_a_ready_tile_is_taken_over_unchanged(tmp_path: Path) -> None:
    """What tifffile reads from the mosaic's tile and Pillow from ours is the same, to the bit."""
    mosaic = save_tiff(tmp_path / "m.tif", scenery(2048, 1024))
    _, folder = publish_tiles(mosaic)
    inside = tifffile.imread(mosaic, level=0)[512:1024, 1024:1536]
    ours = read(folder / "1024,512,512,512/512,512/0/default.jpg")
    # Two JPEG decoders may round differently (ITU-T T.81 leaves the inverse DCT open): one level.
    assert np.abs(ours - inside).max() <= 2
    assert np.abs(ours - inside).mean() < 0.05


@pytest.mark.parametrize("packing", ["jpeg", "deflate"])
def test_a_mosaic_of_our_own_writer(tmp_path: Path, packing: str) -> None:
    pixels = scenery(1801, 703)
    layout = Layout("cylindrical", 30.0, -30.0, 11.0, 1801, 703)
    with TiffSink(tmp_path / "m.tif", "Saltmere", (), packing) as sink:  # type: ignore[arg-type]
        sink.begin(layout, 3)
        level = Image.fromarray(pixels)
        for number in range(3):
            sink.put(number, Window(0, 0, *level.size), np.asarray(level))
            level = level.reduce(2)
        sink.finish()
    mosaic = read_mosaic(tmp_path / "m.tif")
    assert mosaic.title == "Saltmere"
    assert mosaic.layout == layout
    _, folder = publish_tiles(tmp_path / "m.tif")
    edge = read(folder / "1536,512,265,191/265,191/0/default.jpg")
    assert np.abs(edge - pixels[512:, 1536:]).mean() < 1.5
    whole = read(folder / "full/max/0/default.jpg")
    assert np.abs(whole - pixels).mean() < 1.5


def save(kind: str, path: Path, pixels: np.ndarray) -> Path:
    picture = Image.fromarray(pixels)
    if kind == "turned jpeg":
        exif = Image.Exif()
        exif[274] = 6
        picture.save(path.with_suffix(".jpg"), quality=95, exif=exif)
    elif kind == "turned tiff":
        picture.save(path.with_suffix(".tif"), tiffinfo={274: 8})
    elif kind == "grey png":
        picture.convert("L").save(path.with_suffix(".png"))
    elif kind == "palette png":
        picture.quantize(256, dither=Image.Dither.NONE).save(path.with_suffix(".png"))
    elif kind == "transparent png":
        picture.putalpha(255)
        picture.save(path.with_suffix(".png"))
    elif kind == "progressive jpeg":
        picture.save(path.with_suffix(".jpg"), quality=95, progressive=True)
    elif kind == "plain tiff":
        picture.save(path.with_suffix(".tif"))
    elif kind == "16-bit tiff":
        tifffile.imwrite(
            path.with_suffix(".tif"), pixels.astype(np.uint16) * 257, photometric="rgb"
        )
    elif kind == "webp":
        picture.save(path.with_suffix(".webp"), quality=95)
    return next(path.parent.glob(f"{path.name}.*"))


KINDS = ["turned jpeg", "turned tiff", "grey png", "palette png", "transparent png"]
KINDS += ["progressive jpeg", "plain tiff", "16-bit tiff", "webp"]


@pytest.mark.parametrize("kind", KINDS)
def test_all_kinds_of_pictures(tmp_path: Path, kind: str) -> None:
    """Against Pillow's reading of the same file, upright and in sRGB."""
    pixels = scenery(700, 400)
    picture = save(kind, tmp_path / "p", pixels)
    if kind == "16-bit tiff":
        expected = pixels.astype(float)
    else:
        with Image.open(picture) as opened:
            expected = np.asarray(ImageOps.exif_transpose(opened).convert("RGB"), float)
    pyramid, folder = publish_tiles(picture)
    assert (pyramid.height_px, pyramid.width_px) == expected.shape[:2]
    assert read_mosaic(picture).width_px == pyramid.width_px
    # JPEG of quality 85 and thinned colour; the bands of a palette are its hardest case.
    assert np.abs(read(folder / "full/max/0/default.jpg") - expected).mean() < 3.0
    assert not list(folder.glob(".*")), "levels were left behind"


def test_a_colour_profile_is_applied(tmp_path: Path) -> None:
    """Against LittleCMS through Pillow, on a picture in a wider colour space (P3)."""
    picture = pyvips.Image.new_from_array(scenery(300, 200)).copy(interpretation="srgb")
    wide = picture.icc_transform("p3", input_profile="srgb")
    wide.pngsave(str(tmp_path / "wide.png"))
    with Image.open(tmp_path / "wide.png") as opened:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(opened.info["icc_profile"]))
        srgb = ImageCms.createProfile("sRGB")
        expected = np.asarray(ImageCms.profileToProfile(opened, profile, srgb), float)
        raw = np.asarray(opened, float)
    _, folder = publish_tiles(tmp_path / "wide.png")
    ours = read(folder / "full/max/0/default.jpg")
    assert np.abs(ours - expected).mean() < 2.0
    assert np.abs(raw - expected).mean() > 4.0


def test_no_position_and_no_camera_goes_into_the_tiles(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[271] = "Box camera"
    exif.get_ifd(34853)[2] = (50.0, 1.0, 2.0)
    Image.fromarray(scenery(600, 600)).save(tmp_path / "p.jpg", exif=exif)
    _, folder = publish_tiles(tmp_path / "p.jpg")
    for path in folder.rglob("*.jpg"):
        with Image.open(path) as tile:
            assert dict(tile.getexif()) == {}
        assert b"Box camera" not in path.read_bytes()


def test_a_mosaics_words(tmp_path: Path) -> None:
    words = mosaic_description(1000, full_turn=True)
    found = read_mosaic(save_tiff(tmp_path / "m.tif", scenery(1000, 300), words))
    assert found.title == "Saltmere harbour from the mole"
    assert found.layout == Layout("equirectangular", 12.5, -40.0, 9.0, 1000, 300, True)


@pytest.mark.parametrize("words", [None, {"schema": "somebody/else/1"}, {"ImageJ": 1}])
def test_a_picture_without_our_words_is_as_good(tmp_path: Path, words: dict[str, str]) -> None:
    found = read_mosaic(save_tiff(tmp_path / "m.tif", scenery(700, 300), words))
    assert (found.width_px, found.height_px, found.title, found.layout) == (700, 300, "", None)


@pytest.mark.parametrize(
    "more", [{"projection": "flat"}, {"scale_px_per_deg": 0}, {"left_deg": None}, {"top_deg": 91}]
)
def test_damaged_words_are_refused(tmp_path: Path, more: dict[str, object]) -> None:
    words = mosaic_description(700, **more)
    mosaic = save_tiff(tmp_path / "m.tif", scenery(700, 300), words)
    with pytest.raises(PublishError, match=next(iter(more))):
        read_mosaic(mosaic)


@pytest.mark.parametrize(
    ("kind", "keep"),
    [("tiff", 0.1), ("tiff", 0.5), ("jpeg", 0.1), ("jpeg", 0.9), ("png", 0.1), ("png", 0.9)],
)
def test_a_picture_cut_short_is_refused(tmp_path: Path, kind: str, keep: float) -> None:
    pixels = scenery(1500, 900)
    if kind == "tiff":
        whole = save_tiff(tmp_path / "whole", pixels).read_bytes()
    else:
        made = io.BytesIO()
        Image.fromarray(pixels).save(made, kind)
        whole = made.getvalue()
    picture = tmp_path / "cut"
    picture.write_bytes(whole[: int(len(whole) * keep)])
    with pytest.raises(PublishError) as refused:
        publish_tiles(picture)
    assert "cut" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_lost_levels_are_made_again(tmp_path: Path) -> None:
    """libvips writes the smaller levels last; without them the picture is still whole."""
    pixels = scenery(1500, 900)
    whole = save_tiff(tmp_path / "whole", pixels).read_bytes()
    picture = tmp_path / "cut.tif"
    picture.write_bytes(whole[: int(len(whole) * 0.9)])
    with pytest.raises(pyvips.Error):
        pyvips.Image.new_from_file(str(picture), subifd=1).avg()
    _, folder = publish_tiles(picture)
    small = np.asarray(Image.fromarray(pixels).reduce(4), float)
    assert np.abs(read(folder / "full/375,225/0/default.jpg") - small).mean() < 2.0


def test_damage_inside_is_noticed(tmp_path: Path) -> None:
    mosaic = save_tiff(tmp_path / "m.tif", scenery(1300, 900))
    with tifffile.TiffFile(mosaic) as file:
        start = file.pages.first.dataoffsets[0]
    content = bytearray(mosaic.read_bytes())
    content[start : start + 2] = b"\0\0"
    mosaic.write_bytes(content)
    with pytest.raises(PublishError, match="damaged"):
        publish_tiles(mosaic)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("notes.tif", b"Saltmere, low water at nine.\n"),
        ("empty.jpg", b""),
        ("drawing.svg", b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'),
        ("table.csv", b"1,2\n3,4\n"),
    ],
)
def test_what_is_no_picture_is_refused(tmp_path: Path, name: str, content: bytes) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(PublishError) as refused:
        read_mosaic(tmp_path / name)
    assert name in str(refused.value)


MEASURE = """
import resource, sys
from pathlib import Path
from belvedere.foundation import finish
from belvedere.imagefiles import write_tiles
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
finish(write_tiles(Path(sys.argv[1]), Path(sys.argv[2])))
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


@pytest.mark.parametrize("pyramid", [True, False])
def test_a_large_picture_is_never_in_memory(tmp_path: Path, pyramid: bool) -> None:
    """192 MP, 576 MB of pixels, with less than 250 MB of memory."""
    black = pyvips.Image.black(16000, 12000, bands=3).copy(interpretation="srgb")
    options = {"tile": True, "tile_width": 512, "tile_height": 512, "bigtiff": True}
    options |= {"compression": "jpeg", "pyramid": pyramid, "subifd": pyramid}
    black.tiffsave(str(tmp_path / "m.tif"), **options)
    (tmp_path / "image").mkdir()
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, tmp_path / "m.tif", tmp_path / "image"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(done.stdout) < 250
