"""Faults as a person says them: ``soft 3,7 2.5`` to `Soft((3, 7), 2.5)`."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from dataclasses import replace

from belvedere.foundation import PlanError
from belvedere.rehearse.faults import (
    Asleep,
    BatteryEmpty,
    Bumped,
    CardFull,
    ColourJump,
    Dust,
    ExposureJump,
    Fault,
    Flickering,
    FocusWrong,
    LostRow,
    Missing,
    Paused,
    Place,
    PowerPulled,
    Repeated,
    Restarted,
    Shaken,
    Slipped,
    Slipping,
    Soft,
    Stuck,
    TrialPictures,
    Truncated,
    WetLens,
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
    "lost row": ("lost row 3", "no file of the whole row"),
    "bumped": ("bumped 3,7 1", "the tripod was knocked by 1° before this cell"),
    "slipped": ("slipped 3,7 0.5", "the head slipped once, 0.5° short from here on"),
    "slipping": ("slipping 3,7 2", "every move from here on is 2 % short"),
    "restart": ("restart 3,7", "given up before this cell, begun anew from the first"),
    "pause": ("pause 3,7 5", "five minutes went by before this cell"),
    "asleep": ("asleep 3,7", "the release woke the camera, and was lost"),
    "card full": ("card full 3,7", "no file from this cell on"),
    "battery empty": ("battery empty 3,7", "no file from this cell on"),
    "power pulled": ("power pulled 3,7 50", "50 % of this file, none after it"),
    "autofocus": ("autofocus 3,7 4", "focused on something 4 m away"),
    "flicker": ("flicker 3,7 0.4 [onwards]", "lamps on the mains: bands across the frame"),
    "wet lens": ("wet lens 3,7 3", "three drops on the lens from here on"),
    "dust": ("dust 12", "twelve grains on the sensor, in every frame"),
}

_Words = list[str]
#: Units that may stand behind a number.
_UNIT = re.compile(r"(ev|px|%|°|m|min|minutes)$")


def parse_fault(words: str) -> Fault:
    """One fault as a person says it: ``soft 3,7 2.5``, or ``soft@3,7 2.5``.

    Raises
    ------
    PlanError
        With the form that was expected.
    """
    kind, rest = _kind(words)
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


def _kind(words: str) -> tuple[str, _Words]:
    """The kind, which may be of two words, and what follows it."""
    first, *rest = words.lower().replace(";", " ").replace("@", " ").split() or [""]
    first = first.replace("-", " ")
    if first not in FORMS and rest and f"{first} {rest[0]}" in FORMS:
        return f"{first} {rest[0]}", rest[1:]
    return first, rest


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
    value = float(_UNIT.sub("", word))
    if not low <= value <= high:
        raise _ReasonError(f"{what} must lie between {low:g} and {high:g}")
    return value


def _flags(rest: _Words, *known: str) -> tuple[list[bool], _Words]:
    return [flag in rest for flag in known], [word for word in rest if word not in known]


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


def _lost_row(rest: _Words) -> Fault:
    _ends(rest[1:])
    return LostRow(int(rest[0]))


def _bumped(rest: _Words) -> Fault:
    return Bumped(*_place_and_number(rest, 0.05, 10.0, "the knock in degrees"))


def _slipped(rest: _Words) -> Fault:
    return Slipped(*_place_and_number(rest, 0.01, 45.0, "the slip in degrees"))


def _slipping(rest: _Words) -> Fault:
    place, *percent = _place_and_number(rest, 0.1, 90.0, "the percentage short")
    return Slipping(place, *(value / 100.0 for value in percent))


def _pause(rest: _Words) -> Fault:
    return Paused(*_place_and_number(rest, 0.1, 600.0, "the pause in minutes"))


def _power_pulled(rest: _Words) -> Fault:
    place, *percent = _place_and_number(rest, 0.0, 99.9, "the percentage kept")
    return PowerPulled(place, *(value / 100.0 for value in percent))


def _autofocus(rest: _Words) -> Fault:
    return FocusWrong(*_place_and_number(rest, 0.1, 100_000.0, "the distance in metres"))


def _flicker(rest: _Words) -> Fault:
    (onwards,), rest = _flags(rest, "onwards")
    lamps = Flickering(*_place_and_number(rest, 0.01, 1.0, "the depth"))
    return replace(lamps, onwards=onwards)


def _wet_lens(rest: _Words) -> Fault:
    place, *drops = _place_and_number(rest, 1, 50, "the number of drops")
    return WetLens(place, *(int(count) for count in drops))


def _dust(rest: _Words) -> Fault:
    _ends(rest[1:])
    return Dust(*(int(_number(word, 1, 500, "the number of grains")) for word in rest))


def _at_cell(make: Callable[[Place], Fault]) -> Callable[[_Words], Fault]:
    """A fault that is said by its cell alone."""

    def parse(rest: _Words) -> Fault:
        _ends(rest[1:])
        return make(_place(rest[0]))

    return parse


def _place_and_number(
    rest: _Words, low: float, high: float, what: str
) -> tuple[Place] | tuple[Place, float]:
    _ends(rest[2:])
    place = _place(rest[0])
    return (place, _number(rest[1], low, high, what)) if len(rest) > 1 else (place,)


_PARSERS: dict[str, Callable[[_Words], Fault]] = {
    "missing": _at_cell(Missing),
    "repeated": _at_cell(Repeated),
    "stuck": _at_cell(Stuck),
    "soft": _soft,
    "shaken": _shaken,
    "exposure": _exposure,
    "colour": _colour,
    "truncated": _truncated,
    "tests": _tests,
    "lost row": _lost_row,
    "bumped": _bumped,
    "slipped": _slipped,
    "slipping": _slipping,
    "restart": _at_cell(Restarted),
    "pause": _pause,
    "asleep": _at_cell(Asleep),
    "card full": _at_cell(CardFull),
    "battery empty": _at_cell(BatteryEmpty),
    "power pulled": _power_pulled,
    "autofocus": _autofocus,
    "flicker": _flicker,
    "wet lens": _wet_lens,
    "dust": _dust,
}
