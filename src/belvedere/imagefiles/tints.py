"""A small picture in colour without decoding the frame: its luma, and the thumbnail's colours.

Cameras put a thumbnail of some 160 × 120 pixels beside the EXIF (CIPA DC-008, section 4.5; from
memory), the eye wants little sharpness of colours, and the luma is there already: so a card of
large files can be looked at in colour in no time.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import ExifTags, Image

from belvedere.imagefiles.folder import upright
from belvedere.imagefiles.opening import UNREADABLE, opened

Pixels = NDArray[np.uint8]

#: EXIF stands in the first segments of a JPEG file, each of at most 64 kB.
_HEAD_BYTES = 200_000
_EXIF_MARK = b"Exif\x00\x00"
_OFFSET, _LENGTH = 513, 514
_ORIENTATION = 274


def tinted(path: Path, luma: Pixels) -> Pixels | None:
    """A file's small picture in colour, (height, width, 3) RGB.

    Parameters
    ----------
    path
        A JPEG file.
    luma
        (height, width) of the whole upright picture, made small.

    Returns
    -------
    Pixels | None
        None where the file has no thumbnail that can be decoded. One thread at a time, as
        everything that uses Pillow.
    """
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD_BYTES)
        if head[:2] != b"\xff\xd8":
            return None
        with opened(head) as image:
            found = _thumbnail(image)
            tag = image.getexif().get(_ORIENTATION, 1)
    except UNREADABLE:
        return None
    if found is None:
        return None
    height, width = luma.shape
    turned = upright(found, tag if isinstance(tag, int) else 1)
    colours = cv2.cvtColor(_without_bars(turned, width / height), cv2.COLOR_RGB2YCrCb)
    colours = cv2.resize(colours, (width, height), interpolation=cv2.INTER_LINEAR)
    colours[..., 0] = luma
    return np.asarray(cv2.cvtColor(colours, cv2.COLOR_YCrCb2RGB), dtype=np.uint8)


def _thumbnail(image: Image.Image) -> Pixels | None:
    """The thumbnail as it is stored, (height, width, 3) RGB."""
    place = image.getexif().get_ifd(ExifTags.IFD.IFD1)
    block = image.info.get("exif", b"")
    offset, length = place.get(_OFFSET), place.get(_LENGTH)
    if not isinstance(offset, int) or not isinstance(length, int) or length <= 0 or offset <= 0:
        return None
    first = len(_EXIF_MARK) + offset
    content = block[first : first + length]
    if content[:2] != b"\xff\xd8":
        return None
    decoded: Pixels = simplejpeg.decode_jpeg(content, colorspace="RGB", strict=False)
    return decoded


def _without_bars(picture: Pixels, shape: float) -> Pixels:
    """The middle part of the wanted shape: black bars fill up what is not 4:3."""
    height, width = picture.shape[:2]
    if width / height > shape:
        narrow = max(1, round(height * shape))
        left = (width - narrow) // 2
        return picture[:, left : left + narrow]
    low = max(1, round(width / shape))
    top = (height - low) // 2
    return picture[top : top + low]
