"""Files that are still being written: left alone until they are whole.

Told by size, time and ending alone, in looks some tenths of a second apart: neither cards nor
network folders report what changes in them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from pathlib import Path

from belvedere.check.thresholds import STUCK_S
from belvedere.foundation import CardError
from belvedere.imagefiles import picture_files


@dataclass(frozen=True, slots=True)
class Sight:
    """What a folder says of a file without its being opened."""

    size_bytes: int
    changed_ns: int


@dataclass(frozen=True, slots=True)
class Arriving:
    """A file on its way: when it appeared, and since when it has looked the same.

    `stuck` is set once it was given up; it is looked at again only when it changes.
    """

    sight: Sight
    appeared_s: float
    still_since_s: float
    stuck: bool = False


@dataclass(frozen=True, slots=True)
class Settled:
    """What one look at the folder tells: files on their way, whole ones, and those stuck."""

    arriving: Mapping[str, Arriving]
    whole: tuple[str, ...]
    stuck: tuple[str, ...]


def settle(
    before: Mapping[str, Arriving],
    sights: Mapping[str, Sight],
    now_s: float,
    ends_whole: Callable[[str], bool | None],
    patience_s: float,
) -> Settled:
    """Sort the files that were not whole so far; `sights` has no others.

    A file is whole when it looked the same twice and ends as its format asks, or, where the format
    does not tell, has looked the same for `STUCK_S`. A cut one is stuck after `patience_s`.
    """
    arriving: dict[str, Arriving] = {}
    whole: list[str] = []
    stuck: list[str] = []
    for file, sight in sights.items():
        known = before.get(file)
        if known is None or known.sight != sight:
            appeared_s = now_s if known is None else known.appeared_s
            arriving[file] = Arriving(sight, appeared_s, now_s)
            continue
        arriving[file] = known
        if known.stuck:
            continue
        ends, still_s = ends_whole(file), now_s - known.still_since_s
        if ends or (ends is None and still_s >= STUCK_S):
            whole.append(file)
            del arriving[file]
        elif still_s >= patience_s:
            stuck.append(file)
            arriving[file] = replace(known, stuck=True)
    return Settled(arriving, tuple(whole), tuple(stuck))


def look(root: Path, done: AbstractSet[str]) -> tuple[dict[str, Sight], int] | None:
    """The picture files below `root` that are not `done`, and how many there are of all.

    None where the folder is not there. A file that vanishes while it is looked at is left out.
    """
    if not root.is_dir():
        return None
    try:
        files = picture_files(root)
    except CardError:  # it is empty, or was pulled at this moment
        return ({}, 0) if root.is_dir() else None
    sights: dict[str, Sight] = {}
    for file in files:
        if file in done:
            continue
        try:
            stat = (root / file).stat()
        except OSError:
            continue
        sights[file] = Sight(stat.st_size, stat.st_mtime_ns)
    return sights, len(files)
