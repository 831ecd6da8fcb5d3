"""Round numbers for scales, and labels that keep their distance."""

from __future__ import annotations

import math

_COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
_DEGREE_STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0)
_COUNT_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000, 100000)


def degree_ticks(low: float, high: float, most: int) -> list[float]:
    """Round degrees from `low` to `high`, at most about `most` of them."""
    step = next((s for s in _DEGREE_STEPS if (high - low) / s <= most), _DEGREE_STEPS[-1])
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [number * step for number in range(first, last + 1)]


def labelled(count: int, apart_pt: float, least_pt: float) -> list[int]:
    """Which of 1 … `count`, `apart_pt` from each other, get a label: first, last, round ones."""
    step = next((s for s in _COUNT_STEPS if s * apart_pt >= least_pt), _COUNT_STEPS[-1])
    chosen = [1] + [number for number in range(step, count, step) if number > 1]
    chosen = [n for n in chosen if n == 1 or (n - 1) * apart_pt >= least_pt]
    while len(chosen) > 1 and (count - chosen[-1]) * apart_pt < least_pt:
        chosen.pop()
    return chosen + ([count] if count > 1 and (count - 1) * apart_pt >= least_pt else [])


def signed_deg(value: float) -> str:
    """An angle with its sign and no needless decimals: "+7.5°", "−30°", "0°"."""
    rounded = round(value, 2)
    if rounded == 0.0:
        return "0°"
    number = f"{abs(rounded):.2f}".rstrip("0").rstrip(".")
    return f"{'+' if rounded > 0.0 else '−'}{number}°"


def compass(azimuth_deg: float) -> str:
    """The nearest of eight points of the compass."""
    return _COMPASS[round((azimuth_deg % 360.0) / 45.0) % 8]
