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
_WASTE = 2  # memory so many times too large is left to larger pictures


class Sheets:
    """Arrays on memory that is kept: about as much as is lent at one time, for each size."""

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
        """Memory that nobody holds; the largest that is too small is given up for new one."""
        free = {at: len(memory) for at, (memory, user) in enumerate(self._lent) if user() is None}
        fitting = [at for at, size in free.items() if wanted <= size <= _WASTE * wanted]
        if fitting:
            return self._lent.pop(min(fitting, key=free.__getitem__))[0]
        small = [at for at, size in free.items() if size < wanted]
        if small:
            del self._lent[max(small, key=free.__getitem__)]
        return np.empty(int(wanted * (1 + _SPARE)), np.uint8).data
