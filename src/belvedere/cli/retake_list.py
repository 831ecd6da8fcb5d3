"""The retake list as it is read at the tripod: where to go, how long it takes, what to set."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, replace

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table
from rich.text import Text

from belvedere.check import CheckReport, RetakeStop, RetakeTour
from belvedere.foundation import distance_words, duration_words
from belvedere.shoot import Settings

#: Settings that differ by less, a fifth of a stop of time, are not worth changing a dial for.
_SAME_RATIO = 1.15
_WHOLE_SWEEP = (
    "Not one cell can stay. Put right what is said above, lock exposure, white balance and focus, "
    "and let the head run the whole sweep once more, onto an empty card or folder. The order of "
    "the cells does not matter then; --json has it all the same."
)


_MOST_CELLS = (
    "These are {} of {} cells: to run the whole sweep once more, with exposure, white balance and "
    "focus locked, may be less work."
)


def print_retakes(out: Console, report: CheckReport, width: int) -> None:
    """Print the list of cells to shoot again, in the order that costs the head the fewest moves."""
    stops, tour = report.retakes, report.retake_tour
    if not stops or tour is None:
        return
    out.print()
    out.print(Text("To shoot again", style="bold"))
    if report.verdict == "reshoot" and 1 < len(stops) == len(report.cells):
        out.print(Text(_WHOLE_SWEEP), width=width)
        _print_light(out, tour, width)
        return
    says = (
        f"Leave the tripod as it stands. Let the head go to the start corner of the sweep (row "
        f"{tour.start_row}, column {tour.start_column}) and from there in this order; it takes "
        f"about {duration_words(math.ceil(tour.seconds))}."
    )
    out.print(Text(says), width=width)
    if report.verdict == "reshoot" and len(stops) > len(report.cells) / 2.0:
        out.print(Text(_MOST_CELLS.format(len(stops), len(report.cells))), width=width)
    out.print()
    out.print(_table(stops), width=width)
    if words := settings_words(_locked(tour.settings, report)):
        out.print()
        out.print(Text(f"Set the camera as for the good frames: {words}."), width=width)
        _print_other_settings(out, stops, tour, width)
    _print_light(out, tour, width)
    out.print()
    out.print(
        Text(
            "When they are shot, register them (belvedere retake CARD --shoot SHOOT) and check "
            "again. To see why a cell is listed, check with --why ROW,COLUMN."
        ),
        width=width,
    )


def _locked(settings: Settings, report: CheckReport) -> Settings:
    """The good frames' settings, with what an automatic must not choose once more."""
    faults = {finding.kind for cell in report.cells for finding in cell.findings}
    if settings.exposure_mode == "auto":
        settings = replace(settings, exposure_mode="set by hand")
    if settings.white_balance == "auto" and "colour" in faults:
        settings = replace(settings, white_balance="locked to what they have")
    return settings


def _print_light(out: Console, tour: RetakeTour, width: int) -> None:
    if tour.light is None:
        return
    style = "" if tour.light.allows else "bold"
    says = tour.light.says
    out.print(Text(f"Light: {says[0].upper()}{says[1:]}.", style=style), width=width)


def _table(stops: Sequence[RetakeStop]) -> Table:
    table = Table(box=SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0))
    for header in ("row,\ncolumn", "from the\nstart corner", "from the\nstop before"):
        table.add_column(header, no_wrap=True)
    for header in ("bearing", "elevation"):
        table.add_column(header, justify="right", no_wrap=True)
    table.add_column("why", no_wrap=True)
    for stop in stops:
        columns = _steps(stop.columns_from_start, "column")
        table.add_row(
            f"{stop.row}, {stop.column}",
            f"{columns}, {_steps(stop.rows_from_start, 'row')}",
            _from_before(stop),
            f"{stop.bearing_deg:+.2f}°",
            f"{stop.elevation_deg:+.2f}°",
            stop.why.partition(":")[0],
        )
    return table


def _from_before(stop: RetakeStop) -> str:
    """The way from the stop before: columns and rows, or degrees where columns do not compare."""
    if stop.columns_from_before is None:
        across, unit = round(stop.pan_deg, 2), "°"
    else:
        across, unit = stop.columns_from_before, ""
    words = []
    if across:
        words.append(f"{abs(across)}{unit} {'right' if across > 0 else 'left'}")
    if stop.rows_from_before:
        words.append(
            f"{abs(stop.rows_from_before)} {'down' if stop.rows_from_before > 0 else 'up'}"
        )
    return ", ".join(words) or "stay"


def _steps(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _print_other_settings(
    out: Console, stops: Sequence[RetakeStop], tour: RetakeTour, width: int
) -> None:
    """Cells whose neighbours were taken with other settings, such as another focus."""
    others: dict[str, list[str]] = {}
    for stop in stops:
        if words := settings_words(_unlike(stop.settings, tour.settings)):
            others.setdefault(words, []).append(f"{stop.row},{stop.column}")
    for words, places in others.items():
        out.print(Text(f"But for {' · '.join(places)}: {words}."), width=width)


def _unlike(settings: Settings, usual: Settings) -> Settings:
    """Only what differs from the usual, as far as anybody would set it."""
    same = {
        f.name: None
        for f in fields(Settings)
        if _alike(getattr(settings, f.name), getattr(usual, f.name))
    }
    return replace(settings, **same)


def _alike(one: object, other: object) -> bool:
    if isinstance(one, float) and isinstance(other, float) and one > 0.0 and other > 0.0:
        return max(one, other) / min(one, other) < _SAME_RATIO
    return one == other


def settings_words(settings: Settings) -> str:
    """What is known of the settings, as a photographer writes it."""
    words = []
    if (time_s := settings.exposure_time_s) is not None:
        words.append(f"1/{round(1.0 / time_s)} s" if time_s < 0.3 else f"{time_s:g} s")
    if settings.f_number is not None:
        words.append(f"f/{settings.f_number:g}")
    if settings.iso is not None:
        words.append(f"ISO {settings.iso:g}")
    if settings.focal_length_mm is not None:
        words.append(f"{settings.focal_length_mm:g} mm")
    if (focus_m := settings.focus_distance_m) is not None:
        words.append("focus at infinity" if focus_m >= 1e6 else f"focus {distance_words(focus_m)}")
    if settings.white_balance is not None:
        words.append(f"white balance {settings.white_balance}")
    if settings.exposure_mode is not None:
        words.append(f"exposure {settings.exposure_mode}")
    if settings.flash_fired is not None:
        words.append("with flash" if settings.flash_fired else "no flash")
    return ", ".join(words)
