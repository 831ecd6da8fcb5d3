"""A briefing as the document `belvedere/plan/1`: docs/schema/plan-1.schema.json describes it."""

from __future__ import annotations

import json
import math
from dataclasses import fields, is_dataclass, replace
from datetime import datetime
from typing import Any

from belvedere.shoot import CAUTIONS, Briefing, Cell, Plan

SCHEMA = "belvedere/plan/1"
#: Why the light is missing from a document.
NO_LIGHT = (
    "no place or no start: sun, twilight, shadows, flare, moonless hours and the best time to "
    "start are not known"
)


def plan_text(briefing: Briefing) -> str:
    """Everything the planner answers as JSON, indented, with one line for each cell.

    Cells are put together by hand: indenting 100,000 of them takes seconds, and even the fast
    encoder a good part of one.
    """
    head = json.dumps(_without_cells(briefing), indent=2, ensure_ascii=False, allow_nan=False)
    each = zip(
        briefing.plan.cells, briefing.timing.release_s, briefing.sweep.cell_age_s, strict=True
    )
    cells = ",\n    ".join(_cell_line(*one) for one in each)
    return head.replace('"cells": []', f'"cells": [\n    {cells}\n  ]') + "\n"


def _without_cells(briefing: Briefing) -> dict[str, Any]:
    plan = briefing.plan
    shoot = plan.shoot
    return {
        "schema": SCHEMA,
        "title": shoot.title,
        "start": None if shoot.conditions.start is None else shoot.conditions.start.isoformat(),
        "advice": _plain(briefing.advice),
        "assumed": list(briefing.assumed),
        "cautions": list(CAUTIONS),
        "camera": _plain(shoot.camera),
        "lens": _plain(shoot.lens) | {"focal_length_px": plan.focal_length_px},
        "wish": _plain(briefing.wish),
        "grid": _grid(briefing),
        "mosaic": {
            "width_px": plan.mosaic_width_px,
            "height_px": plan.mosaic_height_px,
            "gigapixels": gigapixels(plan),
            "deg_per_px": 1.0 / plan.scale_px_per_deg,
            "px_per_deg": plan.scale_px_per_deg,
            "prints": _plain(briefing.prints),
        },
        "optics": _plain(briefing.optics),
        "focus": _plain(briefing.focus),
        "exposure": _plain(briefing.exposure),
        "timing": _timing(briefing),
        "card": _plain(briefing.card),
        "power": _plain(briefing.power),
        "light": _light(briefing),
        "sweep": _plain(briefing.sweep.chosen)
        | {"interval_s": shoot.sweep.interval_s, "choices": _plain(briefing.sweep.choices)},
        "cells": [],
    }


def _cell_line(cell: Cell, release_s: float, age_s: float) -> str:
    """One cell as JSON; `repr` of a finite number is one of JSON's, and the shortest exact one."""
    return (
        f'{{"row": {cell.row}, "column": {cell.column}, "bearing_deg": {cell.bearing_deg!r}, '
        f'"elevation_deg": {cell.elevation_deg!r}, "release_s": {release_s!r}, "age_s": {age_s!r}}}'
    )


def cells_by_row(plan: Plan) -> list[list[Cell]]:
    """The cells of each row from the left, rows from the top."""
    rows: list[list[Cell]] = [[] for _ in range(plan.rows)]
    for cell in plan.cells:
        rows[cell.row - 1].append(cell)
    return [sorted(row, key=lambda cell: cell.column) for row in rows]


def gigapixels(plan: Plan) -> float:
    """Size of the mosaic in 10⁹ pixels."""
    return plan.mosaic_width_px * plan.mosaic_height_px / 1e9


def _timing(briefing: Briefing) -> dict[str, Any]:
    """Without the moment of each cell, which stands with the cells."""
    document: dict[str, Any] = _plain(replace(briefing.timing, release_s=()))
    del document["release_s"]
    return document


def _grid(briefing: Briefing) -> dict[str, Any]:
    plan, wish = briefing.plan, briefing.plan.shoot.grid
    return {
        "rows": plan.rows,
        "columns": list(plan.columns_per_row),
        "frames": len(plan.cells),
        "row_step_deg": plan.row_step_deg,
        "overlap": {
            "asked_across": wish.overlap_across,
            "asked_down": wish.overlap_down,
            "across": plan.overlap_across,
            "down": plan.overlap_down,
        },
        "tripod_rows": list(briefing.tripod_rows),
        "each_row": [_row(plan, cells) for cells in cells_by_row(plan)],
    }


def _row(plan: Plan, cells: list[Cell]) -> dict[str, Any]:
    return {
        "row": cells[0].row,
        "elevation_deg": cells[0].elevation_deg,
        "columns": len(cells),
        "step_deg": plan.column_steps_deg[cells[0].row - 1],
        "first_bearing_deg": cells[0].bearing_deg,
        "last_bearing_deg": cells[-1].bearing_deg,
    }


def _light(briefing: Briefing) -> dict[str, Any]:
    if briefing.light is None:
        return {"known": False, "says": NO_LIGHT, "sun": []}
    cells = briefing.plan.cells
    document: dict[str, Any] = {"known": True, **_plain(briefing.light)}
    document["sun_cells"] = [
        {"row": cells[near.cell].row, "column": cells[near.cell].column}
        | {"separation_deg": near.separation_deg, "in_frame": near.in_frame}
        for near in briefing.light.sun_cells
    ]
    return document


def _plain(value: Any) -> Any:
    """What JSON can hold: dataclasses as objects, moments in ISO 8601, infinity as null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name.rstrip("_"): _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple | list):
        return [_plain(part) for part in value]
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
