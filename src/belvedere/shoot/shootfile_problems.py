"""What is wrong with a shoot file, in sentences for the person who wrote it."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Container
from typing import Any

from pydantic_core import ErrorDetails

from belvedere.shoot.shootfile_tables import REPEATED, table_models

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
    location = _location(detail)
    name = _name(location)
    value, context = detail["input"], detail.get("ctx", {})
    kind = detail["type"]
    if kind == "missing":
        if len(location) == 1:
            keys = ", ".join(_required(location[0]))
            return f"the table {name} is missing. Add it with {keys}."
        return f"{name} is missing. Add it."
    if kind in ("model_type", "model_attributes_type"):
        written = _bracketed(location[0])
        return f"{location[0]} must be a table. Write {written} on a line of its own."
    if kind == "list_type" and location[0] in REPEATED:
        written = _bracketed(location[0])
        return f"{location[0]} may stand more than once. Write {written} in double brackets."
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
    "string_too_short": "some text",
    "datetime_type": "a date and time without quotes, like 2026-06-21T09:30:00+02:00",
    "list_type": "a list in square brackets",
}

_HINTS: dict[tuple[str, ...], str] = {
    ("grid", "overlap"): " It is a share of the frame: 0.30 means 30 %.",
    ("grid", "top_deg"): " Elevation counts from the horizon: 90 is the zenith.",
    ("grid", "bottom_deg"): " Elevation counts from the horizon: -90 is the nadir.",
}


def _hint(location: list[str]) -> str:
    return _HINTS.get(tuple(location), "")


def _location(detail: ErrorDetails) -> list[str]:
    """Table, then key; the number of a repeated table goes with its name."""
    parts = [part for part in detail["loc"] if not str(part).startswith("literal")]
    if len(parts) > 1 and parts[0] in REPEATED and isinstance(parts[1], int):
        parts[:2] = [f"{parts[0]} {parts[1] + 1}"]
    return [str(part) for part in parts if not isinstance(part, int)]


def _bracketed(table: str) -> str:
    name, _, number = table.partition(" ")
    if name in REPEATED:
        return f"[[{name}]]" + (f" number {number}" if number else "")
    return f"[{name}]"


def _name(location: list[str]) -> str:
    table = _bracketed(location[0])
    return table if len(location) == 1 else f"{location[-1]} in {table}"


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
    if table == "grid":  # none alone: corners or a full turn may stand in place of edges
        return ["left_deg", "right_deg", "top_deg", "bottom_deg", "overlap"]
    fields = table_models()[table.partition(" ")[0]].model_fields
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
        known = tables[name].model_fields
        if isinstance(content, list) and name in REPEATED:
            meant[name] = [_keys_meant(table, part, known, problems) for part in content]
        else:
            meant[name] = _keys_meant(table, content, known, problems)
    return meant, problems


def _keys_meant(table: str, content: Any, known: Collection[str], problems: list[str]) -> Any:
    if not isinstance(content, dict):
        return content
    meant = {}
    for key, value in content.items():
        if key not in known:
            problems.append(_unknown_key(table, key, known))
        key_meant = _meant(key, content, known)
        if key_meant is not None:
            meant[key_meant] = value
    return meant


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
        return f"{table} stands outside any table. Move it under {_bracketed(homes[0])}."
    nearest = _nearest(table, tables)
    return f"the table or key {table} is unknown. The nearest known table is {_bracketed(nearest)}."


def _unknown_key(table: str, key: str, known: Collection[str]) -> str:
    homes = [name for name, model in table_models().items() if key in model.model_fields]
    if homes:
        home = _bracketed(homes[0])
        return f"the key {key} does not belong in {_bracketed(table)}. Move it to {home}."
    nearest = _nearest(key, known)
    return f"the key {key} in {_bracketed(table)} is unknown. The nearest known key is {nearest}."


def _nearest(word: str, known: Collection[str]) -> str:
    return max(known, key=lambda name: _likeness(word, name))


def _likeness(word: str, name: str) -> float:
    return difflib.SequenceMatcher(None, word.lower(), name).ratio()
