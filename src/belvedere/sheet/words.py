"""Numbers as a photographer reads them."""

from __future__ import annotations

import math
from datetime import datetime

from belvedere.foundation import distance_words

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def clock(at: datetime) -> str:
    """Hours and minutes."""
    return f"{at:%H:%M}"


def day(at: datetime) -> str:
    """The date in words, whatever the machine's language."""
    return f"{_DAYS[at.weekday()]} {at.day} {_MONTHS[at.month - 1]} {at.year}"


def offset(at: datetime) -> str:
    """The offset from UTC, "" where the moment has none."""
    return f"UTC{at:%z}"[:6] + ":" + f"{at:%z}"[3:5] if at.tzinfo else ""


def distance(metres: float) -> str:
    """Three figures at most, infinity as its sign: there is little room."""
    return "∞" if math.isinf(metres) else distance_words(metres)


def seconds(value: float) -> str:
    """A short time, without needless decimals."""
    return f"{value:.1f}".removesuffix(".0") + " s"


def sentence(says: str) -> str:
    """With a capital and a full stop; what begins like a setting to type is left as it is."""
    says = says.strip()
    if not says:
        return ""
    first, _, rest = says.partition(" ")
    if first.rstrip(",;:").isalpha() and first.islower() and not rest.startswith("="):
        says = says[0].upper() + says[1:]
    return says if says[-1] in ".!?:…" else says + "."
