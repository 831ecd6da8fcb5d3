"""Read cards through the shoot's catalogue: a picture seen before is not decoded again."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from belvedere.foundation import Steps
from belvedere.imagefiles import CardReading, Looker, Reading, read_card_with_pictures
from belvedere.shoot import Frame, Settings
from belvedere.store import Catalogue


def read_card_once(
    card: Path,
    catalogue: Catalogue | None,
    only: tuple[str, ...] | None = None,
    looker: Looker | None = None,
) -> Steps[CardReading]:
    """A card, read; what is new goes into the catalogue, where there is one, and by `looker`."""
    known = {} if catalogue is None else known_readings(catalogue)
    reading = yield from read_card_with_pictures(card, known, only, looker)
    if catalogue is not None:
        catalogue.add_readings(
            (found.frame.content_hash, _said(found), found.small.tobytes())
            for found in reading.readings
            if found.frame.content_hash and found.frame.content_hash not in known
        )
    return reading


def known_readings(catalogue: Catalogue) -> dict[str, Reading]:
    """The catalogue's readings by content hash."""
    return {
        content_hash: _reading(said, small)
        for content_hash, (said, small) in catalogue.readings().items()
    }


def _said(reading: Reading) -> dict[str, Any]:
    frame = asdict(reading.frame)
    taken_at = reading.frame.taken_at
    frame["taken_at"] = None if taken_at is None else taken_at.isoformat()
    return {
        "frame": frame,
        "orientation": reading.orientation,
        "small": list(reading.small.shape),
    }


def _reading(said: dict[str, Any], small: bytes) -> Reading:
    frame = dict(said["frame"])
    taken_at = frame["taken_at"]
    frame["taken_at"] = None if taken_at is None else datetime.fromisoformat(taken_at)
    frame["settings"] = Settings(**frame["settings"])
    picture = np.frombuffer(small, dtype=np.uint8).reshape(said["small"])
    return Reading(Frame(**frame), int(said["orientation"]), picture)
