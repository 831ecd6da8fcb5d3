"""A step in colour as a person sees it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_tone import ab_difference

#: CIEDE2000 beyond which a step is clear to everyone, and beyond which it is glaring.
_CLEAR, _GREAT = 5.0, 12.0


def cast(ab: NDArray[np.float64]) -> str:
    """A colour step (2,) in words: a* runs from green to magenta, b* from blue to yellow."""
    a, b = float(ab[0]), float(ab[1])
    away = ab_difference(ab)
    how = "a little " if away < _CLEAR else "much " if away > _GREAT else ""
    if abs(b) > 0.6 * abs(a):
        return how + ("warmer" if b > 0 else "cooler")
    return how + ("more magenta" if a > 0 else "greener")
