"""Numbers as people read them, in every room alike."""

from __future__ import annotations

import math


def distance_words(metres: float) -> str:
    """Three figures at most: "62.3 m", "6.02 m", "0.853 m", "infinity"."""
    if math.isinf(metres):
        return "infinity"
    if metres >= 10_000.0:
        return f"{metres / 1000.0:,.0f} km"
    if metres >= 100.0:
        return f"{float(f'{metres:.3g}'):,.0f} m"
    return f"{metres:.3g} m"


def duration_words(seconds: float) -> str:
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


def share_words(probability: float) -> str:
    """A small probability as per cent."""
    if probability <= 0.0:
        return "0 %"
    if probability < 1e-5:
        return "less than 0.001 %"
    return f"{float(f'{probability * 100.0:.2g}'):g} %"


def size_words(count: float) -> str:
    """Bytes in the units of card makers."""
    for limit, unit in ((1e12, "TB"), (1e9, "GB"), (1e6, "MB")):
        if count >= limit:
            return f"{count / limit:.3g} {unit}"
    return f"{count / 1e3:.0f} kB"
