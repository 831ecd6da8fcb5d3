"""Files that are there whole or not at all."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from belvedere.foundation import StoreError

#: A part that nobody has touched for so long was left by a run that was killed, if its process is
#: gone; in a folder shared by machines that process may run elsewhere, and writes on.
_LEFT_AFTER_S, _LEFT_ANYHOW_S = 60.0, 86_400.0


@contextmanager
def atomic_path(path: Path) -> Iterator[Path]:
    """A temporary path beside `path`, renamed to it when the block ends without an error.

    Parts of the same file that killed runs left behind are removed.
    """
    _clear_left(path)
    partial = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield partial
        partial.replace(path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        partial.unlink(missing_ok=True)


def _clear_left(path: Path) -> None:
    """Remove what killed runs left of `path`; what cannot be removed stays."""
    named = re.compile(rf"\.{re.escape(path.name)}\.(\d+)\.(?:part|probe)")
    with suppress(OSError):
        for found in list(path.parent.iterdir()):
            name = named.fullmatch(found.name)
            if name is None:
                continue
            with suppress(OSError):
                untouched_s = time.time() - found.stat().st_mtime
                gone = untouched_s > _LEFT_AFTER_S and not _runs(int(name[1]))
                if gone or untouched_s > _LEFT_ANYHOW_S:
                    found.unlink()


def _runs(process: int) -> bool:
    """Whether a process runs on this machine; yes where that cannot be asked harmlessly."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


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
