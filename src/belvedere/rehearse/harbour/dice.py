"""Random choices that depend on a name and nothing else.

Objects draw their details level by level, and what is skipped at a coarse scale must not
change what is drawn at a fine one: so every choice is hashed from its own key.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TypeVar

T = TypeVar("T")
_MASK = (1 << 64) - 1


class Dice:
    """A family of fair choices, keyed by integers."""

    __slots__ = ("_seed",)

    def __init__(self, *keys: int) -> None:
        self._seed = _seed_of(keys)

    def child(self, *keys: int) -> Dice:
        """A family of its own for a part of this object."""
        return Dice(self._seed, *keys)

    def unit(self, *keys: int) -> float:
        """Uniform in 0..1."""
        return _unit(self._seed, keys)

    def between(self, low: float, high: float, *keys: int) -> float:
        """Uniform in low..high."""
        return low + (high - low) * self.unit(*keys)

    def chance(self, probability: float, *keys: int) -> bool:
        """True with this probability."""
        return self.unit(*keys) < probability

    def choice(self, options: Sequence[T], *keys: int) -> T:
        """One of the options."""
        return options[int(self.unit(*keys) * len(options))]

    def whole(self, low: int, high: int, *keys: int) -> int:
        """An integer in low..high, both included."""
        return low + int(self.unit(*keys) * (high - low + 1))


@lru_cache(maxsize=1 << 17)
def _unit(seed: int, keys: tuple[int, ...]) -> float:
    """The same choices are asked for in every frame: hashing them once is enough."""
    h = seed
    for key in keys:
        h = _mix(h ^ (key & _MASK))
    return _mix(h) / 18446744073709551616.0


@lru_cache(maxsize=1 << 15)
def _seed_of(keys: tuple[int, ...]) -> int:
    seed = 0x9E3779B97F4A7C15
    for key in keys:
        seed = _mix(seed ^ (key & _MASK))
    return seed


def _mix(h: int) -> int:
    h = (h + 0x9E3779B97F4A7C15) & _MASK
    h = ((h ^ (h >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    h = ((h ^ (h >> 27)) * 0x94D049BB133111EB) & _MASK
    return h ^ (h >> 31)
