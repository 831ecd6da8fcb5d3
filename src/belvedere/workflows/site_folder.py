"""The folder of a site: there whole or not at all, and never somebody else's."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from belvedere.foundation import PublishError

#: A site's own note: it tells a site of ours from a folder of somebody else's.
NOTE = "belvedere-site.json"
SCHEMA = "belvedere/site/1"


def read_note(site: Path) -> dict[str, Any] | None:
    """The note of the site at `site`; None where there is none of ours."""
    try:
        note = json.loads((site / NOTE).read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return note if isinstance(note, dict) and note.get("schema") == SCHEMA else None


def check_target(site: Path) -> None:
    """Refuse a place where a site must not, or cannot, be written.

    Raises
    ------
    PublishError
        Where there is a file, a folder with something else in it, or no folder to write into.
    """
    parent = site.parent
    if not parent.is_dir():
        raise PublishError(
            f"The folder {parent} does not exist.", "Create it or choose another place."
        )
    if not os.access(parent, os.W_OK | os.X_OK):
        raise PublishError(f"The folder {parent} cannot be written.", "Choose another place.")
    if not site.exists() and not site.is_symlink():
        return
    if site.is_symlink() or not site.is_dir():
        raise PublishError(f"{site} is not a folder.", "Give a new name for the site.")
    there = {entry.name for entry in site.iterdir()}
    if not there:
        return
    note = read_note(site)
    if note is None:
        raise PublishError(
            f"{site} is not empty and is no site of Belvedere's.", "Give a new name for the site."
        )
    strange = sorted(there - set(note.get("entries", [])) - {NOTE})
    if strange:
        raise PublishError(
            f"{site} holds what Belvedere did not write ({', '.join(strange[:3])}).",
            "Move that away, or give a new name for the site.",
        )


@contextmanager
def new_site(site: Path) -> Iterator[Path]:
    """A temporary folder beside `site` that takes its place when the block ends well.

    What stood there before is removed only when the new site is in place.
    """
    check_target(site)
    _sweep(site)
    partial = site.with_name(f".{site.name}.{os.getpid()}.part")
    former = site.with_name(f".{site.name}.{os.getpid()}.former")
    try:
        partial.mkdir()
        yield partial
        check_target(site)
        _swap(partial, site, former)
    except OSError as error:
        raise PublishError(
            f"{site} cannot be written: {error.strerror or error}.",
            "Choose another place or make room there.",
        ) from error
    finally:
        shutil.rmtree(partial, ignore_errors=True)


def _swap(partial: Path, site: Path, former: Path) -> None:
    if site.exists():
        site.replace(former)
    try:
        partial.replace(site)
    except OSError:
        if former.exists():
            former.replace(site)
        raise
    shutil.rmtree(former, ignore_errors=True)


def _sweep(site: Path) -> None:
    """Remove what a run that was killed left beside `site`."""
    for left in site.parent.glob(f".{site.name}.*.part"):
        pid = left.name.removesuffix(".part").rpartition(".")[2]
        if pid.isdigit() and not _runs(int(pid)):
            shutil.rmtree(left, ignore_errors=True)


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
