"""Numbers as a photographer reads them."""

from __future__ import annotations

import math
from datetime import datetime

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
    """Three figures at most: "62 m", "8.4 m", "0.85 m", "∞"."""
    if math.isinf(metres):
        return "∞"
    if metres >= 10_000.0:
        return f"{metres / 1000.0:,.0f} km"
    if metres >= 100.0:
        return f"{float(f'{metres:.3g}'):,.0f} m"
    return f"{metres:.2g} m" if metres < 10.0 else f"{metres:.0f} m"


def duration(seconds: float) -> str:
    """Hours, minutes, seconds, as far as they matter: "2 h 5 min", "4 min 57 s", "36 s"."""
    whole = round(seconds)
    if whole < 60:
        return f"{round(seconds, 1):g} s" if seconds < 10.0 else f"{whole} s"
    if whole < 3600:
        big, small = f"{whole // 60} min", f"{whole % 60} s" if whole % 60 else ""
    else:
        minutes = round(whole / 60)
        big, small = f"{minutes // 60} h", f"{minutes % 60} min" if minutes % 60 else ""
    return f"{big} {small}".strip()


def seconds(value: float) -> str:
    """A short time, without needless decimals."""
    return f"{value:.1f}".removesuffix(".0") + " s"


def shutter(value_s: float) -> str:
    """An exposure time as cameras show it."""
    if value_s >= 0.3:
        return f"{value_s:.1f}".removesuffix(".0") + " s"
    return f"1/{round(1.0 / value_s):d} s"


def f_number(value: float) -> str:
    """An aperture as lenses show it."""
    return f"f/{value:.1f}".removesuffix(".0") if value < 10.0 else f"f/{value:.0f}"


def share(probability: float) -> str:
    """A small probability as per cent."""
    if probability <= 0.0:
        return "0 %"
    if probability < 1e-5:
        return "less than 0.001 %"
    return f"{float(f'{probability * 100.0:.2g}'):g} %"


def size(count: float) -> str:
    """Bytes in the units of card makers."""
    for limit, unit in ((1e12, "TB"), (1e9, "GB"), (1e6, "MB")):
        if count >= limit:
            return f"{count / limit:.3g} {unit}"
    return f"{count / 1e3:.0f} kB"


def sentence(says: str) -> str:
    """With a capital and a full stop; what begins like a setting to type is left as it is."""
    says = says.strip()
    if not says:
        return ""
    first, _, rest = says.partition(" ")
    if first.rstrip(",;:").isalpha() and first.islower() and not rest.startswith("="):
        says = says[0].upper() + says[1:]
    return says if says[-1] in ".!?:…" else says + "."
