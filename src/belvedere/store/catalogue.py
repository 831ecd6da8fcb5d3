"""The shoot's catalogue: what was read of each picture, which frames are retakes.

An SQLite file in `.belvedere` beside the shoot file. Readings are kept by content hash, so a
second look at a card costs little and a copied card nothing more.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from belvedere.foundation import StoreError

FOLDER = ".belvedere"
_FILE = "catalogue.sqlite"
_LAYOUT = 1

_TABLES = """
CREATE TABLE IF NOT EXISTS notes (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS readings (
    content_hash TEXT PRIMARY KEY, said TEXT NOT NULL, small BLOB NOT NULL);
CREATE TABLE IF NOT EXISTS results (fingerprint TEXT PRIMARY KEY, said TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS retakes (
    number INTEGER PRIMARY KEY AUTOINCREMENT, card TEXT NOT NULL, file TEXT NOT NULL,
    content_hash TEXT NOT NULL, row INTEGER NOT NULL, col INTEGER NOT NULL,
    UNIQUE (card, file));
"""


@dataclass(frozen=True, slots=True)
class Retake:
    """A frame that the person took again for a cell: file of a card (absolute path)."""

    card: Path
    file: str
    content_hash: str
    row: int
    column: int


class Catalogue:
    """An open catalogue; use `open_catalogue`."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._db = connection

    def note(self, name: str) -> str | None:
        """What was noted under `name`, such as the card that was checked last."""
        row = self._db.execute("SELECT value FROM notes WHERE name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def set_note(self, name: str, value: str) -> None:
        """Note `value` under `name`."""
        self._db.execute("INSERT OR REPLACE INTO notes VALUES (?, ?)", (name, value))

    def readings(self) -> dict[str, tuple[dict[str, Any], bytes]]:
        """All readings: content hash to what was said and the small picture."""
        rows = self._db.execute("SELECT content_hash, said, small FROM readings")
        return {str(key): (json.loads(said), bytes(small)) for key, said, small in rows}

    def add_readings(self, readings: Iterable[tuple[str, dict[str, Any], bytes]]) -> None:
        """Keep readings: content hash, what was said, the small picture."""
        self._db.executemany(
            "INSERT OR REPLACE INTO readings VALUES (?, ?, ?)",
            # One by one: all small pictures of a large card once more would fill the memory.
            ((key, json.dumps(said), small) for key, said, small in readings),
        )

    def result(self, fingerprint: str) -> dict[str, Any] | None:
        """The result of a step whose inputs had this fingerprint."""
        row = self._db.execute(
            "SELECT said FROM results WHERE fingerprint = ?", (fingerprint,)
        ).fetchone()
        if row is None:
            return None
        said: dict[str, Any] = json.loads(row[0])
        return said

    def keep_result(self, fingerprint: str, said: dict[str, Any]) -> None:
        """Keep the result of a step under the fingerprint of its inputs."""
        self._db.execute(
            "INSERT OR REPLACE INTO results VALUES (?, ?)", (fingerprint, json.dumps(said))
        )

    def retakes(self) -> tuple[Retake, ...]:
        """The registered retakes, in the order registered."""
        rows = self._db.execute(
            "SELECT card, file, content_hash, row, col FROM retakes ORDER BY number"
        )
        return tuple(Retake(Path(card), file, key, row, col) for card, file, key, row, col in rows)

    def register(self, retakes: Iterable[Retake]) -> None:
        """Register retakes; one that is there already moves to the end with its new cell."""
        for retake in retakes:
            card = str(retake.card)
            self._db.execute("DELETE FROM retakes WHERE card = ? AND file = ?", (card, retake.file))
            self._db.execute(
                "INSERT INTO retakes (card, file, content_hash, row, col) VALUES (?, ?, ?, ?, ?)",
                (card, retake.file, retake.content_hash, retake.row, retake.column),
            )


def catalogue_folder(shoot_file: Path) -> Path:
    """Where the catalogue of a shoot lies."""
    return shoot_file.resolve().parent / FOLDER


@contextmanager
def open_catalogue(shoot_file: Path) -> Iterator[Catalogue]:
    """The catalogue beside `shoot_file`, made where there is none; all or nothing is written.

    Raises
    ------
    StoreError
        Where it cannot be read or written.
    """
    folder = catalogue_folder(shoot_file)
    path = folder / _FILE
    try:
        folder.mkdir(exist_ok=True)
        connection = sqlite3.connect(path, timeout=10.0)
    except (OSError, sqlite3.Error) as error:
        raise _unusable(path, error) from error
    try:
        with connection:
            _lay_out(connection, path)
            yield Catalogue(connection)
    except sqlite3.Error as error:
        raise _unusable(path, error) from error
    finally:
        connection.close()


def _lay_out(connection: sqlite3.Connection, path: Path) -> None:
    layout = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if layout > _LAYOUT:
        raise StoreError(
            f"{path} was written by a newer Belvedere (layout {layout}, this one knows {_LAYOUT}).",
            "Use the newer one.",
        )
    if layout < _LAYOUT:
        # One transaction: each waits for the disk.
        connection.executescript(f"BEGIN;{_TABLES}PRAGMA user_version = {_LAYOUT};COMMIT;")


def _unusable(path: Path, error: Exception) -> StoreError:
    return StoreError(
        f"The shoot's catalogue {path} cannot be used: {error}.",
        "Make the folder of the shoot file writable, or delete the catalogue to begin anew.",
    )
