"""What is wrong with a shoot file, in sentences for the person who wrote it."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Container
from typing import Any

from pydantic_core import ErrorDetails

from belvedere.shoot.shootfile_tables import table_models

#: A picture's pixels may be this much off square before the sensor's size is called wrong.
_ASPECT_TOLERANCE = 0.02
#: Likeness (0 to 1) from which an unknown name is taken for a misspelt known one.
_SAME_WORD = 0.7


def together(where: str, problems: list[str]) -> str:
    """All problems of the file `where` in one message."""
    if len(problems) == 1:
        return f"{where}: {problems[0]}"
    listed = "\n".join(f"  - {problem}" for problem in problems)
    return f"{where} has {len(problems)} problems:\n{listed}"


def sentence(detail: ErrorDetails) -> str:
    """What one failed rule means for the person who wrote the file."""
    location = [str(part) for part in detail["loc"] if not str(part).startswith("literal")]
    name = _name(location)
    value, context = detail["input"], detail.get("ctx", {})
    kind = detail["type"]
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


def _required(table: str) -> list[str]:
    fields = table_models()[table].model_fields
    return [name for name, field in fields.items() if field.is_required()]


def names_meant(raw: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """The file with its unknown names taken for the nearest known ones, and what is wrong.

    A misspelt key is one problem: what it stands for is not missing as well.
    """
    tables = table_models()
    meant: dict[str, Any] = {}
    problems = []
    for table, content in raw.items():
        if table not in tables:
            problems.append(_unknown_table(table))
        name = _meant(table, raw, tables)
        if name is None:
            continue
        if not isinstance(content, dict):
            meant[name] = content
            continue
        known = tables[name].model_fields
        meant[name] = {}
        for key, value in content.items():
            if key not in known:
                problems.append(_unknown_key(table, key, known))
            key_meant = _meant(key, content, known)
            if key_meant is not None:
                meant[name][key_meant] = value
    return meant, problems


def _meant(name: str, given: Container[str], known: Collection[str]) -> str | None:
    """The known name that `name` is, or is a misspelling of; None where it is neither."""
    if name in known:
        return name
    nearest = _nearest(name, known)
    return nearest if _likeness(name, nearest) >= _SAME_WORD and nearest not in given else None


def _unknown_table(table: str) -> str:
    tables = table_models()
    homes = [name for name, model in tables.items() if table in model.model_fields]
    if homes:
        return f"{table} stands outside any table. Move it under [{homes[0]}]."
    nearest = _nearest(table, tables)
    return f"the table or key {table} is unknown. The nearest known table is [{nearest}]."


def _unknown_key(table: str, key: str, known: Collection[str]) -> str:
    homes = [name for name, model in table_models().items() if key in model.model_fields]
    if homes:
        return f"the key {key} does not belong in [{table}]. Move it to [{homes[0]}]."
    nearest = _nearest(key, known)
    return f"the key {key} in [{table}] is unknown. The nearest known key is {nearest}."


def _nearest(word: str, known: Collection[str]) -> str:
    return max(known, key=lambda name: _likeness(word, name))


def _likeness(word: str, name: str) -> float:
    return difflib.SequenceMatcher(None, word.lower(), name).ratio()


def contradictions(raw: dict[str, Any]) -> list[str]:
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
    try:
        return float(value)
    except OverflowError:
        return None
