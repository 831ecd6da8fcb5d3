"""Places along one axis of the grid, evenly spaced, on the stops of a head that moves in steps.

A head that moves in steps counts them from where it starts, so every two places lie a whole
number of steps apart. A spacing is therefore rounded down to whole steps, and more places follow;
what the rounding leaves over goes beyond both ends, half to each.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from belvedere.sphere import columns_for_turn

#: Numbers of steps closer than this to a whole number are that number.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Places:
    """Evenly spaced places in degrees, ascending."""

    first_deg: float
    spacing_deg: float
    count: int

    @property
    def last_deg(self) -> float:
        """The highest place."""
        return self.first_deg + self.spacing_deg * (self.count - 1)

    @property
    def closing_deg(self) -> float:
        """From the last place on to the first one, where the places go round a full turn."""
        return 360.0 - self.spacing_deg * (self.count - 1)


def whole_steps(spacing_deg: float, step_deg: float) -> int:
    """How many whole steps fit into `spacing_deg`; 0 where not even one does."""
    return math.floor(spacing_deg / step_deg + _ROUNDING)


def count_between(
    low_deg: float,
    high_deg: float,
    spacing_deg: float,
    step_deg: float = 0.0,
    origin_deg: float | None = None,
) -> int:
    """Least number of places, at most `spacing_deg` apart, from `low_deg` or less to `high_deg`.

    With a step, the places are `origin_deg` and whole steps away from it; without an origin the
    first place may be anywhere. A spacing below one step counts as one.
    """
    if step_deg == 0.0:
        return 1 + max(0, math.ceil((high_deg - low_deg) / spacing_deg - _ROUNDING))
    low, high = _stops(low_deg, high_deg, step_deg, origin_deg)
    return 1 + max(0, -((low - high) // max(1, whole_steps(spacing_deg, step_deg))))


def places_between(
    low_deg: float,
    high_deg: float,
    count: int,
    spare_spacing_deg: float,
    step_deg: float = 0.0,
    origin_deg: float | None = None,
    within_deg: tuple[float, float] = (-math.inf, math.inf),
) -> Places:
    """`count` places from `low_deg` to `high_deg`; with a step, a little beyond both.

    More places than one, where one would do, are `spare_spacing_deg` apart around the middle.
    With a step they keep `within_deg` where that is possible without leaving an end uncovered.
    """
    middle = (low_deg + high_deg) / 2.0
    if step_deg == 0.0:
        spacing = (high_deg - low_deg) / (count - 1) if count > 1 else 0.0
        if count > 1 and spacing <= 0.0:
            spacing = spare_spacing_deg
        return Places(middle - spacing * (count - 1) / 2.0, spacing, count)
    low, high = _stops(low_deg, high_deg, step_deg, origin_deg)
    if count == 1:
        spacing = 0.0
    elif high > low:
        spacing = step_deg * -((low - high) // (count - 1))
    else:
        spacing = step_deg * max(1, whole_steps(spare_spacing_deg, step_deg))
    length = spacing * (count - 1)
    covering = (high_deg - length, low_deg)
    inside = (max(covering[0], within_deg[0]), min(covering[1], within_deg[1] - length))
    first = middle - length / 2.0
    if origin_deg is not None:
        first = _at_stop(first, (inside, covering), step_deg, origin_deg)
    elif inside[0] <= inside[1]:
        first = min(max(first, inside[0]), inside[1])
    return Places(first, spacing, count)


def places_around(count: int, step_deg: float = 0.0) -> Places:
    """`count` places of a full turn from bearing -180, as even as the steps allow.

    With a step the places are whole steps away from bearing 0, and the last move of the turn,
    which closes it, is what remains. It is negative or 0 where a turn has fewer stops than that.
    """
    even = 360.0 / count
    if step_deg == 0.0:
        return Places(-180.0 + even / 2.0, even, count)
    choices = (
        Places(0.0, step_deg * max(1, stops), count)
        for stops in (whole_steps(even, step_deg), math.ceil(even / step_deg - _ROUNDING))
    )
    best = min(choices, key=lambda places: _widest_deg(places.spacing_deg, places.closing_deg))
    closing = best.closing_deg
    first = _at_stop(-180.0 + closing / 2.0, ((-180.0, -180.0 + closing),), step_deg, 0.0)
    return Places(first, best.spacing_deg, count)


def count_around(spacing_deg: float, step_deg: float = 0.0) -> int:
    """Least number of places of a full turn, neighbours at most `spacing_deg` apart.

    A spacing below one step counts as one.
    """
    if step_deg > 0.0:
        spacing_deg = step_deg * max(1, whole_steps(spacing_deg, step_deg))
    return columns_for_turn(spacing_deg / 2.0, 0.0)


def _widest_deg(spacing_deg: float, closing_deg: float) -> float:
    return max(spacing_deg, closing_deg) if closing_deg > _ROUNDING else math.inf


def _stops(low_deg: float, high_deg: float, step_deg: float, origin_deg: float | None) -> list[int]:
    """The last stop at or below `low_deg` and the first at or above `high_deg`, in steps."""
    origin = low_deg if origin_deg is None else origin_deg
    return [
        math.floor((low_deg - origin) / step_deg + _ROUNDING),
        math.ceil((high_deg - origin) / step_deg - _ROUNDING),
    ]


def _at_stop(
    value: float,
    ranges: Sequence[tuple[float, float]],
    step_deg: float,
    origin_deg: float,
) -> float:
    """The stop nearest to `value`, in the first of `ranges` that holds one."""
    stop = round((value - origin_deg) / step_deg)
    for low, high in ranges:
        lowest = math.ceil((low - origin_deg) / step_deg - _ROUNDING)
        highest = math.floor((high - origin_deg) / step_deg + _ROUNDING)
        if lowest <= highest:
            stop = min(max(stop, lowest), highest)
            break
    return origin_deg + step_deg * stop
