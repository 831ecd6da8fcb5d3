"""The order in which the head visits the cells."""

from __future__ import annotations

from collections.abc import Sequence

from belvedere.shoot.model import Cell, Sweep


def in_sweep_order(rows: Sequence[Sequence[Cell]], sweep: Sweep) -> tuple[Cell, ...]:
    """All cells in the order of the sweep.

    Parameters
    ----------
    rows
        The cells of each row from the left, rows from the top; rows may differ in length.
    sweep
        Order, start corner, and whether every other line runs backwards.

    Notes
    -----
    By columns, a row with fewer columns than the longest gives each of its cells to the column
    of the longest row that lies nearest in the picture.
    """
    from_bottom = sweep.start.startswith("bottom")
    from_right = sweep.start.endswith("right")
    lines = [list(row) for row in rows] if sweep.order == "rows" else _columns(rows)
    first_reversed, lines_reversed = (
        (from_right, from_bottom) if sweep.order == "rows" else (from_bottom, from_right)
    )
    if lines_reversed:
        lines.reverse()
    cells: list[Cell] = []
    for number, line in enumerate(lines):
        backwards = first_reversed != (sweep.serpentine and number % 2 == 1)
        cells.extend(reversed(line) if backwards else line)
    return tuple(cells)


def _columns(rows: Sequence[Sequence[Cell]]) -> list[list[Cell]]:
    longest = max(len(row) for row in rows)
    columns: list[list[Cell]] = [[] for _ in range(longest)]
    for row in rows:
        for place, cell in enumerate(row):
            columns[(2 * place + 1) * longest // (2 * len(row))].append(cell)
    return columns
