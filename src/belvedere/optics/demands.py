"""What the formulae of this room demand of their numbers, said in one sentence."""

from __future__ import annotations

import math

from belvedere.foundation import PlanError


def demand_positive(value: float, what: str, unit: str = "") -> None:
    """Refuse a number that is not finite and above zero; `what` begins the sentence."""
    if not (math.isfinite(value) and value > 0.0):
        raise PlanError(
            f"{what} is {f'{value:g} {unit}'.strip()}; it must be above 0.",
            "Give a number above 0.",
        )


def demand_not_negative(value: float, what: str, unit: str = "") -> None:
    """Refuse a number that is not finite or lies below zero; `what` begins the sentence."""
    if not (math.isfinite(value) and value >= 0.0):
        raise PlanError(
            f"{what} is {f'{value:g} {unit}'.strip()}; it cannot be below 0.",
            "Give 0 or a number above it.",
        )


def demand_range(near_m: float, far_m: float) -> None:
    """Refuse a pair of distances that is not 0 < near ≤ far; far may be infinite."""
    demand_positive(near_m, "The near distance", "m")
    if not far_m >= near_m:
        raise PlanError(
            f"The far distance is {far_m:g} m and the near one {near_m:g} m.",
            "Give a far distance at least as large as the near one.",
        )
