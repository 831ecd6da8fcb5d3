"""From a shoot to its plan: the cells on the sphere, and what the mosaic will be."""

from __future__ import annotations

from collections.abc import Sequence

from belvedere.optics import focal_length_px, scale_px_per_deg
from belvedere.optics.field_of_view import field_of_view_deg
from belvedere.shoot.grid import FrameAngles, GridRow, lay_grid, overlap_down
from belvedere.shoot.model import Cell, Plan, Shoot
from belvedere.shoot.sweep import in_sweep_order


def make_plan(shoot: Shoot) -> Plan:
    """The plan that follows from `shoot`.

    Every direction within the wanted edges is inside some frame; neighbours overlap at least as
    much as asked, at every height, unless a fixed count of rows or columns says otherwise. Cells
    lie on the stops of a head that moves in steps.

    Raises
    ------
    PlanError
        Where a fixed count leaves a gap, the head's steps are too coarse, a row is out of its
        reach, or a frame straight up or down is of no use.
    """
    camera, wish = shoot.camera, shoot.grid
    focal_px = focal_length_px(
        shoot.lens.focal_length_mm, camera.sensor_width_mm, camera.image_width_px
    )
    # In pixels, not in sensor millimetres: the frames are what is laid side by side.
    angles = FrameAngles(
        field_of_view_deg(camera.image_width_px, focal_px),
        field_of_view_deg(camera.image_height_px, focal_px),
    )
    rows = lay_grid(wish, angles, shoot.conditions.head)
    scale = scale_px_per_deg(focal_px)
    return Plan(
        shoot=shoot,
        cells=in_sweep_order(_cells(rows), shoot.sweep),
        rows=len(rows),
        columns_per_row=tuple(row.columns for row in rows),
        row_step_deg=_row_step(rows),
        column_steps_deg=tuple(row.step_deg for row in rows),
        horizontal_fov_deg=angles.horizontal_fov_deg,
        vertical_fov_deg=angles.vertical_fov_deg,
        focal_length_px=focal_px,
        overlap_across=min((row.overlap for row in rows if row.columns > 1), default=0.0),
        overlap_down=overlap_down(rows, angles),
        scale_px_per_deg=scale,
        mosaic_width_px=round(wish.width_deg * scale),
        mosaic_height_px=round(wish.height_deg * scale),
    )


def _cells(rows: Sequence[GridRow]) -> list[list[Cell]]:
    return [
        [
            Cell(number, column, bearing, row.elevation_deg)
            for column, bearing in enumerate(row.bearings_deg, start=1)
        ]
        for number, row in enumerate(rows, start=1)
    ]


def _row_step(rows: Sequence[GridRow]) -> float:
    """The head's move from row to row; 0 where there is one row.

    A frame straight up or down lies at another distance: it does not count, where it can be.
    """
    turning = [row for row in rows if not row.straight]
    if len(turning) < 2:
        turning = list(rows)
    if len(turning) == 1:
        return 0.0
    middle = (len(turning) - 1) // 2
    return turning[middle].elevation_deg - turning[middle + 1].elevation_deg
