"""Faults as a person says them: ``soft 3,7 2.5`` to `Soft((3, 7), 2.5)`."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import replace

from belvedere.foundation import PlanError
from belvedere.rehearse.faults import (
    ColourJump,
    ExposureJump,
    Fault,
    Missing,
    Place,
    Repeated,
    Shaken,
    Soft,
    Stuck,
    TrialPictures,
    Truncated,
)

#: Each kind with its form and what it means, for the help and for the sentence that refuses.
FORMS: dict[str, tuple[str, str]] = {
    "missing": ("missing 3,7", "no file: the camera was busy and the head went on"),
    "repeated": ("repeated 3,7", "the shutter released twice, one file more"),
    "stuck": ("stuck 3,7", "the head had not moved: the frame shows the cell before"),
    "soft": ("soft 3,7 2.5", "out of focus by 2.5 px (standard deviation)"),
    "shaken": ("shaken 3,7 8 at 30", "a streak of 8 px, 30° from the rows"),
    "exposure": ("exposure 3,7 +0.7 [onwards] [stated]", "0.7 EV brighter; stated: EXIF tells"),
    "colour": ("colour 3,7 1.25 0.8 [onwards]", "white balance: gains of red and blue"),
    "truncated": ("truncated 3,7 60", "only the first 60 % of the file is there"),
    "tests": ("tests 2", "two test pictures before the sweep"),
}

_Words = list[str]


def parse_fault(words: str) -> Fault:
    """One fault as a person says it.

    Raises
    ------
    PlanError
        With the form that was expected.
    """
    kind, *rest = words.lower().replace(";", " ").split() or [""]
    if kind not in FORMS:
        near = difflib.get_close_matches(kind, FORMS, 1)
        remedy = f"Did you mean “{near[0]}”?" if near else f"Known are {', '.join(FORMS)}."
        raise PlanError(f"“{words}” names no fault that can be rehearsed.", remedy)
    try:
        return _PARSERS[kind](rest)
    except (ValueError, IndexError) as error:
        form = FORMS[kind][0]
        raise PlanError(
            f"The fault “{words}” cannot be understood{_because(error)}.",
            f"Say it like “{form}”.",
        ) from error


def parse_places(words: str) -> tuple[Place, ...]:
    """Cells as a person lists them: ``3,7 4,9``."""
    try:
        return tuple(_place(word) for word in words.split())
    except ValueError as error:
        raise PlanError(
            f"The cells “{words}” cannot be understood.",
            "Give row and column of each, like “3,7 4,9”.",
        ) from error


def _because(error: Exception) -> str:
    return f": {error}" if isinstance(error, _ReasonError) else ""


class _ReasonError(ValueError):
    """A value that was understood and is not possible."""


def _place(word: str) -> Place:
    row, column = word.split(",")
    return int(row), int(column)


def _ends(rest: _Words) -> None:
    if rest:
        raise ValueError(rest)


def _number(word: str, low: float, high: float, what: str) -> float:
    value = float(word.removesuffix("ev").removesuffix("px").removesuffix("%"))
    if not low <= value <= high:
        raise _ReasonError(f"{what} must lie between {low:g} and {high:g}")
    return value


def _flags(rest: _Words, *known: str) -> tuple[list[bool], _Words]:
    return [flag in rest for flag in known], [word for word in rest if word not in known]


def _missing(rest: _Words) -> Fault:
    _ends(rest[1:])
    return Missing(_place(rest[0]))


def _repeated(rest: _Words) -> Fault:
    _ends(rest[1:])
    return Repeated(_place(rest[0]))


def _stuck(rest: _Words) -> Fault:
    _ends(rest[1:])
    return Stuck(_place(rest[0]))


def _soft(rest: _Words) -> Fault:
    _ends(rest[2:])
    sizes = [_number(word, 0.3, 20.0, "the blur in px") for word in rest[1:]]
    return Soft(_place(rest[0]), *sizes)


def _shaken(rest: _Words) -> Fault:
    rest = [word.removesuffix("°") for word in rest if word != "at"]
    _ends(rest[3:])
    length = [_number(word, 1.0, 100.0, "the length in px") for word in rest[1:2]]
    direction = [_number(word, -180.0, 180.0, "the direction in degrees") for word in rest[2:]]
    return Shaken(_place(rest[0]), *length, *direction)


def _exposure(rest: _Words) -> Fault:
    (onwards, stated), rest = _flags(rest, "onwards", "stated")
    _ends(rest[2:])
    jump = ExposureJump(_place(rest[0]), onwards=onwards, stated=stated)
    if len(rest) == 1:
        return jump
    return replace(jump, ev=_number(rest[1], -5.0, 5.0, "the jump in EV"))


def _colour(rest: _Words) -> Fault:
    (onwards,), rest = _flags(rest, "onwards")
    _ends(rest[3:])
    jump = ColourJump(_place(rest[0]), onwards=onwards)
    if len(rest) == 1:
        return jump
    red, blue = (_number(word, 0.3, 3.0, "a gain") for word in rest[1:])
    return replace(jump, red=red, blue=blue)


def _truncated(rest: _Words) -> Fault:
    _ends(rest[2:])
    kept = [_number(word, 0.0, 99.9, "the percentage kept") / 100.0 for word in rest[1:]]
    return Truncated(_place(rest[0]), *kept)


def _tests(rest: _Words) -> Fault:
    _ends(rest[1:])
    count = _number(rest[0], 1, 50, "the number of test pictures") if rest else 2
    return TrialPictures(int(count))


_PARSERS: dict[str, Callable[[_Words], Fault]] = {
    "missing": _missing,
    "repeated": _repeated,
    "stuck": _stuck,
    "soft": _soft,
    "shaken": _shaken,
    "exposure": _exposure,
    "colour": _colour,
    "truncated": _truncated,
    "tests": _tests,
}
