"""Memory for whole pictures, used again and again.

A fresh array of a hundred megabytes costs the system more time than filling it: every page is
cleared first. Sheets are lent instead, and come back by themselves when nobody holds them.
"""

from __future__ import annotations

import math
from typing import Any
from weakref import ReferenceType, ref

import numpy as np
from numpy.typing import NDArray

_SMALL = 1 << 20  # bytes that are not worth it
_SPARE = 1 / 16  # frames differ a little in size
_WASTE = 4  # a sheet so many times too large is left alone


class Sheets:
    """Arrays on memory that is kept. It holds as much as was ever lent at one time."""

    __slots__ = ("_lent",)

    def __init__(self) -> None:
        self._lent: list[tuple[memoryview, ReferenceType[NDArray[Any]]]] = []

    @property
    def held_bytes(self) -> int:
        """The memory that is lent or waits for the next picture."""
        return sum(memory.nbytes for memory, _ in self._lent)

    def empty(self, shape: tuple[int, ...], dtype: Any) -> NDArray[Any]:
        """An array with any content, free to be kept for as long as wanted."""
        count = math.prod(shape)
        wanted = count * np.dtype(dtype).itemsize
        if wanted < _SMALL:
            return np.empty(shape, dtype)
        memory = self._free(wanted)
        # Views of views refer to this array, as its memory belongs to no other array.
        sheet = np.frombuffer(memory, dtype, count)
        self._lent.append((memory, ref(sheet)))
        return sheet.reshape(shape)

    def _free(self, wanted: int) -> memoryview:
        """Memory that nobody holds; what is free and too small is given up for it."""
        free = [(memory, at) for at, (memory, user) in enumerate(self._lent) if user() is None]
        fitting = [one for one in free if wanted <= one[0].nbytes <= _WASTE * wanted]
        if fitting:
            memory, at = min(fitting, key=lambda one: one[0].nbytes)
            del self._lent[at]
            return memory
        if free:
            del self._lent[max(free, key=lambda one: one[0].nbytes)[1]]
        return np.empty(int(wanted * (1 + _SPARE)), np.uint8).data
