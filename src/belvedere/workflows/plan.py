"""The station *plan*: a shoot file in, a plan and its document out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from belvedere.foundation import StoreError
from belvedere.optics import field_of_view_deg, pixel_angle_arcsec
from belvedere.shoot import CAUTIONS, Cell, Plan, make_plan, notes, sweep_duration_s
from belvedere.store import ensure_writable, write_json
from belvedere.workflows.shootfile import load_shoot

SCHEMA = "belvedere/plan/1"


def plan_shoot(shoot_file: Path, json_file: Path | None = None) -> Plan:
    """The plan of the shoot file, also written as JSON where `json_file` is given.

    Raises
    ------
    PlanError
        Where the shoot file cannot be read or shot.
    StoreError
        Where the JSON cannot be written.
    """
    plan = make_plan(load_shoot(shoot_file))
    if json_file is not None:
        _keep_shoot_file(shoot_file, json_file)
        ensure_writable(json_file)
        write_json(json_file, plan_document(plan))
    return plan


def _keep_shoot_file(shoot_file: Path, json_file: Path) -> None:
    written = shoot_file / "shoot.toml" if shoot_file.is_dir() else shoot_file
    if json_file.resolve() == written.resolve():
        raise StoreError(
            f"{json_file} is the shoot file itself.", "Give another name to write the plan to."
        )


def plan_document(plan: Plan) -> dict[str, Any]:
    """The plan as docs/schema/plan-1.schema.json describes it."""
    shoot = plan.shoot
    camera, sweep = shoot.camera, shoot.sweep
    return {
        "schema": SCHEMA,
        "title": shoot.title,
        "camera": {
            "sensor_width_mm": camera.sensor_width_mm,
            "sensor_height_mm": camera.sensor_height_mm,
            "image_width_px": camera.image_width_px,
            "image_height_px": camera.image_height_px,
        },
        "lens": {
            "focal_length_mm": shoot.lens.focal_length_mm,
            "focal_length_px": plan.focal_length_px,
        },
        "field_of_view": {
            "horizontal_deg": plan.horizontal_fov_deg,
            "vertical_deg": plan.vertical_fov_deg,
            "diagonal_deg": diagonal_fov_deg(plan),
        },
        "scale_px_per_deg": plan.scale_px_per_deg,
        "pixel_angle_arcsec": pixel_angle_arcsec(plan.focal_length_px),
        "overlap": {
            "asked_across": shoot.grid.overlap_across,
            "asked_down": shoot.grid.overlap_down,
            "across": plan.overlap_across,
            "down": plan.overlap_down,
        },
        "frames": len(plan.cells),
        "row_step_deg": plan.row_step_deg,
        "rows": [_row(plan, cells) for cells in cells_by_row(plan)],
        "mosaic": {
            "width_px": plan.mosaic_width_px,
            "height_px": plan.mosaic_height_px,
            "gigapixels": gigapixels(plan),
        },
        "sweep": {
            "order": sweep.order,
            "start": sweep.start,
            "serpentine": sweep.serpentine,
            "interval_s": sweep.interval_s,
            "duration_s": sweep_duration_s(plan),
        },
        "cells": [_cell(cell) for cell in plan.cells],
        "notes": list(notes(plan)),
        "cautions": list(CAUTIONS),
    }


def cells_by_row(plan: Plan) -> list[list[Cell]]:
    """The cells of each row from the left, rows from the top."""
    rows: list[list[Cell]] = [[] for _ in range(plan.rows)]
    for cell in plan.cells:
        rows[cell.row - 1].append(cell)
    return [sorted(row, key=lambda cell: cell.column) for row in rows]


def gigapixels(plan: Plan) -> float:
    """Size of the mosaic in 10⁹ pixels."""
    return plan.mosaic_width_px * plan.mosaic_height_px / 1e9


def diagonal_fov_deg(plan: Plan) -> float:
    """Field of view along the frame's diagonal."""
    camera = plan.shoot.camera
    diagonal_px = float((camera.image_width_px**2 + camera.image_height_px**2) ** 0.5)
    return field_of_view_deg(diagonal_px, plan.focal_length_px)


def _row(plan: Plan, cells: list[Cell]) -> dict[str, Any]:
    return {
        "row": cells[0].row,
        "elevation_deg": cells[0].elevation_deg,
        "columns": len(cells),
        "step_deg": plan.column_steps_deg[cells[0].row - 1],
        "first_bearing_deg": cells[0].bearing_deg,
        "last_bearing_deg": cells[-1].bearing_deg,
    }


def _cell(cell: Cell) -> dict[str, Any]:
    return {
        "row": cell.row,
        "column": cell.column,
        "bearing_deg": cell.bearing_deg,
        "elevation_deg": cell.elevation_deg,
    }
