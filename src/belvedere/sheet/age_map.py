"""How much older or younger than its neighbours each cell is, in steps of grey."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from belvedere.foundation import duration_words
from belvedere.sheet import svg
from belvedere.sheet.axes import labelled
from belvedere.shoot import Briefing, Cell, Plan

#: From white to dark; black numbers stay legible on the first three.
_GREYS = ("#fff", "#dcdcdc", "#b4b4b4", "#7c7c7c", "#404040")
_DARK_FROM = 3
#: Upper limits of the greys but the last: the same in every map, so that maps can be compared.
_LIMITS_S = (10.0, 60.0, 300.0, 1800.0)
_LEFT, _TOP, _BOTTOM = 34.0, 24.0, 34.0
#: Cells above this are merged along the row where their grey is the same.
_MOST_CELLS = 4000


def age_map(briefing: Briefing, width_pt: float = 460.0, tallest_pt: float = 260.0) -> str:
    """For each cell the greatest age difference to a touching cell, as an SVG document.

    A schematic: columns at their bearings, rows equally high. Grey steps are explained below
    the map; where there is room the seconds or minutes stand in the cells.
    """
    plan = briefing.plan
    ages = {
        (cell.row, cell.column): age
        for cell, age in zip(plan.cells, briefing.sweep.cell_age_s, strict=True)
    }
    width = width_pt - _LEFT - 6.0
    high = min(24.0, tallest_pt / plan.rows)
    height = high * plan.rows
    body = [
        *_cells(plan, ages, width, high),
        svg.stroke(svg.box(_LEFT, _TOP, width, height), width=0.8),
        *_numbers_of_rows(plan, high),
        *_legend(_TOP + height + 14.0),
    ]
    greatest = duration_words(briefing.sweep.chosen.greatest_age_s)
    words = f"age difference to touching cells: up to {greatest}"
    body.append(svg.text(_LEFT, 12.0, words, 8.5, italic=True))
    return svg.picture(width_pt, _TOP + height + _BOTTOM, words.capitalize(), body)


def _grey(age_s: float) -> int:
    return sum(age_s > limit for limit in _LIMITS_S)


def _cells(
    plan: Plan,
    ages: dict[tuple[int, int], float],
    width: float,
    high: float,
) -> Iterator[str]:
    rows: dict[int, list[Cell]] = {}
    for cell in sorted(plan.cells, key=lambda cell: (cell.row, cell.column)):
        rows.setdefault(cell.row, []).append(cell)
    edge = 0.4 if len(plan.cells) <= _MOST_CELLS else 0.0
    yield f'<g stroke="#000" stroke-width="{edge}">'
    labels: list[str] = []
    for row, cells in rows.items():
        wide, y = width / len(cells), _TOP + (row - 1) * high
        greys = [_grey(ages[row, cell.column]) for cell in cells]
        for x, count, grey in _runs(greys, merged=len(plan.cells) > _MOST_CELLS):
            yield svg.shape(svg.box(_LEFT + x * wide, y, count * wide, high), fill=_GREYS[grey])
        if high >= 10.0:
            labels += [
                _label(_LEFT + (place + 0.5) * wide, y + high / 2.0, wide, ages[row, column], grey)
                for place, (grey, column) in enumerate(
                    zip(greys, (cell.column for cell in cells), strict=True)
                )
            ]
    yield "</g>"
    yield from labels


def _runs(greys: Sequence[int], *, merged: bool) -> Iterator[tuple[int, int, int]]:
    """Start, length and grey of each rectangle of a row."""
    if not merged:
        yield from ((place, 1, grey) for place, grey in enumerate(greys))
        return
    start = 0
    for grey, run in groupby(greys):
        count = sum(1 for _ in run)
        yield start, count, grey
        start += count


def _label(x: float, y: float, wide: float, age_s: float, grey: int) -> str:
    words = _short(age_s)
    if svg.text_width(words, 7.5) + 3.0 > wide:
        return ""
    fill = "#fff" if grey >= _DARK_FROM else svg.INK
    return svg.text(x, y + 2.6, words, 7.5, anchor="middle", fill=fill)


def _short(age_s: float) -> str:
    """Seconds, minutes:seconds or hours:minutes, as short as a cell needs."""
    if age_s < 100.0:
        return f"{age_s:.1f}".removesuffix(".0") if age_s < 10.0 else f"{age_s:.0f}"
    whole = round(age_s)
    if whole < 6000:
        return f"{whole // 60}:{whole % 60:02d}"
    return f"{whole // 3600}h{whole // 60 % 60:02d}"


def _numbers_of_rows(plan: Plan, high: float) -> Iterator[str]:
    yield svg.text(_LEFT - 6.0, _TOP - 4.0, "row", 7.0, anchor="end", italic=True)
    for row in labelled(plan.rows, high, 9.5):
        y = _TOP + (row - 0.5) * high + 2.6
        yield svg.text(_LEFT - 6.0, y, str(row), 8.0, anchor="end", bold=True)


def _legend(y: float) -> Iterator[str]:
    x = _LEFT
    named = [f"to {duration_words(limit)}" for limit in _LIMITS_S]
    for fill, words in zip(
        _GREYS, [*named, f"more than {duration_words(_LIMITS_S[-1])}"], strict=True
    ):
        yield svg.shape(svg.box(x, y - 5.0, 14.0, 9.0), fill=fill, stroke=svg.INK)
        yield svg.text(x + 18.0, y + 2.4, words, 7.5)
        x += 30.0 + svg.text_width(words, 7.5)
