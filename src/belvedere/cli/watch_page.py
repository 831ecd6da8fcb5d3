"""What a watch shows while the shoot runs: a grid that fills on a terminal, plain lines elsewhere.

Faults stay on the screen as sentences, with a bell; the grid below them is drawn in place.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import PurePosixPath

from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from belvedere.cli.check_page import MARKS
from belvedere.workflows.watch import Watching
from belvedere.workflows.watch_events import Cell, WatchEvent, WatchView, cell_words

_WIDTH = 78
#: Where sentences begin: after the time of day.
_MARGIN = 10
#: Rows of the terminal that are not the grid's.
_OTHER_ROWS = 8
_WORDS = {"fault": "FAULT", "better": "CLEARED"}
_STYLES = {"fault": "bold red", "better": "bold green"}


def show_watch(out: Console, steps: Watching, quiet: bool) -> None:
    """Show a watch to its end; Ctrl-C ends it in order."""
    with _grid(out) as live:
        stopped = False
        while True:
            try:
                said = steps.throw(KeyboardInterrupt()) if stopped else next(steps)
            except StopIteration:
                return
            try:
                _show(out, live, said, quiet)
                stopped = False
            except KeyboardInterrupt:
                # The watch itself has not heard it.
                stopped = True


@contextmanager
def _grid(out: Console) -> Iterator[Live | None]:
    if not out.is_terminal:
        yield None
        return
    with Live(console=out, auto_refresh=False, transient=True) as live:
        yield live


def _show(out: Console, live: Live | None, said: WatchEvent | WatchView, quiet: bool) -> None:
    if isinstance(said, WatchView):
        if live is not None:
            live.update(_picture(said, out.width, out.height), refresh=True)
        return
    if said.kind == "came":
        # The grid shows it already.
        if live is None and not quiet:
            _print_line(out, Text(f"{PurePosixPath(said.file).name}  {said.says}"))
        return
    _print_event(out, said)
    if said.kind == "fault" and not quiet and live is not None:
        out.bell()


def _print_event(out: Console, event: WatchEvent) -> None:
    line = Text()
    if event.kind in _WORDS:
        line.append(f"{_WORDS[event.kind]}  ", style=_STYLES[event.kind])
    line.append(f"{event.says}.")
    _print_line(out, line)
    if event.advice:
        _print_below(out, Text(event.advice), "")


def _print_line(out: Console, said: Text) -> None:
    """A sentence after the time of day."""
    _print_below(out, said, f"{datetime.now():%H:%M:%S}")


def _print_below(out: Console, said: Text, before: str) -> None:
    """Words before the margin, a sentence behind it, its further lines below."""
    for line in said.wrap(out, max(20, min(out.width, _WIDTH) - _MARGIN)):
        line.rstrip()
        out.print(Text.assemble((before.ljust(_MARGIN), "dim"), line), soft_wrap=True)
        before = ""


def _picture(view: WatchView, width: int, height: int) -> Group:
    """The grid, as wide and as high as there is room for, and one line on how things stand."""
    return Group(*_grid_lines(view, width, height), Text(_standing(view), style="bold"))


def _standing(view: WatchView) -> str:
    have = sum(state != "missing" for state in view.states.values())
    said = f"{have} of {len(view.grid)} cells have a frame."
    if view.awaited is None:
        return said
    every = f", one every {view.interval_s:.1f} s" if view.interval_s else ""
    return f"{said} Next: {cell_words(view.awaited)}{every}."


def _grid_lines(view: WatchView, width: int, height: int) -> list[Text]:
    rows = sorted({row for row, _ in view.grid})
    columns = max(column for _, column in view.grid)
    margin = len(str(rows[-1])) + 5
    cell_width = 3 if margin + 3 * columns <= width else 1
    if margin + cell_width * columns > width:
        return []
    there = frozenset(view.grid)
    lines = [Text()]
    if cell_width > 1:
        head = "".join(f"{column:^3d}" for column in range(1, columns + 1))
        lines.append(Text(f"{'col'.ljust(margin)}{head}", style="dim"))
    for row in _rows_in_view(rows, view.awaited, max(3, height - _OTHER_ROWS)):
        line = Text()
        line.append(f"row {row:>{margin - 5}} ", style="dim")
        for column in range(1, columns + 1):
            line.append_text(_mark(view, (row, column), there, cell_width))
        lines.append(line)
    return lines


def _rows_in_view(rows: list[int], awaited: Cell | None, most: int) -> list[int]:
    """All rows where they fit, else those around the one where the sweep is."""
    if len(rows) <= most:
        return rows
    middle = rows.index(awaited[0]) if awaited is not None else len(rows)
    first = min(max(0, middle - most // 2), len(rows) - most)
    return rows[first : first + most]


def _mark(view: WatchView, cell: Cell, there: frozenset[Cell], width: int) -> Text:
    if cell not in there:
        return Text(" " * width)
    state = view.states.get(cell)
    if state is None:
        return Text(">".center(width) if cell == view.awaited else " " * width)
    mark = MARKS[state]
    style = "" if state == "good" else "bold red"
    return Text(mark if width == len(mark) else mark.strip(" []"), style=style)
