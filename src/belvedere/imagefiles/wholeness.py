"""Whether a picture file ends as its format asks: told without decoding, as it may be growing."""

from __future__ import annotations

import re
from pathlib import Path

_JPEG, _PNG, _HEIF = b"\xff\xd8", b"\x89PNG\r\n\x1a\n", b"ftyp"
#: The next marker that is no stuffed byte, no restart marker and no fill byte.
_MARKER = re.compile(rb"\xff([^\x00\xd0-\xd7\xff])", re.DOTALL)
_END, _LONE = 0xD9, frozenset({0x01, 0xD8})


def ends_whole(path: Path) -> bool | None:
    """Whether the file at `path` is there to its end; None where its format does not tell.

    JPEG must have its end-of-image marker (ITU-T T.81, B.1.1.3), PNG its IEND chunk (ISO/IEC
    15948, 5.6), HEIF boxes that fill the file (ISO/IEC 14496-12, 4.2). What follows a JPEG's end
    (padding, a second picture) does not matter, and a thumbnail's end is not taken for the
    picture's. A file that cannot be read is not whole.
    """
    try:
        content = path.read_bytes()
    except OSError:
        return False
    if len(content) < 12:
        return False
    if content.startswith(_JPEG):
        return _jpeg_ends(content)
    if content.startswith(_PNG):
        return _png_ends(content)
    if content[4:8] == _HEIF:
        return _boxes_end(content)
    # Space that is taken before it is filled reads as zeros.
    return None if any(content[:12]) else False


def _jpeg_ends(content: bytes) -> bool:
    """Walk the segments; inside the scans every byte 0xFF is either stuffed or a marker."""
    place = len(_JPEG)
    while (found := _MARKER.search(content, place)) is not None:
        marker, place = found.group(1)[0], found.end()
        if marker == _END:
            return True
        if marker in _LONE:
            continue
        place += max(2, int.from_bytes(content[place : place + 2], "big"))
    return False


def _png_ends(content: bytes) -> bool:
    place = len(_PNG)
    while place + 12 <= len(content):
        length = int.from_bytes(content[place : place + 4], "big")
        kind = content[place + 4 : place + 8]
        place += 12 + length  # length, kind, data, checksum
        if kind == b"IEND":
            return place <= len(content)
    return False


def _boxes_end(content: bytes) -> bool | None:
    place = 0
    while place + 8 <= len(content):
        size = int.from_bytes(content[place : place + 4], "big")
        if size == 0:  # to the end of the file, wherever that will be
            return None
        if size == 1:
            size = int.from_bytes(content[place + 8 : place + 16], "big")
        if size < 8:
            return False
        place += size
    return place == len(content)
