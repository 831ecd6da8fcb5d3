"""Reading what a person types: numbers with or without units, ranges, places, moments."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import datetime

from belvedere.foundation import PlanError

_NUMBER = r"[-+−–]?\d+(?:\.\d+)?"
_QUANTITY = re.compile(rf"({_NUMBER})\s*([a-zA-Z%°\"″]*)")
_RANGE = re.compile(
    r"(\d+(?:\.\d+)?)\s*(?:mm)?\s*(?:(?:-|–|to|and|\s)\s*(\d+(?:\.\d+)?))?\s*(?:mm)?"
)
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([-+−])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)

#: Units of length in millimetres.
LENGTHS_MM: Mapping[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1e3, "km": 1e6}
#: Words for as far as one can see.
_FAR = ("far", "inf", "infinity", "horizon", "∞")


def quantities(text: str, units: Sequence[str] = ()) -> list[tuple[float, str]]:
    """Each number in `text` with the unit behind it, "" where it is none of `units`.

    Raises
    ------
    PlanError
        A comma stands between two digits: it may mean a decimal, a thousand or a gap.
    """
    if re.search(r"\d,\d", text):
        raise PlanError(
            f"The comma in {text} may mean two things.",
            "Write decimals with a point, and a space between two numbers.",
        )
    found = []
    for number, unit in _QUANTITY.findall(text):
        value = float(number.replace("−", "-").replace("–", "-"))
        found.append((value, unit.lower() if unit.lower() in units else ""))
    return found


def numbers(text: str, count: int, example: str, low: float, high: float) -> tuple[float, ...]:
    """Exactly `count` numbers within `low` and `high`."""
    found = [value for value, _ in quantities(text)]
    if len(found) != count:
        wanted = "one number" if count == 1 else f"{_COUNTS[count]} numbers"
        raise PlanError(f"That should be {wanted}.", f"Type it like {example}")
    for value in found:
        if not low <= value <= high:
            raise PlanError(
                f"{value:g} is outside what makes sense here, {low:g} to {high:g}.",
                f"Type it like {example}",
            )
    return tuple(found)


_COUNTS = {2: "two", 3: "three", 4: "four"}


def choice(text: str, names: Sequence[str]) -> str:
    """One of `names`, by its number from 1, by its name or by how it begins."""
    typed = text.casefold()
    if typed.isascii() and typed.isdigit():
        if 1 <= int(typed) <= len(names):
            return names[int(typed) - 1]
        raise PlanError(f"There is no number {text} here.", f"Type 1 to {len(names)}.")
    exact = [name for name in names if name.casefold() == typed]
    begun = exact or [name for name in names if name.casefold().startswith(typed)]
    if len(begun) == 1:
        return begun[0]
    if begun:
        raise PlanError(f"{text} may be {' or '.join(begun)}.", "Type more of it, or its number.")
    raise PlanError(f"{text} is not among the answers.", "Type a number or a first word.")


def yes(text: str) -> bool:
    """Yes or no."""
    return choice(text, ("yes", "no")) == "yes"


def lens_range_mm(text: str) -> tuple[float, float] | None:
    """Shortest and longest of "300", "70-300" or "70 to 300 mm"; None where it is no number."""
    if not any(character.isdigit() for character in text) or re.search(r"[a-z]{3,}", text.lower()):
        return None
    quantities(text)
    found = _RANGE.fullmatch(text.strip().lower())
    if found is None:
        return None
    first = float(found.group(1))
    second = float(found.group(2)) if found.group(2) else first
    shortest, longest = sorted((first, second))
    if not 1.0 <= shortest <= longest <= 10_000.0:
        raise PlanError(
            f"No lens has {shortest:g} to {longest:g} mm.", "Type it like 300, or 70-300."
        )
    return shortest, longest


def size_and_distance(text: str, example: str) -> tuple[float, float]:
    """A size in mm and a distance in m, such as "12 mm at 60 m"; those are the units left out."""
    found = quantities(text, tuple(LENGTHS_MM))
    if len(found) != 2 or min(value for value, _ in found) <= 0.0:
        raise PlanError("That should be a size and a distance.", f"Type it like {example}")
    (size, size_unit), (distance, distance_unit) = found
    size_mm = size * LENGTHS_MM[size_unit or "mm"]
    return size_mm, distance * LENGTHS_MM[distance_unit or "m"] / 1e3


def print_and_fineness(text: str, example: str) -> tuple[float, float | None, float | None]:
    """Print width in mm with dpi, or with a viewing distance in m."""
    found = quantities(text, (*LENGTHS_MM, "dpi", "ppi"))
    if len(found) != 2 or min(value for value, _ in found) <= 0.0:
        raise PlanError("That should be a width and how fine.", f"Type it like {example}")
    (width, unit), (fine, fine_unit) = found
    width_mm = width * LENGTHS_MM.get(unit or "mm", 1.0)
    if fine_unit in ("dpi", "ppi"):
        return width_mm, fine, None
    if fine_unit in LENGTHS_MM:
        return width_mm, None, fine * LENGTHS_MM[fine_unit] / 1e3
    raise PlanError(f"{fine:g} may be dpi or metres.", f"Write the unit behind it, like {example}")


def near_and_far_m(text: str, example: str) -> tuple[float, float | None]:
    """Nearest and farthest in metres; the farthest is None for as far as one can see."""
    found = [value * LENGTHS_MM[u or "m"] / 1e3 for value, u in quantities(text, tuple(LENGTHS_MM))]
    if not 1 <= len(found) <= 2 or min(found) <= 0.0:
        raise PlanError("That should be one or two distances.", f"Type it like {example}")
    if len(found) == 1 or any(word in text.casefold().split() for word in _FAR):
        return min(found), None
    return min(found), max(found)


def latitude_longitude(text: str, example: str) -> tuple[float, float]:
    """Degrees, north and east positive; N, S, E and W may stand behind the numbers."""
    found = quantities(text.replace("°", " "), ("n", "s", "e", "w"))
    if len(found) != 2:
        raise PlanError("That should be a latitude and a longitude.", f"Type it like {example}")
    if found[0][1] in ("e", "w") or found[1][1] in ("n", "s"):
        found.reverse()
    latitude, longitude = (-value if unit in ("s", "w") else value for value, unit in found)
    if abs(latitude) > 90.0 or abs(longitude) > 180.0:
        raise PlanError(
            f"{latitude:g} and {longitude:g} lie on no map: a latitude ends at 90, a longitude "
            "at 180.",
            f"Type it like {example}",
        )
    return latitude, longitude


def moment(text: str, example: str) -> datetime:
    """Date and time, with or without a distance from UTC."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or ":" not in text:
        raise PlanError(
            "That is no date and time.", f"Type year, month, day and time like {example}"
        )
    return found


def utc_offset(text: str) -> str | None:
    """An offset such as "+02:00" out of "+2", "UTC+2" or "+0200"; None where it is none."""
    if text.upper() in ("UTC", "GMT", "Z"):
        return "+00:00"
    found = _OFFSET.fullmatch(text.strip())
    if found is None:
        return None
    hours, minutes = int(found.group(2)), int(found.group(3) or 0)
    if hours > 14 or minutes > 59:
        raise PlanError(f"No clock is {text} from UTC.", "Type it like +02:00")
    return f"{'+' if found.group(1) == '+' else '-'}{hours:02d}:{minutes:02d}"
