"""The evidence for a cell as it is read at the tripod; `--why ROW,COLUMN` asks for it."""

from __future__ import annotations

from textwrap import fill

from rich.console import Console
from rich.text import Text

from belvedere.check import Reasons
from belvedere.foundation import PlanError
from belvedere.workflows.why_words import cell_lines, neighbour_lines, neighbour_title


def cell_asked_for(words: str) -> tuple[int, int]:
    """Row and column out of "3,4".

    Raises
    ------
    PlanError
        What was written is no cell.
    """
    row, comma, column = words.partition(",")
    if not comma or not row.strip().isdecimal() or not column.strip().isdecimal():
        raise PlanError(f"--why {words} is not a cell.", "Write it as row,column, such as 2,14.")
    return int(row), int(column)


def print_reasons(out: Console, reasons: Reasons, width: int) -> None:
    """Print what one cell's answer rests on: the frame, then each overlap with its numbers."""
    cell = reasons.cell
    out.print()
    title = f"Why row {cell.row}, column {cell.column} is called {cell.state}"
    out.print(Text(title, style="bold"), width=width)
    for line in cell_lines(reasons):
        out.print(Text(line), width=width)
    for neighbour in reasons.neighbours:
        out.print()
        out.print(Text(f"  {neighbour_title(neighbour)}", style="bold"), width=width)
        for line in neighbour_lines(neighbour):
            words = fill(line, width, initial_indent="    ", subsequent_indent="    ")
            out.print(Text(words), soft_wrap=True)
