"""What a watch shows: lines into a file, a grid and a bell on a terminal."""

from __future__ import annotations

import io
import re
from collections.abc import Generator

import pytest
from rich.console import Console

from belvedere.cli.watch_page import show_watch
from belvedere.workflows.watch_events import WatchEvent, WatchView

FILE = "DCIM/100SALTM/PIC_0401.JPG"
FAULT = WatchEvent(
    "fault", "no frame for row 1, column 2", ((1, 2),), state="missing", advice="Wait for it."
)


def view(rows: int, columns: int) -> WatchView:
    grid = tuple((row, column) for row in range(1, rows + 1) for column in range(1, columns + 1))
    return WatchView(grid, {(1, 1): "good", (1, 2): "missing"}, 1, (1, 3), 3.0)


def shown(out: Console, said: list[WatchEvent | WatchView], quiet: bool = False) -> str:
    def steps() -> Generator[WatchEvent | WatchView, None, None]:
        yield from said

    show_watch(out, steps(), quiet)
    assert isinstance(out.file, io.StringIO)
    return out.file.getvalue()


def bare(text: str) -> str:
    """Without the terminal's control sequences (ECMA-48, 5.4)."""
    return re.sub(r"\x1b\[[0-9;?]*[@-~]", "", text)


def plain() -> Console:
    return Console(file=io.StringIO(), width=80, highlight=False)


def terminal(width: int = 80, height: int = 24) -> Console:
    return Console(
        file=io.StringIO(), width=width, height=height, force_terminal=True, no_color=True,
        highlight=False,
    )  # fmt: skip


SAID: list[WatchEvent | WatchView] = [
    view(2, 4), WatchEvent("came", "row 1, column 1", ((1, 1),), FILE), FAULT,
]  # fmt: skip


@pytest.mark.parametrize("quiet", [False, True])
def test_lines_into_a_file(quiet: bool) -> None:
    text = shown(plain(), SAID, quiet)
    assert ("PIC_0401.JPG  row 1, column 1" in text) is not quiet
    assert "FAULT  no frame for row 1, column 2." in text
    assert "          Wait for it." in text
    assert "\a" not in text
    assert "\x1b" not in text


@pytest.mark.parametrize("quiet", [False, True])
def test_a_bell_for_each_fault_on_a_terminal(quiet: bool) -> None:
    text = shown(terminal(), [*SAID, view(2, 4), FAULT], quiet)
    assert text.count("\a") == (0 if quiet else 2)
    assert "PIC_0401.JPG" not in text


def test_the_grid_says_state_and_next_cell() -> None:
    text = shown(terminal(), [view(2, 4)])
    assert "row 1  · [M] > " in bare(text)
    assert "1 of 8 cells have a frame. Next: row 1, column 3, one every 3.0 s." in text


def test_a_wide_grid_is_one_letter_wide_and_a_wider_one_is_left_out() -> None:
    text = shown(terminal(width=80), [view(2, 40)])
    assert "row 1 ·M>" in bare(text)
    text = shown(terminal(width=80), [view(2, 90)])
    assert "row 1 ·" not in bare(text)
    assert "1 of 180 cells" in text


def test_of_a_high_grid_the_rows_around_the_sweep_are_shown() -> None:
    text = shown(terminal(height=20), [view(60, 4)])
    assert "row  1 " in bare(text)
    assert "row 40 " not in bare(text)


def test_ctrl_c_while_something_is_shown_reaches_the_watch() -> None:
    heard = []

    def steps() -> Generator[WatchEvent | WatchView, None, None]:
        try:
            yield FAULT
            yield FAULT
        except KeyboardInterrupt:
            heard.append(True)
            yield WatchEvent("note", "the watch is ended")

    class Interrupted(io.StringIO):
        def write(self, text: str) -> int:
            if "FAULT" in text and not heard:
                raise KeyboardInterrupt
            return super().write(text)

    out = Console(file=Interrupted(), width=80, highlight=False)
    show_watch(out, steps(), quiet=False)
    assert heard == [True]
    assert isinstance(out.file, io.StringIO)
    assert "the watch is ended" in out.file.getvalue()
