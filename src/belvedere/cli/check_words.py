"""How the check's sentences are put together on a page: like ones once, files without folders."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from pathlib import PurePosixPath

from belvedere.check import CellReport, CheckReport, Finding

_PATH = re.compile(r"[^\s,;:()]*/[^\s,;:()]+")


def file_names(report: CheckReport) -> dict[str, str]:
    """Files of the card by what is enough to know them by: the name, where it is the only one.

    Retakes of other cards, which begin with "../", keep their way.
    """
    files = [placement.file for placement in report.placements]
    files += [finding.file for finding in report.findings if finding.file]
    files = [file for file in dict.fromkeys(files) if not file.startswith("../")]
    names = Counter(PurePosixPath(file).name for file in files)
    return {
        file: PurePosixPath(file).name for file in files if names[PurePosixPath(file).name] == 1
    }


def shortened(says: str, names: dict[str, str]) -> str:
    """A sentence with the card's files by their names."""
    return _PATH.sub(lambda found: names.get(found.group(), found.group()), says)


def grouped(
    cells: Sequence[CellReport], kinds: frozenset[str]
) -> list[tuple[Finding, list[CellReport]]]:
    """Findings of some kinds, each sentence once with all its cells, in the order they come."""
    groups: dict[tuple[str, str], tuple[Finding, list[CellReport]]] = {}
    for cell in cells:
        for finding in cell.findings:
            if finding.kind in kinds:
                key = finding.kind, finding.says
                groups.setdefault(key, (finding, []))[1].append(cell)
    return list(groups.values())


def places(cells: Sequence[CellReport]) -> str:
    """Where: "row 3, column 1", "row 3, columns 1 to 6", "cells 1,3 · 2,6"."""
    first, last = cells[0], cells[-1]
    if len(cells) == 1:
        return f"row {first.row}, column {first.column}"
    runs_on = all(a.row == b.row and b.column == a.column + 1 for a, b in pairwise(cells))
    if runs_on and len(cells) == 2:
        return f"row {first.row}, columns {first.column} and {last.column}"
    if runs_on:
        return f"row {first.row}, columns {first.column} to {last.column}"
    return f"cells {listed(cells)}"


def listed(cells: Sequence[CellReport], most: int = 12) -> str:
    """Cells as "1,3 · 2,6 to 2,9", not more than `most` places by name."""
    runs: list[list[CellReport]] = []
    for cell in cells:
        last = runs[-1][-1] if runs else None
        if last is not None and (last.row, last.column + 1) == (cell.row, cell.column):
            runs[-1].append(cell)
        else:
            runs.append([cell])
    named = [part for run in runs for part in _named(run)]
    words = " · ".join(word for word, _ in named[:most])
    left = sum(count for _, count in named[most:])
    return f"{words} and {left} more" if left else words


def _named(run: Sequence[CellReport]) -> list[tuple[str, int]]:
    """Cells side by side: each by itself, or from the first to the last; with their number."""
    words = [f"{cell.row},{cell.column}" for cell in run]
    return (
        [(word, 1) for word in words]
        if len(run) < 3
        else [(f"{words[0]} to {words[-1]}", len(run))]
    )
