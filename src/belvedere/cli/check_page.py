"""The check's answer as it is read at the tripod: verdict, grid, sentences, what to shoot again.

Everything is said by letters and words; colour only repeats it, since a screen in bright sun shows
little of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill

from rich.console import Console
from rich.panel import Panel
from rich.text import Text

from belvedere.check import CellReport, CheckReport, Finding, State
from belvedere.cli.check_words import file_names, grouped, listed, places, shortened
from belvedere.cli.retake_list import print_retakes

#: Lines are no longer than this, however wide the window.
WIDTH = 78
#: How each state stands in the grid, three letters wide.
MARKS: dict[State, str] = {
    "good": " · ",
    "missing": "[M]",
    "soft": "[S]",
    "shaken": "[K]",
    "exposure": "[E]",
    "colour": "[C]",
    "corrupt": "[X]",
    "unsure": "[?]",
}
_STYLES: dict[State, str] = {"good": "", "unsure": "bold yellow"}
_FAULT_STYLE = "bold red"
#: Remarks of one kind on single cells, fewer than all of them where they are many.
_MOST_REMARKS = 3
_MOST_SENTENCES = 40
#: Remarks whose words name their cells.
_SAY_WHERE = frozenset({"moving"})

_VERDICTS = {
    "complete": ("COMPLETE", "Every cell has a good frame. You can pack up.", "bold green"),
    "reshoot": ("RE-SHOOT", "Do not pack up yet.", "bold red"),
    "unsure": (
        "UNSURE",
        "Nothing is known to be wrong, but not every cell is known to be good.",
        "bold yellow",
    ),
}


def print_report(out: Console, report: CheckReport) -> None:
    """Print the whole answer."""
    width = min(out.width, WIDTH)
    _print_verdict(out, report, width)
    if report.cells:
        _print_grid(out, report.cells, width)
    names = file_names(report)
    _print_faults(out, report, names, width)
    _print_remarks(out, report, names, width)
    print_retakes(out, report, width)


def _print_grid(out: Console, cells: Sequence[CellReport], width: int) -> None:
    by_place = {(cell.row, cell.column): cell for cell in cells}
    rows = max(cell.row for cell in cells)
    columns = max(cell.column for cell in cells)
    margin = len(str(rows)) + 5
    fit = max(4, (width - margin) // 3)
    for left in range(1, columns + 1, fit):
        shown = range(left, min(left + fit, columns + 1))
        head = Text("col".ljust(margin), style="dim")
        for column in shown:
            head.append(f"{column:^3d}")
        out.print(head, soft_wrap=True)
        for row in range(1, rows + 1):
            line = Text(f"row {row:>{margin - 5}} ", style="dim")
            for column in shown:
                cell = by_place.get((row, column))
                if cell is None:
                    line.append("   ")
                else:
                    line.append(MARKS[cell.state], style=_STYLES.get(cell.state, _FAULT_STYLE))
            out.print(line, soft_wrap=True)
        out.print()
    states = {cell.state for cell in cells}
    legend = [f"{mark.strip()} {state}" for state, mark in MARKS.items() if state in states]
    out.print(Text("  ".join(legend), style="dim"), width=width)
    if states != {"good"}:
        out.print()


def _print_faults(out: Console, report: CheckReport, names: dict[str, str], width: int) -> None:
    """Each fault in a sentence; what is the same for many cells is said once."""
    told = grouped(report.cells, frozenset(MARKS))
    for finding, cells in told[:_MOST_SENTENCES]:
        _print_line(out, places(cells), finding, names, width)
    if len(told) > _MOST_SENTENCES:
        more = sum(len(cells) for _, cells in told[_MOST_SENTENCES:])
        out.print(Text(f"and {more} more like these; --json tells them all."), width=width)
    if not report.cells:
        for finding in report.findings:
            if finding.file and finding.kind in MARKS:
                where = names.get(finding.file, finding.file)
                _print_line(out, where, finding, names, width)


def _print_line(
    out: Console, where: str, finding: Finding, names: dict[str, str], width: int
) -> None:
    line = Text()
    line.append(f"{where}: ", style="bold")
    line.append(finding.kind.upper(), style=_FAULT_STYLE if finding.kind != "unsure" else "bold")
    line.append(f", {shortened(finding.says, names)}.")
    out.print(line, width=width)


def _print_remarks(out: Console, report: CheckReport, names: dict[str, str], width: int) -> None:
    lines = _cell_remarks(report.cells)
    blind = [cell for cell in report.cells if _is_unjudged(cell)]
    if blind:
        lines.append(
            f"sharpness cannot be judged in {listed(blind)}: plain sky, haze or the like; look at "
            f"these yourself if they matter"
        )
    lines += [f"{other.file}: {other.role}" for other in report.other_frames]
    lines += [
        f"{finding.kind}: {finding.says}"
        if not finding.file
        else f"{finding.file}: {finding.kind}, {finding.says}"
        for finding in report.findings
        if report.cells or not finding.file or finding.kind not in MARKS
    ]
    if lines:
        out.print()
        out.print(Text("Notes", style="bold"))
    for line in lines:
        words = shortened(line, names)
        out.print(Text(fill(words, width, initial_indent="– ", subsequent_indent="  ")))


def _cell_remarks(cells: Sequence[CellReport]) -> list[str]:
    """What is worth knowing of single cells and changes no state, a few lines for each kind."""
    kinds = {finding.kind for cell in cells for finding in cell.findings}
    lines: list[str] = []
    for kind in sorted(kinds - set(MARKS) - {"unjudged"}):
        told = grouped(cells, frozenset({kind}))
        if kind == "repeated" and len(told) > _MOST_REMARKS:
            lines += _repeated(told)
            continue
        lines += [
            finding.says if kind in _SAY_WHERE else f"{places(where)}: {finding.says}"
            for finding, where in told[:_MOST_REMARKS]
        ]
        more = len(told) - _MOST_REMARKS
        lines += [_more_like_that(kind, more)] if more > 0 else []
    return lines


def _repeated(told: Sequence[tuple[Finding, list[CellReport]]]) -> list[str]:
    """Cells with several frames in a line or two: which frame is used in them."""
    by_how: dict[str, list[CellReport]] = {}
    for finding, cells in told:
        how = finding.says.partition(" is used, ")[2].partition(";")[0]
        by_how.setdefault(how, []).extend(cells)
    return [
        f"of the cells {listed(cells)} there are several frames: {how} is used in each"
        for how, cells in by_how.items()
    ]


def _more_like_that(kind: str, more: int) -> str:
    if kind == "moving":
        return f"something moved at {more} more {'place' if more == 1 else 'places'}"
    return f"and {more} more like that ({kind})"


def _is_unjudged(cell: CellReport) -> bool:
    return any(finding.kind == "unjudged" for finding in cell.findings)


def _print_verdict(out: Console, report: CheckReport, width: int) -> None:
    word, says, style = _VERDICTS[report.verdict]
    if report.verdict != "complete" and report.retakes:
        count = len(report.retakes)
        sure = " to be sure" if report.verdict == "unsure" else ""
        whole = "all " if 1 < count == len(report.cells) else ""
        says += f" Shoot {whole}{count} {'cell' if count == 1 else 'cells'} again{sure}."
    if report.verdict == "reshoot" and not report.cells:
        count = len({finding.file for finding in report.findings if finding.kind in MARKS})
        says += f" {count} {'frame is' if count == 1 else 'frames are'} at fault."
    out.print(
        Panel(Text(f"{word}\n{says}", justify="center", style=style), style=style), width=width
    )
