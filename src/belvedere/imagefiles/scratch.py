"""Scratch arrays on disk: room for what memory should not hold."""

from __future__ import annotations

import mmap
import os
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import StoreError


@dataclass(frozen=True, slots=True)
class _Held:
    file: IO[bytes]
    shape: tuple[int, ...]
    dtype: np.dtype[Any]


class DiskScratch:
    """Arrays as files without a name, mapped only while a part is read or written.

    They lie on the disk of `folder` and are gone when the scratch is closed, or when the process
    ends, in whatever way.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._held: dict[str, _Held] = {}
        self._open = ExitStack()

    def __enter__(self) -> DiskScratch:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def create(self, name: str, shape: tuple[int, ...], dtype: type[np.generic]) -> None:
        """Make room for an array of zeros."""
        size = int(np.prod(shape, dtype=np.int64)) * np.dtype(dtype).itemsize
        try:
            unnamed = TemporaryFile(dir=self._folder)  # noqa: SIM115
            file = self._open.enter_context(unnamed)
            # Reserved, not sparse: a full disk must be an error now and not a crash later.
            os.posix_fallocate(file.fileno(), 0, max(size, 1))
        except OSError as error:
            raise StoreError(
                f"There is no room for scratch files in {self._folder}: {error.strerror or error}.",
                "Make room on that disk, or write the mosaic to another one.",
            ) from error
        self._held[name] = _Held(file, shape, np.dtype(dtype))

    def write(self, name: str, at: tuple[slice | int, ...], values: NDArray[Any]) -> None:
        """Set a part of it; parts may be written from several threads if they do not meet."""
        self._mapped(name, mmap.ACCESS_WRITE)[at] = values

    def read(self, name: str, at: tuple[slice | int, ...]) -> NDArray[Any]:
        """A copy of a part of it."""
        return np.array(self._mapped(name, mmap.ACCESS_READ)[at])

    def drop(self, name: str) -> None:
        """Give its room back."""
        self._held.pop(name).file.close()

    def _mapped(self, name: str, access: int) -> NDArray[Any]:
        held = self._held[name]
        mapped = mmap.mmap(held.file.fileno(), 0, access=access)
        return np.ndarray(held.shape, held.dtype, buffer=mapped)
