"""One decoding of a JPEG file for everything that is asked of it: luma at full size, and colours.

Entropy decoding is most of the work, so it is done once. Where the file has a thumbnail that shows
the same, the eye's own division of labour serves: luma is decoded, and the tints are the
thumbnail's. Else red, green and blue are decoded with the plainest enlargement of the chroma,
which costs a quarter more; luma computed from them is the file's own, bit for bit, where no channel
is clipped.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray

from belvedere.imagefiles.folder import upright
from belvedere.imagefiles.tints import agrees, coloured, decoded
from belvedere.shoot import Frame

Grey = NDArray[np.uint8]
Pixels = NDArray[np.uint8]

#: Lines of this distance are enough for colours, by the fraction they are wanted at.
_SKIP = {8: 2}


class Looker(Protocol):
    """Who looks at frames while the card is read, so that no file is decoded twice."""

    def colour_shrink(self, width_px: int, height_px: int) -> int:
        """At which fraction of a frame, 1 / 1, 2, 4 or 8, its colours are wanted."""
        ...

    def look(self, picture: OnePass) -> object:
        """What is to be kept of an undamaged frame, upright; called in a worker thread."""
        ...

    def arrived(self, frame: Frame, look: object) -> Callable[[], None] | None:
        """A frame was read, the next by its file's name; work for a worker thread, if any.

        `look` is None where the frame was known, is damaged or is no JPEG file.
        """
        ...


@dataclass(frozen=True, slots=True)
class OnePass:
    """An undamaged frame: its luma, the same at half its size, and its colours at 1/`shrink`.

    `tinted` says that the colours are a thumbnail's: its tints differ a little from the frame's.
    """

    luma: Grey
    half: Grey
    colour: Pixels
    shrink: int
    tinted: bool = False

    def upright(self, orientation: int) -> OnePass:
        """The same, turned as the orientation tag asks."""
        return OnePass(
            np.ascontiguousarray(upright(self.luma, orientation)),
            np.ascontiguousarray(upright(self.half, orientation)),
            np.ascontiguousarray(upright(self.colour, orientation)),
            self.shrink,
            self.tinted,
        )


_kept = threading.local()


def decode_once(
    content: bytes, shrink_of: Callable[[int, int], int], thumbnail: bytes = b""
) -> OnePass | None:
    """Decode a JPEG file; None where it is damaged, or of a kind that has no red, green and blue.

    `shrink_of` says for a width and a height at which fraction colours are wanted. `thumbnail` is
    the file's own, if any: it gives the tints, at half that fraction, unless it shows something
    else.
    """
    try:
        height, width, space, _ = simplejpeg.decode_jpeg_header(content, strict=True)
        shrink = shrink_of(width, height)
        small = _pixels(thumbnail) if space == "YCbCr" else None
        if small is not None:
            luma = simplejpeg.decode_jpeg(content, colorspace="GRAY", strict=True)[..., 0]
            half = _halved(luma)
            shown = _shrunk_luma(half, 2 * shrink)  # a thumbnail is no finer
            if agrees(shown, small):
                colour = coloured(shown, small)
                return OnePass(luma, half, colour, 2 * shrink, tinted=True)
        colour = simplejpeg.decode_jpeg(
            content, colorspace="RGB", fastupsample=True, strict=True, buffer=_room(height, width)
        )
    except (ValueError, KeyError):
        return None
    luma = np.asarray(cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    return OnePass(luma, _halved(luma), _shrunk_colour(colour, shrink), shrink)


def _pixels(thumbnail: bytes) -> Pixels | None:
    try:
        return decoded(thumbnail)
    except ValueError:
        return None


def _shrunk_luma(half: Grey, shrink: int) -> Grey:
    small = half
    for _ in range(shrink.bit_length() - 2):
        small = _halved(small)
    return small


def _room(height: int, width: int) -> Pixels:
    """A buffer of this thread's own: new memory for every frame would cost 3 ms each."""
    room: Pixels | None = getattr(_kept, "room", None)
    if room is None or room.shape != (height, width, 3):
        room = _kept.room = np.empty((height, width, 3), dtype=np.uint8)
    return room


def _shrunk_colour(colour: Pixels, shrink: int) -> Pixels:
    height, width = colour.shape[0] // shrink, colour.shape[1] // shrink
    if shrink == 1 or not height or not width:
        return colour.copy()
    part = colour[: height * shrink, : width * shrink]
    part = part[:: _SKIP.get(shrink, 1)]
    while part.shape[0] > height:
        part = _resized(part, part.shape[1] // 2, part.shape[0] // 2)
    return _resized(part, width, height)


def _halved(picture: Pixels) -> Pixels:
    height, width = picture.shape[0] // 2, picture.shape[1] // 2
    return _resized(picture[: 2 * height, : 2 * width], width, height)


def _resized(picture: Pixels, width: int, height: int) -> Pixels:
    if picture.shape[:2] == (height, width):
        return picture
    resized = cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(resized, dtype=np.uint8)
