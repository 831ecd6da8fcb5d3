"""What compose asks of the world: somewhere to put pixels."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from belvedere.compose.model import Layout, Window

Pixels = NDArray[np.uint8]


class BlockSink(Protocol):
    """Takes the finished mosaic, block by block, level by level; `imagefiles` implements it.

    Blocks come in any order, from several threads, each once. Their edges lie on multiples of
    `tile_px` except at the right and bottom edge of a level.
    """

    @property
    def tile_px(self) -> int:
        """Width and height of the tiles it writes."""
        ...

    def begin(self, layout: Layout, levels: int) -> None:
        """Before the first block: the mosaic's shape, and how many levels will come."""
        ...

    def put(self, level: int, window: Window, rgb: Pixels) -> None:
        """One block: (height, width, 3) RGB for `window` of `level`."""
        ...


class Scratch(Protocol):
    """Arrays too large for memory, by name; gone when the work is done."""

    def create(self, name: str, shape: tuple[int, ...], dtype: type[np.generic]) -> None:
        """Make room for an array of zeros."""
        ...

    def write(self, name: str, at: tuple[slice | int, ...], values: NDArray[Any]) -> None:
        """Set a part of it; parts may be written from several threads if they do not meet."""
        ...

    def read(self, name: str, at: tuple[slice | int, ...]) -> NDArray[Any]:
        """A copy of a part of it."""
        ...

    def drop(self, name: str) -> None:
        """Give its room back."""
        ...
