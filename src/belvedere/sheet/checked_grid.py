"""The grid after the check: small pictures in place, faults by shape and word, the verdict on top.

To be read on a screen in bright sun: black on white, large words, nothing that hangs on colour.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from belvedere.sheet import svg
from belvedere.sheet.axes import labelled
from belvedere.sheet.fault_marks import fault_mark

_LEFT, _RIGHT, _TOP = 46.0, 14.0, 104.0
_NARROWEST_PT, _WIDEST_PT, _TALLEST_PT = 560.0, 1200.0, 1200.0
_LARGEST_CELL_PT = 170.0
#: In smaller cells a mark is drawn as large as the cell, and larger than it at the very least.
_LEAST_MARK_PT = 5.0
_WORD_PT, _LEAST_WORD_PT = 20.0, 9.0
#: About how wide a bold capital is, as a share of its size.
_CAPITAL = 0.72
_MOST_NAMED = 60
_KEY_LINE_PT = 21.0


@dataclass(frozen=True, slots=True)
class GridCell:
    """One cell as the check left it; `state` is "good" or the word for what is wrong with it."""

    row: int
    column: int
    state: str


@dataclass(frozen=True, slots=True)
class GridLayout:
    """Where the cells lie on the picture, in points.

    Rows with fewer columns, far from the horizon, are spread over the same width.
    """

    columns_per_row: tuple[int, ...]
    cell_width_pt: float
    cell_height_pt: float

    @property
    def grid_width_pt(self) -> float:
        """From the left edge of the first column to the right edge of the last."""
        return self.cell_width_pt * max(self.columns_per_row)

    @property
    def grid_height_pt(self) -> float:
        """From the top of the first row to the bottom of the last."""
        return self.cell_height_pt * len(self.columns_per_row)

    @property
    def width_pt(self) -> float:
        """Of the whole picture."""
        return max(_NARROWEST_PT, _LEFT + self.grid_width_pt + _RIGHT)

    def corner(self, row: int, column: int) -> tuple[float, float]:
        """Upper left corner of a cell within the grid."""
        count = self.columns_per_row[row - 1]
        middle = (column - 0.5) / count * self.grid_width_pt
        return middle - self.cell_width_pt / 2.0, (row - 1) * self.cell_height_pt


def lay_checked_grid(columns_per_row: Sequence[int], shape: float) -> GridLayout:
    """A layout for cells `shape` times as wide as high, as large as fits on a screen."""
    widest = (_WIDEST_PT - _LEFT - _RIGHT) / max(columns_per_row)
    tallest = _TALLEST_PT / len(columns_per_row) * shape
    width = min(widest, tallest, _LARGEST_CELL_PT * max(1.0, shape) / 1.0)
    return GridLayout(tuple(columns_per_row), width, width / shape)


def checked_grid(
    layout: GridLayout,
    cells: Sequence[GridCell],
    thumbnails_jpeg: bytes,
    verdict: str,
    says: str,
    title: str,
) -> str:
    """The grid as an SVG document.

    Parameters
    ----------
    layout
        Where the cells lie.
    cells
        All cells of the plan.
    thumbnails_jpeg
        The small pictures of the whole grid as one JPEG, in the layout's proportions.
    verdict, says
        The verdict in a word, for the title, and a sentence beside it.
    title
        Of the shoot.
    """
    bad = [cell for cell in cells if cell.state != "good"]
    uri = "data:image/jpeg;base64," + b64encode(thumbnails_jpeg).decode("ascii")
    key, bottom = _key(layout, bad, _TOP + layout.grid_height_pt + 26.0)
    body = [
        *_band(layout, verdict, says, title),
        f'<image x="{svg.num(_LEFT)}" y="{svg.num(_TOP)}" width="{svg.num(layout.grid_width_pt)}" '
        f'height="{svg.num(layout.grid_height_pt)}" preserveAspectRatio="none" href="{uri}"/>',
        *_numbers(layout),
        *_marks(layout, bad),
        *_words(layout, bad),
        *key,
    ]
    told = f"{verdict}: {len(bad)} of {len(cells)} cells to shoot again. {title}".strip()
    return svg.picture(layout.width_pt, bottom, told, body)


def _band(layout: GridLayout, verdict: str, says: str, title: str) -> Iterator[str]:
    """The verdict, white on black across the top, and the title of the shoot beneath."""
    yield svg.shape(svg.box(0.0, 0.0, layout.width_pt, 54.0), fill=svg.INK)
    yield svg.text(14.0, 39.0, verdict, 36.0, bold=True, fill="#fff")
    room = layout.width_pt - 40.0 - 36.0 * _CAPITAL * len(verdict)
    size = min(20.0, 2.0 * room / max(1, len(says)))
    yield svg.text(layout.width_pt - 14.0, 36.0, says, size, anchor="end", fill="#fff")
    yield svg.text(14.0, 73.0, title, 14.0)


def _numbers(layout: GridLayout) -> Iterator[str]:
    """Row numbers at the side; column numbers on top where all rows have the same columns."""
    for row in labelled(len(layout.columns_per_row), layout.cell_height_pt, 15.0):
        y = _TOP + layout.corner(row, 1)[1] + layout.cell_height_pt / 2.0 + 4.5
        yield svg.text(_LEFT - 7.0, y, str(row), 14.0, anchor="end", bold=True)
    yield svg.text(_LEFT - 7.0, _TOP - 6.0, "row", 11.0, anchor="end", italic=True)
    if len(set(layout.columns_per_row)) > 1:
        few, many = min(layout.columns_per_row), max(layout.columns_per_row)
        words = f"columns: {few} to {many} in a row, counted from the left"
        yield svg.text(_LEFT, _TOP - 6.0, words, 12.0, italic=True)
        return
    for column in labelled(layout.columns_per_row[0], layout.cell_width_pt, 30.0):
        x = _LEFT + layout.corner(1, column)[0] + layout.cell_width_pt / 2.0
        yield svg.text(x, _TOP - 6.0, str(column), 14.0, anchor="middle", bold=True)


def _mark(layout: GridLayout, cell: GridCell) -> str:
    """A shape in the middle of its cell; in a corner where there is a picture to look at."""
    x, y = _at(layout, cell)
    width, height = layout.cell_width_pt, layout.cell_height_pt
    side = min(width, height)
    if not _word_size(layout, "unsure"):
        half = max(_LEAST_MARK_PT, side / 2.0 - 1.0)
        return fault_mark(cell.state, x + width / 2.0, y + height / 2.0, half)
    if cell.state == "missing":
        return fault_mark(cell.state, x + width / 2.0, y + 0.38 * height, 0.28 * side)
    half = 0.2 * side
    return fault_mark(cell.state, x + half + 5.0, y + half + 5.0, half)


def _marks(layout: GridLayout, bad: Sequence[GridCell]) -> Iterator[str]:
    """A frame around each faulty cell and the shape of its fault."""
    for cell in bad:
        x, y = _at(layout, cell)
        yield f'<g data-cell="{cell.row},{cell.column}" data-state="{cell.state}">'
        edge = svg.box(x + 1.0, y + 1.0, layout.cell_width_pt - 2.0, layout.cell_height_pt - 2.0)
        if layout.cell_width_pt > 20.0:
            yield svg.stroke(edge, width=5.0)
            yield svg.stroke(edge, width=1.5, ink="#fff")
        yield _mark(layout, cell)
        yield "</g>"


def _at(layout: GridLayout, cell: GridCell) -> tuple[float, float]:
    x, y = layout.corner(cell.row, cell.column)
    return _LEFT + x, _TOP + y


def _word_size(layout: GridLayout, word: str) -> float:
    """How large a word can stand inside a cell; 0 where it cannot."""
    wide = (layout.cell_width_pt - 8.0) / (_CAPITAL * len(word))
    size = min(_WORD_PT, wide, layout.cell_height_pt / 3.2)
    return size if size >= _LEAST_WORD_PT else 0.0


def _words(layout: GridLayout, bad: Sequence[GridCell]) -> Iterator[str]:
    """The word of each fault: in its cell, or beside the first of a row of like ones."""
    taken: list[tuple[float, float, float, float]] = []
    states = {(cell.row, cell.column): cell.state for cell in bad}
    for cell in bad:
        x, y = _at(layout, cell)
        size = _word_size(layout, cell.state)
        if size:
            middle = x + layout.cell_width_pt / 2.0
            yield from _plate(middle, y + layout.cell_height_pt - 1.45 * size, cell.state, size)
        elif states.get((cell.row, cell.column - 1)) != cell.state:
            yield from _beside(layout, cell, states, taken)


def _beside(
    layout: GridLayout,
    cell: GridCell,
    states: Mapping[tuple[int, int], str],
    taken: list[tuple[float, float, float, float]],
) -> Iterator[str]:
    """A word to the right of a run of like faults, or to its left; where there is room."""
    last = cell.column
    while states.get((cell.row, last + 1)) == cell.state:
        last += 1
    wide, high = _CAPITAL * _LEAST_WORD_PT * len(cell.state) + 6.0, 1.35 * _LEAST_WORD_PT
    left, y = _at(layout, cell)
    right = left + (last - cell.column + 1) * layout.cell_width_pt
    top = y + layout.cell_height_pt / 2.0 - high / 2.0
    marks = [_at(layout, GridCell(*place, "")) for place in states]
    for x in (right + 2.0, left - wide - 2.0):
        box = (x, top, x + wide, top + high)
        inside = x >= _LEFT and x + wide <= layout.width_pt - 2.0
        cells = ((a, b, a + layout.cell_width_pt, b + layout.cell_height_pt) for a, b in marks)
        if inside and not any(_meet(box, other) for other in (*taken, *cells)):
            taken.append(box)
            yield from _plate(x + wide / 2.0, top, cell.state, _LEAST_WORD_PT)
            return


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _plate(middle: float, top: float, state: str, size: float) -> Iterator[str]:
    """A word in capitals, white on a black plate."""
    wide = _CAPITAL * size * len(state) + 6.0
    yield svg.shape(svg.box(middle - wide / 2.0, top, wide, 1.35 * size), fill=svg.INK)
    word = state.upper()
    yield svg.text(middle, top + 1.02 * size, word, size, anchor="middle", bold=True, fill="#fff")


def _key(layout: GridLayout, bad: Sequence[GridCell], y: float) -> tuple[list[str], float]:
    """Every fault once more in words, and where the picture ends."""
    parts: list[str] = []
    for state in dict.fromkeys(cell.state for cell in bad):
        places = [f"{cell.row},{cell.column}" for cell in bad if cell.state == state]
        more = len(places) - _MOST_NAMED
        named = "  ".join(places[:_MOST_NAMED]) + (f"  and {more} more" if more > 0 else "")
        parts.append(fault_mark(state, 23.0, y - 5.0, 9.0))
        parts.append(svg.text(40.0, y, f"{state.upper()} {len(places)}", 15.0, bold=True))
        for line in _lines(named, int((layout.width_pt - 180.0) / 7.0)):
            parts.append(svg.text(170.0, y, line, 14.0))
            y += _KEY_LINE_PT
        y += 4.0
    if bad:
        parts.append(
            svg.text(14.0, y, "numbers are row,column from the top left", 11.0, italic=True)
        )
        y += 14.0
    return parts, y


def _lines(words: str, most: int) -> list[str]:
    """Words on lines of at most so many signs."""
    lines = [""]
    for word in words.split("  "):
        if lines[-1] and len(lines[-1]) + len(word) + 3 > most:
            lines.append("")
        lines[-1] += (" · " if lines[-1] else "") + word
    return lines
