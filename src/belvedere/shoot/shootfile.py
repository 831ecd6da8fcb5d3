"""The text of `shoot.toml`: read with every problem named, changed without losing comments."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, MutableMapping
from datetime import datetime
from typing import Any, cast

import tomlkit
from pydantic import ValidationError

from belvedere.foundation import PlanError
from belvedere.optics import ev100_of
from belvedere.shoot.conditions import (
    CardWish,
    Conditions,
    Cycle,
    ExposureWish,
    FocusWish,
    Head,
    Place,
    Power,
    Region,
    Steadiness,
    Wish,
)
from belvedere.shoot.model import Camera, GridWish, Lens, Shoot, Sweep
from belvedere.shoot.shootfile_conditions import RegionTable
from belvedere.shoot.shootfile_contradictions import contradictions
from belvedere.shoot.shootfile_problems import names_meant, sentence, together
from belvedere.shoot.shootfile_tables import CameraTable, GridTable, LensTable, ShootFile
from belvedere.shoot.wishes import focal_length_for, settable_focal_length

TomlValue = str | int | float | bool | datetime


def parse_shoot(text: str, where: str = "shoot.toml") -> Shoot:
    """The shoot that the text of a shoot file describes.

    Parameters
    ----------
    text
        TOML 1.0.
    where
        What to call the file in messages.

    Raises
    ------
    PlanError
        With every problem of the file in one message, a sentence or two each.
    """
    raw = _read_toml(text, where)
    meant, problems = names_meant(raw)
    try:
        file: ShootFile | None = ShootFile.model_validate(meant)
    except ValidationError as error:
        file = None
        problems += [sentence(detail) for detail in error.errors()]
    problems += contradictions(meant)
    if problems or file is None:
        raise PlanError(together(where, problems))
    try:
        return _shoot(file)
    except PlanError as error:
        raise PlanError(f"{where}: {error}") from error


def edit_shoot(text: str, changes: Mapping[str, Mapping[str, TomlValue | None]]) -> str:
    """The text of a shoot file with some values changed, comments and layout kept.

    Parameters
    ----------
    text
        A valid shoot file.
    changes
        Table → key → new value; None takes the key out. A missing table is added at the end.

    Raises
    ------
    PlanError
        Where the text before or after the change is no valid shoot file.
    """
    parse_shoot(text)
    document = tomlkit.parse(text)
    for table_name, values in changes.items():
        # A table, an inline table or dotted keys: each holds keys like a dict.
        table = cast(MutableMapping[str, Any], document.get(table_name, tomlkit.table()))
        for key, value in values.items():
            if value is None:
                table.pop(key, None)
            else:
                table[key] = value
        if table_name not in document and table:
            document[table_name] = table
    edited = tomlkit.dumps(document)
    parse_shoot(edited, "The changed shoot file")
    return edited


def _read_toml(text: str, where: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except ValueError as error:
        # Also numbers of thousands of digits, which Python refuses to read.
        says = str(error)
        raise PlanError(
            f"{where} is not valid TOML: {says[:1].lower()}{says[1:]}.",
            "Correct that line and run the command again.",
        ) from error
    except RecursionError as error:
        raise PlanError(
            f"{where} is nested too deeply.", "A shoot file is a few tables of plain values."
        ) from error


def _shoot(file: ShootFile) -> Shoot:
    """The file as frozen types; raises PlanError where a name or a time means nothing."""
    camera, grid, conditions = _camera(file.camera), _grid(file.grid), _conditions(file)
    focal_length_mm = file.lens.focal_length_mm
    if focal_length_mm is None and conditions.wish is not None:
        focal_length_mm = _wished_focal_length_mm(conditions.wish, camera, grid, file.lens)
    if focal_length_mm is None:
        raise PlanError("focal_length_mm in [lens] is missing.", "Add it.")
    sweep = file.sweep
    return Shoot(
        title=file.shoot.title,
        camera=camera,
        lens=Lens(**file.lens.model_dump() | {"focal_length_mm": focal_length_mm}),
        grid=grid,
        sweep=Sweep(sweep.order, sweep.start, sweep.serpentine, sweep.interval_s),
        conditions=conditions,
    )


def _camera(table: CameraTable) -> Camera:
    width_px, height_px = table.image_width_px, table.image_height_px
    width_mm, height_mm = table.sensor_width_mm, table.sensor_height_mm
    if height_mm is None:
        height_mm = width_mm * height_px / width_px
    if table.mounting is not None and (table.mounting == "portrait") != (height_px >= width_px):
        width_px, height_px = height_px, width_px
        width_mm, height_mm = height_mm, width_mm
    return Camera(width_mm, height_mm, width_px, height_px)


def _grid(table: GridTable) -> GridWish:
    across = table.overlap_across or table.overlap
    down = table.overlap_down or table.overlap
    left, right, top, bottom = table.left_deg, table.right_deg, table.top_deg, table.bottom_deg
    if table.corners_deg is not None:
        (bearing_a, elevation_a), (bearing_b, elevation_b) = table.corners_deg
        left, right = sorted((bearing_a, bearing_b))
        bottom, top = sorted((elevation_a, elevation_b))
    if top is None or bottom is None or across is None or down is None:
        raise PlanError("top_deg, bottom_deg and overlap in [grid] are missing.", "Add them.")
    equal_columns = table.equal_columns
    if equal_columns is None:
        equal_columns = not table.full_turn or table.columns is not None
    return GridWish(
        top_deg=top,
        bottom_deg=bottom,
        left_deg=left,
        right_deg=right,
        overlap_across=across,
        overlap_down=down,
        full_turn=table.full_turn,
        rows=table.rows,
        columns=table.columns,
        equal_columns=equal_columns,
        cap_zenith=table.cap_zenith,
        cap_nadir=table.cap_nadir,
    )


def _conditions(file: ShootFile) -> Conditions:
    place = None if file.place is None else Place(**file.place.model_dump())
    start = file.shoot.start
    if start is not None and start.tzinfo is None and place is not None and place.time_zone:
        from belvedere.light import zoned

        start = zoned(start, place.time_zone)
    if file.exposure.light is not None:
        ev100_of(file.exposure.light, file.exposure.lit_from)
    return Conditions(
        wish=None if file.wish is None else Wish(**file.wish.model_dump()),
        head=Head(**file.head.model_dump()),
        regions=tuple(_region(region) for region in file.regions),
        focus=FocusWish(**file.focus.model_dump()),
        exposure=ExposureWish(**file.exposure.model_dump()),
        steadiness=Steadiness(**file.steadiness.model_dump()),
        cycle=Cycle(**file.cycle.model_dump()),
        card=CardWish(**file.card.model_dump()),
        power=Power(**file.power.model_dump()),
        place=place,
        start=start,
    )


def _region(table: RegionTable) -> Region:
    return Region(**table.model_dump() | {"nearest_m": table.nearest_m or math.inf})


def _wished_focal_length_mm(wish: Wish, camera: Camera, grid: GridWish, table: LensTable) -> float:
    """What the wish needs, as near as the lens can be set."""
    needed_mm = focal_length_for(wish, camera, grid.width_deg, grid.height_deg)
    return settable_focal_length(
        needed_mm, Lens(**table.model_dump() | {"focal_length_mm": needed_mm})
    )
