"""The retake list: which cells, in which order, how far apart, how long, with which settings.

The way begins at the corner where the sweep started: there the head can be set up anew by sight,
wherever it stands now, and all steps are counted from there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from belvedere.check.model import CellReport, RetakeStop, RetakeTour
from belvedere.check.place import Placing
from belvedere.check.retake_light import retake_light
from belvedere.check.thresholds import GOOD_NEIGHBOUR_STEPS, MOST_TOUR_STOPS
from belvedere.check.tour import short_way
from belvedere.shoot import Cell, Frame, Plan, Settings, standing_time_s, turn_times_s

FloatArray = NDArray[np.float64]

#: Of ways that take the head equally long, the one that turns it least.
_LESS_TURNING = 1e-4


def plan_retakes(
    plan: Plan, cells: Sequence[CellReport], placing: Placing
) -> tuple[tuple[RetakeStop, ...], RetakeTour | None]:
    """The cells to shoot again in the order that costs the head least, and what is common to all.

    Parameters
    ----------
    cells
        One for each cell of the plan, in any order.
    placing
        The frames of the sweep: their settings and times.

    Returns
    -------
    No stops, and None, where every cell is good.
    """
    reports = {(report.row, report.column): report for report in cells}
    bad = [c for c in plan.cells if reports[c.row, c.column].state != "good"]
    if not bad:
        return (), None
    way = _in_short_order(plan, bad)
    settings = _settings_to_repeat(plan, way, cells, placing)
    stops = tuple(
        _stop(plan, before, cell, reports[cell.row, cell.column], own)
        for before, cell, own in zip([plan.cells[0], *way], way, settings, strict=False)
    )
    return stops, _tour(plan, stops, way, placing)


def _in_short_order(plan: Plan, cells: Sequence[Cell]) -> list[Cell]:
    """From the start corner; as the head sweeps where there are too many to sort."""
    if len(cells) > MOST_TOUR_STOPS:
        return list(cells)
    places = [plan.cells[0], *cells]
    bearing = np.array([cell.bearing_deg for cell in places])
    elevation = np.array([cell.elevation_deg for cell in places])
    pan, tilt = bearing[:, None] - bearing[None], elevation[:, None] - elevation[None]
    cost = turn_times_s(plan, pan, tilt) + _LESS_TURNING * (np.abs(_turned(plan, pan)) + abs(tilt))
    return [places[number] for number in short_way(cost)]


def _turned(plan: Plan, pan_deg: FloatArray) -> FloatArray:
    """Turns as the head makes them: in a full turn the shorter way round."""
    return (pan_deg + 180.0) % 360.0 - 180.0 if plan.shoot.grid.full_turn else pan_deg


def _stop(
    plan: Plan, before: Cell, cell: Cell, report: CellReport, settings: Settings
) -> RetakeStop:
    columns, rows = steps_from_start(plan, cell)
    pan = np.array(cell.bearing_deg - before.bearing_deg)
    says = next((f.says for f in report.findings if f.kind == report.state), report.state)
    return RetakeStop(
        cell.row,
        cell.column,
        cell.bearing_deg,
        cell.elevation_deg,
        columns,
        rows,
        f"{report.state}: {says}",
        _columns_between(plan, before, cell),
        cell.row - before.row,
        float(_turned(plan, pan)),
        cell.elevation_deg - before.elevation_deg,
        settings,
    )


def _columns_between(plan: Plan, before: Cell, cell: Cell) -> int | None:
    """Columns to the right; None between rows that have not the same columns."""
    count = plan.columns_per_row[cell.row - 1]
    if count != plan.columns_per_row[before.row - 1]:
        return None
    columns = cell.column - before.column
    if plan.shoot.grid.full_turn:
        return (columns + count // 2) % count - count // 2
    return columns


def steps_from_start(plan: Plan, cell: Cell) -> tuple[int, int]:
    """Columns and rows to move from the sweep's start corner, both counted from 0."""
    start = plan.shoot.sweep.start
    in_row = plan.columns_per_row[cell.row - 1]
    columns = in_row - cell.column if start.endswith("right") else cell.column - 1
    rows = plan.rows - cell.row if start.startswith("bottom") else cell.row - 1
    return columns, rows


def _tour(
    plan: Plan, stops: Sequence[RetakeStop], way: Sequence[Cell], placing: Placing
) -> RetakeTour:
    pan = np.array([stop.pan_deg for stop in stops])
    tilt = np.array([stop.tilt_deg for stop in stops])
    moves_s = float(turn_times_s(plan, pan, tilt).sum())
    settings = common_settings([stop.settings for stop in stops])
    exposure_s = settings.exposure_time_s or plan.shoot.conditions.exposure.shutter_s or 0.0
    seconds = moves_s + len(stops) * standing_time_s(plan, exposure_s)
    start = plan.cells[0]
    return RetakeTour(
        start.row,
        start.column,
        round(moves_s, 1),
        round(seconds, 1),
        settings,
        retake_light(plan, way, placing, seconds),
    )


def _settings_to_repeat(
    plan: Plan, way: Sequence[Cell], cells: Sequence[CellReport], placing: Placing
) -> list[Settings]:
    """For each stop what the good frames around it were taken with, or all good ones."""
    by_file = {frame.file: frame for frame in placing.frames}
    good = [(cell, by_file[cell.frames[0]]) for cell in cells if cell.state == "good"]
    if not good:
        return [Settings()] * len(way)
    everywhere = common_settings([frame.settings for _, frame in good])
    places = [plan.cell(cell.row, cell.column) for cell, _ in good]
    steps = _steps_apart(plan, way, places)
    return [
        _around([frame for (_, frame), near in zip(good, row, strict=True) if near], everywhere)
        for row in steps <= GOOD_NEIGHBOUR_STEPS
    ]


def _around(frames: Sequence[Frame], otherwise: Settings) -> Settings:
    return common_settings([frame.settings for frame in frames]) if frames else otherwise


def _steps_apart(plan: Plan, some: Sequence[Cell], others: Sequence[Cell]) -> FloatArray:
    """How many steps of the grid cells lie apart, the greater of both axes: (some, others)."""
    across = np.array([plan.column_steps_deg[cell.row - 1] or 360.0 for cell in some])
    pan = np.subtract.outer([c.bearing_deg for c in some], [c.bearing_deg for c in others])
    tilt = np.subtract.outer([c.elevation_deg for c in some], [c.elevation_deg for c in others])
    down = plan.row_step_deg or 180.0
    apart: FloatArray = np.maximum(abs(_turned(plan, pan)) / across[:, None], abs(tilt) / down)
    return apart


def common_settings(settings: Sequence[Settings]) -> Settings:
    """Of each setting the value that most frames state; the middle one where they all differ."""
    return Settings(
        **{f.name: _common([getattr(s, f.name) for s in settings]) for f in fields(Settings)}
    )


def _common(values: Sequence[Any]) -> Any:
    known: list[Hashable] = [value for value in values if value is not None]
    if not known:
        return None
    value, times = Counter(known).most_common(1)[0]
    numbers = [v for v in known if isinstance(v, int | float) and not isinstance(v, bool)]
    if times == 1 and len(numbers) == len(known):
        return sorted(numbers)[len(numbers) // 2]
    return value
