"""Scratch arrays on disk: room for what memory should not hold."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import StoreError


class DiskScratch:
    """Arrays as files in one folder, mapped only while a part is read or written.

    The folder is the caller's: it makes it and takes it away.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._shapes: dict[str, tuple[tuple[int, ...], np.dtype[Any]]] = {}

    def create(self, name: str, shape: tuple[int, ...], dtype: type[np.generic]) -> None:
        """Make room for an array of zeros."""
        self._shapes[name] = (shape, np.dtype(dtype))
        size = int(np.prod(shape, dtype=np.int64)) * np.dtype(dtype).itemsize
        try:
            with self._path(name).open("wb") as file:
                # Reserved, not sparse: a full disk must be an error now and not a crash later.
                os.posix_fallocate(file.fileno(), 0, max(size, 1))
        except OSError as error:
            raise _full(self._folder, error) from error

    def write(self, name: str, at: tuple[slice | int, ...], values: NDArray[Any]) -> None:
        """Set a part of it; parts may be written from several threads if they do not meet."""
        mapped = self._mapped(name, "r+")
        mapped[at] = values

    def read(self, name: str, at: tuple[slice | int, ...]) -> NDArray[Any]:
        """A copy of a part of it."""
        return np.array(self._mapped(name, "r")[at])

    def drop(self, name: str) -> None:
        """Give its room back."""
        del self._shapes[name]
        self._path(name).unlink()

    def _mapped(self, name: str, mode: str) -> np.memmap[Any, np.dtype[Any]]:
        shape, dtype = self._shapes[name]
        try:
            return np.memmap(self._path(name), dtype, mode, shape=shape)  # type: ignore[call-overload,no-any-return]
        except OSError as error:
            raise _full(self._folder, error) from error

    def _path(self, name: str) -> Path:
        return self._folder / name


def _full(folder: Path, error: OSError) -> StoreError:
    return StoreError(
        f"The scratch folder {folder} cannot be used: {error.strerror or error}.",
        "Make room on that disk, or write the mosaic to another one.",
    )
