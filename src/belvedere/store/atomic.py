"""Files that are there whole or not at all."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from belvedere.foundation import StoreError


@contextmanager
def atomic_path(path: Path) -> Iterator[Path]:
    """A temporary path beside `path`, renamed to it when the block ends without an error."""
    partial = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield partial
        partial.replace(path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        partial.unlink(missing_ok=True)


def ensure_writable(path: Path) -> None:
    """Refuse early, before long work, where a file could not be written to `path`."""
    folder = path.parent
    if not folder.is_dir():
        raise StoreError(
            f"The folder {folder} does not exist.", "Create it or choose another place."
        )
    if path.is_dir():
        raise StoreError(f"{path} is a folder.", "Give the name of a file.")
    probe = folder / f".{path.name}.{os.getpid()}.probe"
    try:
        probe.touch()
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        probe.unlink(missing_ok=True)


def _unwritable(path: Path, error: OSError) -> StoreError:
    return StoreError(
        f"{path} cannot be written: {error.strerror or error}.",
        "Choose another place or make room there.",
    )


def write_text(path: Path, text: str) -> None:
    """Write `text` to `path` in UTF-8, whole or not at all."""
    with atomic_path(path) as partial:
        partial.write_text(text, "utf-8")


def write_bytes(path: Path, content: bytes) -> None:
    """Write `content` to `path`, whole or not at all."""
    with atomic_path(path) as partial:
        partial.write_bytes(content)


def write_json(path: Path, document: dict[str, Any]) -> None:
    """Write `document` to `path` as indented JSON, whole or not at all."""
    write_text(path, json.dumps(document, indent=2, ensure_ascii=False) + "\n")
