"""The text of `shoot.toml`: read with every problem named, changed without losing comments."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, MutableMapping
from typing import Any, cast

import tomlkit
from pydantic import ValidationError

from belvedere.foundation import PlanError
from belvedere.shoot.model import Camera, GridWish, Lens, Shoot, Sweep
from belvedere.shoot.shootfile_problems import contradictions, names_meant, sentence, together
from belvedere.shoot.shootfile_tables import ShootFile

TomlValue = str | int | float | bool


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
    return _shoot(file)


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
    camera, grid, sweep = file.camera, file.grid, file.sweep
    height_mm = camera.sensor_height_mm
    if height_mm is None:
        height_mm = camera.sensor_width_mm * camera.image_height_px / camera.image_width_px
    equal_columns = grid.equal_columns
    if equal_columns is None:
        equal_columns = not grid.full_turn or grid.columns is not None
    return Shoot(
        title=file.shoot.title,
        camera=Camera(
            camera.sensor_width_mm, height_mm, camera.image_width_px, camera.image_height_px
        ),
        lens=Lens(file.lens.focal_length_mm),
        grid=GridWish(
            top_deg=grid.top_deg,
            bottom_deg=grid.bottom_deg,
            left_deg=grid.left_deg,
            right_deg=grid.right_deg,
            overlap_across=grid.overlap,
            overlap_down=grid.overlap,
            full_turn=grid.full_turn,
            rows=grid.rows,
            columns=grid.columns,
            equal_columns=equal_columns,
        ),
        sweep=Sweep(sweep.order, sweep.start, sweep.serpentine, sweep.interval_s),
    )
