"""Two frames that overlap, as far as the pictures show it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.thresholds import (
    FIRM_SHARE,
    FIRM_SUPPORT,
    HARD_AGREEMENT,
    HARD_SHARE,
    NEAR_SUPPORT,
)

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Met:
    """Two frames that overlap, by their numbers.

    `shift_px` (2,) is where the content moves from the first to the second: as found where
    `support` (natural log) is enough, else as expected. `hard` is the share of the overlap with
    hard detail, and `agreement` how far both frames agree on it, -1 to 1. `still` says for each of
    both whether what it shows there surely stands still: others show the same of it.
    """

    first: int
    second: int
    shift_px: FloatArray
    support: float
    hard: float
    agreement: float
    still: tuple[bool, bool] = (True, True)

    @property
    def found(self) -> bool:
        """Whether the pictures show it."""
        return self.support >= NEAR_SUPPORT

    @property
    def firm(self) -> bool:
        """Whether houses and rocks are seen in it: clouds sail on and match where they are."""
        if not self.found or self.agreement < HARD_AGREEMENT:
            return False
        return self.hard >= (HARD_SHARE if self.support >= FIRM_SUPPORT else FIRM_SHARE)

    @property
    def silent(self) -> bool:
        """Whether there was enough to see, and nothing of it was found."""
        return not self.found and self.hard >= HARD_SHARE

    def seen_from(self, frame: int) -> tuple[tuple[int, int], FloatArray]:
        """Both frames and the displacement with `frame`, one of them, named first."""
        if frame == self.first:
            return (self.first, self.second), self.shift_px
        return (self.second, self.first), -self.shift_px
