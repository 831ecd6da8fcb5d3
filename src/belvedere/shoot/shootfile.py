"""The text of `shoot.toml`: read with every problem named, changed without losing comments.

The tables below are the file's whole vocabulary; docs/shoot-file.md explains each key.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from typing import Annotated, Any

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails
from tomlkit.items import Table

from belvedere.foundation import PlanError
from belvedere.shoot.model import Camera, Corner, GridWish, Lens, Order, Shoot, Sweep

TomlValue = str | int | float | bool

#: Largest overlap: above it a sweep hardly moves.
MOST_OVERLAP = 0.9
#: A picture's pixels may be this much off square before the sensor's size is called wrong.
_ASPECT_TOLERANCE = 0.02

Length = Annotated[float, Field(gt=0.0, le=10_000.0)]
Elevation = Annotated[float, Field(ge=-90.0, le=90.0)]
Bearing = Annotated[float, Field(ge=-360.0, le=360.0)]


class _TableModel(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


class _ShootTable(_TableModel):
    title: str = ""


class _CameraTable(_TableModel):
    sensor_width_mm: Length
    sensor_height_mm: Length | None = None
    image_width_px: int = Field(ge=16, le=100_000)
    image_height_px: int = Field(ge=16, le=100_000)


class _LensTable(_TableModel):
    focal_length_mm: Length


class _GridTable(_TableModel):
    left_deg: Bearing | None = None
    right_deg: Bearing | None = None
    top_deg: Elevation
    bottom_deg: Elevation
    full_turn: bool = False
    overlap: float = Field(gt=0.0, le=MOST_OVERLAP)
    rows: int | None = Field(default=None, ge=1, le=2000)
    columns: int | None = Field(default=None, ge=1, le=5000)
    equal_columns: bool | None = None


class _SweepTable(_TableModel):
    order: Order = "rows"
    start: Corner = "top-left"
    serpentine: bool = False
    interval_s: float | None = Field(default=None, gt=0.0, le=86_400.0)


class _File(_TableModel):
    shoot: _ShootTable = _ShootTable()
    camera: _CameraTable
    lens: _LensTable
    grid: _GridTable
    sweep: _SweepTable = _SweepTable()


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
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(
            f"{where} is not valid TOML: {_first_lower(str(error))}.",
            "Correct that line and run the command again.",
        ) from error
    problems: list[str] = []
    try:
        file: _File | None = _File.model_validate(raw)
    except ValidationError as error:
        file = None
        problems += [_sentence(detail) for detail in error.errors()]
    problems += _contradictions(raw)
    if problems or file is None:
        raise PlanError(_together(where, problems))
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
        if table_name not in document:
            document[table_name] = tomlkit.table()
        table = document[table_name]
        if not isinstance(table, Table):
            # An inline table or a dotted key: valid TOML that holds keys all the same.
            table = document.setdefault(table_name, tomlkit.table())
        for key, value in values.items():
            if value is not None:
                table[key] = value
            elif key in table:
                del table[key]
    edited = tomlkit.dumps(document)
    parse_shoot(edited, "The changed shoot file")
    return edited


def _shoot(file: _File) -> Shoot:
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
            overlap=grid.overlap,
            full_turn=grid.full_turn,
            rows=grid.rows,
            columns=grid.columns,
            equal_columns=equal_columns,
        ),
        sweep=Sweep(sweep.order, sweep.start, sweep.serpentine, sweep.interval_s),
    )


def _together(where: str, problems: list[str]) -> str:
    if len(problems) == 1:
        return f"{where}: {problems[0]}"
    listed = "\n".join(f"  - {problem}" for problem in problems)
    return f"{where} has {len(problems)} problems:\n{listed}"


def _sentence(detail: ErrorDetails) -> str:
    """What one failed rule means for the person who wrote the file."""
    location = [str(part) for part in detail["loc"] if not str(part).startswith("literal")]
    name = _name(location)
    value, context = detail["input"], detail.get("ctx", {})
    kind = detail["type"]
    if kind == "extra_forbidden":
        return _unknown(location)
    if kind == "missing":
        if len(location) == 1:
            keys = ", ".join(_required(location[0]))
            return f"the table {name} is missing. Add it with {keys}."
        return f"{name} is missing. Add it."
    if kind in ("model_type", "model_attributes_type"):
        return f"{location[0]} must be a table. Write [{location[0]}] on a line of its own."
    says = f"{name} is {_shown(value)}"
    if kind == "greater_than":
        return f"{says}, but must be more than {_limit(context['gt'])}.{_hint(location)}"
    if kind == "greater_than_equal":
        return f"{says}, but must be at least {_limit(context['ge'])}.{_hint(location)}"
    if kind == "less_than_equal":
        return f"{says}, but must be at most {_limit(context['le'])}.{_hint(location)}"
    if kind == "literal_error":
        allowed = str(context["expected"]).replace("'", '"')
        return f"{says}, but must be {allowed}."
    return f"{says}, but must be {_WANTED.get(kind, 'something else')}."


_WANTED = {
    "float_type": "a number, without quotes",
    "finite_number": "a finite number",
    "int_type": "a whole number, without quotes",
    "bool_type": "true or false, without quotes",
    "string_type": 'text in "quotes"',
}

_HINTS: dict[tuple[str, ...], str] = {
    ("grid", "overlap"): " It is a share of the frame: 0.30 means 30 %.",
    ("grid", "top_deg"): " Elevation counts from the horizon: 90 is the zenith.",
    ("grid", "bottom_deg"): " Elevation counts from the horizon: -90 is the nadir.",
}


def _hint(location: list[str]) -> str:
    return _HINTS.get(tuple(location), "")


def _name(location: list[str]) -> str:
    return f"[{location[0]}]" if len(location) == 1 else f"{location[-1]} in [{location[0]}]"


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    return f"{value}"


def _limit(value: float) -> str:
    return f"{value:g}"


def _table_models() -> dict[str, type[BaseModel]]:
    return {
        name: field.annotation
        for name, field in _File.model_fields.items()
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel)
    }


def _required(table: str) -> list[str]:
    fields = _table_models()[table].model_fields
    return [name for name, field in fields.items() if field.is_required()]


def _unknown(location: list[str]) -> str:
    """An unknown table or key, and the known one that is nearest."""
    tables = _table_models()
    if len(location) == 1:
        homes = [name for name, model in tables.items() if location[0] in model.model_fields]
        if homes:
            return f"{location[0]} stands outside any table. Move it under [{homes[0]}]."
        nearest = _nearest(location[0], list(tables))
        return f"the table or key {location[0]} is unknown. The nearest known table is [{nearest}]."
    table, key = location[0], location[-1]
    homes = [name for name, model in tables.items() if key in model.model_fields]
    if homes:
        return f"the key {key} does not belong in [{table}]. Move it to [{homes[0]}]."
    nearest = _nearest(key, list(tables[table].model_fields))
    return f"the key {key} in [{table}] is unknown. The nearest known key is {nearest}."


def _nearest(word: str, known: list[str]) -> str:
    return max(known, key=lambda k: difflib.SequenceMatcher(None, word.lower(), k).ratio())


def _contradictions(raw: dict[str, Any]) -> list[str]:
    """Values that are fine alone and wrong together; silent where one is missing or no number."""
    return _grid_contradictions(_table(raw, "grid")) + _aspect(_table(raw, "camera"))


def _grid_contradictions(grid: dict[str, Any]) -> list[str]:
    problems = []
    top, bottom = _number(grid, "top_deg"), _number(grid, "bottom_deg")
    left, right = _number(grid, "left_deg"), _number(grid, "right_deg")
    if top is not None and bottom is not None and top <= bottom:
        problems.append(
            f"top_deg in [grid] is {top:g} and bottom_deg {bottom:g}: the top must be higher. "
            "Swap them."
        )
    if grid.get("full_turn") is True:
        given = [key for key in ("left_deg", "right_deg") if key in grid]
        if given:
            problems.append(
                f"full_turn = true in [grid] leaves no room for {' and '.join(given)}. "
                "Take one or the other out."
            )
    elif missing := [key for key in ("left_deg", "right_deg") if key not in grid]:
        problems.append(
            f"{' and '.join(missing)} in [grid] {'is' if len(missing) == 1 else 'are'} missing. "
            "Add the edges of the wanted picture, or full_turn = true."
        )
    if left is not None and right is not None:
        problems += _bearing_contradictions(left, right)
    if grid.get("equal_columns") is False and "columns" in grid:
        problems.append(
            "columns in [grid] fixes the same count in every row, against equal_columns = false. "
            "Take one of them out."
        )
    return problems


def _bearing_contradictions(left: float, right: float) -> list[str]:
    if right <= left:
        return [
            f"left_deg in [grid] is {left:g} and right_deg {right:g}: bearings grow to the right. "
            "Swap them, or add 360 to right_deg where the picture crosses the bearing ±180."
        ]
    if right - left >= 360.0:
        return [
            f"left_deg and right_deg in [grid] are {right - left:g}° apart, a full turn or more. "
            "Put full_turn = true in their place."
        ]
    return []


def _aspect(camera: dict[str, Any]) -> list[str]:
    width_mm, height_mm = _number(camera, "sensor_width_mm"), _number(camera, "sensor_height_mm")
    width_px, height_px = _number(camera, "image_width_px"), _number(camera, "image_height_px")
    if width_mm is None or height_mm is None or width_px is None or height_px is None:
        return []
    if min(width_mm, height_mm, width_px, height_px) <= 0.0:
        return []
    square_height_mm = width_mm * height_px / width_px
    if abs(height_mm / square_height_mm - 1.0) <= _ASPECT_TOLERANCE:
        return []
    return [
        f"sensor_height_mm in [camera] is {height_mm:g}, but {width_px:g} × {height_px:g} px on "
        f"{width_mm:g} mm of width make {square_height_mm:.2f} mm. Give the part of the sensor "
        "that the picture uses, as the camera is mounted, or leave sensor_height_mm out."
    ]


def _table(raw: dict[str, Any], name: str) -> dict[str, Any]:
    table = raw.get(name)
    return table if isinstance(table, dict) else {}


def _number(table: dict[str, Any], key: str) -> float | None:
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value)


def _first_lower(text: str) -> str:
    return text[:1].lower() + text[1:]
