"""Upright pictures: our decoder against Pillow's ``exif_transpose``.

Files: the orientation set of the `exif-samples` collection (all eight values of the orientation
tag, TIFF 6.0 tag 274, on a landscape and a portrait). Reference: Pillow, an independent reader.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageOps

from belvedere.imagefiles import FolderSource

NAMES = [f"{shape}_{tag}.jpg" for shape in ("landscape", "portrait") for tag in range(1, 9)]


@pytest.mark.photos
@pytest.mark.parametrize("name", NAMES)
def test_every_orientation_is_upright(photos: Path, name: str) -> None:
    folder = photos / "exif-samples" / "jpg" / "orientation"
    with Image.open(folder / name) as opened:
        expected = np.asarray(ImageOps.exif_transpose(opened).convert("RGB"), dtype=np.int16)
    picture = FolderSource(folder).colour(name).astype(np.int16)
    assert picture.shape == expected.shape
    # Two JPEG decoders may round differently (chroma upsampling): a few grey levels.
    assert np.mean(np.abs(picture - expected)) < 1.0


@pytest.mark.photos
@pytest.mark.parametrize("shrink", [2, 4, 8])
def test_shrunk_pictures_are_the_mean_of_what_they_cover(photos: Path, shrink: int) -> None:
    """DCT-scaled decoding against a plain box mean of the full picture."""
    source = FolderSource(photos / "petra")
    full = source.grey("DFM_4209.jpg").astype(np.float64)
    small = source.grey("DFM_4209.jpg", shrink).astype(np.float64)
    height, width = (size // shrink for size in full.shape)
    assert small.shape == tuple(-(-size // shrink) for size in full.shape)
    box = full[: height * shrink, : width * shrink]
    box = box.reshape(height, shrink, width, shrink).mean(axis=(1, 3))
    # The DCT's low-pass is a little sharper than a box: 2 grey levels on average.
    assert np.mean(np.abs(small[:height, :width] - box)) < 2.0
