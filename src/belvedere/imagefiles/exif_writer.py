"""An EXIF block as cameras write it: either byte order, ratios as given, a thumbnail.

Layout: TIFF 6.0, section 2, and CIPA DC-008 (Exif 2.32), section 4.5. Written here because the
library that reads EXIF for us reduces every ratio and writes no thumbnail, and cameras differ in
just that; every block is read back with three other libraries in the tests.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

ByteOrder = Literal["II", "MM"]
Ratio = tuple[int, int]

_EXIF_POINTER = 0x8769
_THUMBNAIL_AT, _THUMBNAIL_BYTES, _COMPRESSION = 0x0201, 0x0202, 0x0103
_JPEG = 6
_HEADER = 8


@dataclass(frozen=True, slots=True)
class Ascii:
    """Text, ended by a zero byte."""

    text: str


@dataclass(frozen=True, slots=True)
class Short:
    """Whole numbers of 16 bits."""

    values: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Long:
    """A whole number of 32 bits."""

    value: int


@dataclass(frozen=True, slots=True)
class Rational:
    """A ratio of whole numbers of 32 bits, written as it is given."""

    ratio: Ratio
    signed: bool = False


@dataclass(frozen=True, slots=True)
class Undefined:
    """Bytes that mean what their tag says."""

    content: bytes


Value = Ascii | Short | Long | Rational | Undefined
Directory = Mapping[int, Value]


def exif_block(
    main: Directory, exif: Directory, byte_order: ByteOrder = "MM", thumbnail: bytes = b""
) -> bytes:
    """The content of the APP1 segment, its mark "Exif" and two zero bytes included.

    Parameters
    ----------
    main, exif
        The first directory and the EXIF one, by tag.
    thumbnail
        A JPEG file, or nothing.
    """
    mark = "<" if byte_order == "II" else ">"
    main = {**main, _EXIF_POINTER: Long(0)}
    exif_at = _HEADER + len(_directory(main, mark, 0, 0))
    second_at = exif_at + len(_directory(exif, mark, 0, 0))
    main[_EXIF_POINTER] = Long(exif_at)
    head = byte_order.encode() + struct.pack(f"{mark}HL", 42, _HEADER)
    first = _directory(main, mark, _HEADER, second_at if thumbnail else 0)
    body = head + first + _directory(exif, mark, exif_at, 0)
    if thumbnail:
        body += _second(thumbnail, mark, second_at) + thumbnail
    return b"Exif\x00\x00" + body


def _second(thumbnail: bytes, mark: str, at: int) -> bytes:
    """The directory of the thumbnail, which follows it."""
    entries: dict[int, Value] = {
        _COMPRESSION: Short((_JPEG,)),
        _THUMBNAIL_AT: Long(0),
        _THUMBNAIL_BYTES: Long(len(thumbnail)),
    }
    entries[_THUMBNAIL_AT] = Long(at + len(_directory(entries, mark, at, 0)))
    return _directory(entries, mark, at, 0)


def _directory(entries: Directory, mark: str, at: int, following: int) -> bytes:
    """One directory that begins `at` bytes into the block, with the values it points to."""
    values_at = at + 2 + 12 * len(entries) + 4
    table, values = b"", b""
    for tag in sorted(entries):
        kind, count, content = _packed(entries[tag], mark)
        if len(content) <= 4:
            field = content.ljust(4, b"\x00")
        else:
            field = struct.pack(f"{mark}L", values_at + len(values))
            values += content + b"\x00" * (len(content) % 2)  # values begin on even bytes
        table += struct.pack(f"{mark}HHL", tag, kind, count) + field
    return (
        struct.pack(f"{mark}H", len(entries)) + table + struct.pack(f"{mark}L", following) + values
    )


def _packed(value: Value, mark: str) -> tuple[int, int, bytes]:
    """Type, count and bytes of a value (TIFF 6.0, page 15)."""
    match value:
        case Ascii(text):
            content = text.encode("ascii", "replace") + b"\x00"
            return 2, len(content), content
        case Short(values):
            return 3, len(values), _numbers(values, f"{mark}{len(values)}H")
        case Long(number):
            return 4, 1, _numbers((number,), f"{mark}L")
        case Rational(ratio, signed):
            return (10, 1, _numbers(ratio, f"{mark}2l")) if signed else (
                5, 1, _numbers(ratio, f"{mark}2L"),
            )  # fmt: skip
        case Undefined(content):
            return 7, len(content), content


def _numbers(values: Sequence[int], form: str) -> bytes:
    return struct.pack(form, *values)
