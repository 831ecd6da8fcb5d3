"""The window through which pure rooms see pixels."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]


class FrameSource(Protocol):
    """Upright pictures by the name of their file; `imagefiles` implements it.

    `shrink` is 1, 2, 4 or 8: the picture decoded at that fraction of its size (rounded up), as
    the mean of the pixels it covers. A damaged file gives what could be decoded, grey below, or
    raises CardError where nothing could.
    """

    def colour(self, file: str, shrink: int = 1) -> Pixels:
        """The picture as (height, width, 3) RGB."""
        ...

    def grey(self, file: str, shrink: int = 1) -> Pixels:
        """The luma of the picture as (height, width)."""
        ...
