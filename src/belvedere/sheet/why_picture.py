"""Two frames side by side at 100 %, for each neighbour: the picture that answers "why?"."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from belvedere.sheet import svg

_MARGIN, _GAP, _TOP = 16.0, 8.0, 84.0
_WORDS_PT = 14.0
_LINE_PT = 18.0
#: Room for the numbers beside the crops.
_NUMBERS_PT = 400.0
_NARROWEST_PT = 800.0


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as PNG or JPEG bytes, its size, and the words above it; one pixel to a point."""

    image: bytes
    width_px: int
    height_px: int
    says: str


@dataclass(frozen=True, slots=True)
class WhyRow:
    """Pictures side by side, what they compare, and the numbers; no pictures: words alone."""

    title: str
    pictures: tuple[Picture, ...]
    lines: tuple[str, ...]


def why_picture(title: str, says: Sequence[str], rows: Sequence[WhyRow]) -> tuple[str, int]:
    """An SVG document and its width in points: drawn so many pixels wide, crops are at 100 %.

    Whole numbers throughout, so that no pixel of a crop is blended with another.
    """
    widest = max((_pictures_wide(row) for row in rows), default=0.0)
    width = max(_NARROWEST_PT, 2 * _MARGIN + widest + _NUMBERS_PT)
    body = [
        svg.shape(svg.box(0.0, 0.0, width, 44.0), fill=svg.INK),
        svg.text(_MARGIN, 31.0, title, 24.0, bold=True, fill="#fff"),
    ]
    y = 64.0
    for line in (part for words in says for part in _wrapped(words, width - 2 * _MARGIN)):
        body.append(svg.text(_MARGIN, y, line, _WORDS_PT))
        y += _LINE_PT
    y += 10.0
    for row in rows:
        body += _row(row, y, width)
        y += _height(row, width)
    return svg.picture(width, y, f"{title}. {' '.join(says)}", body), round(width)


def _pictures_wide(row: WhyRow) -> float:
    return sum(_pitch(picture) for picture in row.pictures)


def _pitch(picture: Picture) -> float:
    """Room for a picture and for the words above it."""
    return float(round(max(picture.width_px, svg.text_width(picture.says, _WORDS_PT)) + _GAP))


def _number_lines(row: WhyRow, width: float) -> list[str]:
    room = width - 2 * _MARGIN - _pictures_wide(row) - 8.0
    return [part for line in row.lines for part in _wrapped(line, room)]


def _height(row: WhyRow, width: float) -> float:
    """Whole points: a heading, then the taller of pictures and numbers, then air."""
    tall = max((picture.height_px + 20.0 for picture in row.pictures), default=0.0)
    numbers = _LINE_PT * len(_number_lines(row, width)) + 6.0
    return float(round(30.0 + max(tall, numbers) + 14.0))


def _row(row: WhyRow, y: float, width: float) -> Iterator[str]:
    yield svg.line(_MARGIN, y, width - _MARGIN, y, width=1.5)
    yield svg.text(_MARGIN, y + 21.0, row.title, 17.0, bold=True)
    x = _MARGIN
    for picture in row.pictures:
        top = y + 50.0
        yield svg.text(x, top - 6.0, picture.says, _WORDS_PT)
        kind = "png" if picture.image[:4] == b"\x89PNG" else "jpeg"
        uri = f"data:image/{kind};base64,{b64encode(picture.image).decode('ascii')}"
        yield (
            f'<image x="{svg.num(x)}" y="{svg.num(top)}" width="{picture.width_px}" '
            f'height="{picture.height_px}" image-rendering="optimizeSpeed" href="{uri}"/>'
        )
        x += _pitch(picture)
    for number, line in enumerate(_number_lines(row, width)):
        left = x + (8.0 if row.pictures else 0.0)
        yield svg.text(left, y + 56.0 + _LINE_PT * number - (12.0), line, _WORDS_PT)


def _wrapped(words: str, room_pt: float) -> list[str]:
    most = max(20, int(room_pt / (0.47 * _WORDS_PT)))
    lines = [""]
    for word in words.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > most:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines
