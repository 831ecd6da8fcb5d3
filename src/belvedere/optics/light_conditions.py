"""How bright common scenes are: the table that photographers carry in their heads.

Values at ISO 100 after ANSI PH2.7-1973 (revised 1986), as printed in encyclopedias; the names are
ours where the standard's are long. They are a beginning: a metered sample is better.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from belvedere.foundation import PlanError

#: Name to the lowest and highest EV100, from the brightest scene to the darkest within a family.
LIGHT_CONDITIONS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "sun on snow": (16.0, 16.0),
        "sunny": (15.0, 15.0),
        "hazy sun": (14.0, 14.0),
        "cloudy bright": (13.0, 13.0),
        "overcast": (12.0, 12.0),
        "open shade": (12.0, 12.0),
        "just before sunset": (12.0, 14.0),
        "sunset": (12.0, 12.0),
        "after sunset": (9.0, 11.0),
        "full moon disc": (15.0, 15.0),
        "neon signs": (9.0, 10.0),
        "bright street at night": (8.0, 8.0),
        "street at night": (7.0, 8.0),
        "floodlit building": (3.0, 5.0),
        "distant lit buildings": (2.0, 2.0),
        "moonlit landscape": (-3.0, -2.0),
        "office": (7.0, 8.0),
        "home": (5.0, 7.0),
    }
)

#: Scenes with a low or high sun that casts shadows: only there does its side matter.
_WITH_SHADOWS = frozenset({"sun on snow", "sunny", "hazy sun", "just before sunset", "sunset"})
_LIT_FROM_EV = {"front": 0.0, "side": -1.0, "back": -2.0}


def ev100_of(condition: str, lit_from: Literal["front", "side", "back"] = "front") -> float:
    """The middle of the table's EV100 for `condition`.

    Where the sun casts shadows, light from the side takes one EV and light from behind the
    subject two; without shadows `lit_from` changes nothing.

    Raises
    ------
    PlanError
        The condition is not in the table; the nearest names are given.
    """
    if condition not in LIGHT_CONDITIONS:
        raise PlanError(f'The light "{condition}" is not in the table.', _nearest_names(condition))
    if lit_from not in _LIT_FROM_EV:
        raise PlanError(
            f'Light from "{lit_from}" is not known.', 'Choose "front", "side" or "back".'
        )
    low, high = LIGHT_CONDITIONS[condition]
    return 0.5 * (low + high) + (_LIT_FROM_EV[lit_from] if condition in _WITH_SHADOWS else 0.0)


def _nearest_names(condition: str) -> str:
    near = difflib.get_close_matches(condition.lower(), LIGHT_CONDITIONS, n=3, cutoff=0.5)
    if near:
        return f"Nearest: {', '.join(near)}."
    return f"Choose from: {', '.join(LIGHT_CONDITIONS)}."
