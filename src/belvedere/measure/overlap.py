"""Which two frames show the same part of the scene, and how one lies on the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Overlap:
    """Two frames that share a part of the scene.

    `b_from_a` (3, 3) maps full-size pixels of `file_a` to those of `file_b`: a homography, or
    a plain translation where only a shift was measured; good to a few pixels, to be refined
    locally. `support` is between 0 and 1: how sure it is that the two really overlap so. `firm`
    is False where hard detail, such as houses, does not agree: clouds and waves may have moved.
    `still_a` and `still_b` say whether what the one or the other shows there surely stands still.
    """

    file_a: str
    file_b: str
    b_from_a: NDArray[np.float64]
    support: float
    firm: bool = True
    still_a: bool = True
    still_b: bool = True
