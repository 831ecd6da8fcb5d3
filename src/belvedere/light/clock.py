"""The wall clock at a place: local time and time zone to one moment."""

from __future__ import annotations

import difflib
import zoneinfo
from datetime import datetime, timedelta, timezone

from belvedere.foundation import PlanError


def zoned(local: datetime, time_zone: str) -> datetime:
    """The moment at which the clocks of `time_zone` show `local`.

    The result carries a fixed offset from UTC, as the camera's clock does: sums with it stay
    right where the clocks change later in the same night.

    Parameters
    ----------
    local
        Date and time without an offset.
    time_zone
        Name in the IANA time zone database, such as "Etc/UTC".

    Raises
    ------
    PlanError
        If the zone is unknown, or if its clocks show `local` never or twice.
    """
    if local.tzinfo is not None:
        raise PlanError(
            f"The time {local.isoformat()} has an offset from UTC and a time zone beside it.",
            "Leave out one of the two.",
        )
    zone = _zone(time_zone)
    # PEP 495: fold 0 takes the offset before a change of the clocks, fold 1 the one after.
    before = _fixed(local.replace(tzinfo=zone, fold=0))
    after = _fixed(local.replace(tzinfo=zone, fold=1))
    if before.utcoffset() == after.utcoffset():
        return before
    if before.astimezone(zone).replace(tzinfo=None) != local:
        raise _never(local, time_zone, before.astimezone(zone))
    raise PlanError(
        f"{_shown(local)} exists twice in {time_zone}: the clocks go back, and show it first at "
        f"{before.tzname()} and again at {after.tzname()}.",
        f"Write which one: {before.isoformat()} or {after.isoformat()}.",
    )


def _fixed(moment: datetime) -> datetime:
    return moment.replace(tzinfo=timezone(moment.utcoffset() or timedelta(0)), fold=0)


def _never(local: datetime, time_zone: str, instead: datetime) -> PlanError:
    return PlanError(
        f"{_shown(local)} does not exist in {time_zone}: the clocks go forward over it.",
        f"Write another time; {instead:%H:%M} is what they show instead.",
    )


def _shown(local: datetime) -> str:
    return f"{local:%H:%M} on {local:%Y-%m-%d}"


def _zone(name: str) -> zoneinfo.ZoneInfo:
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        raise PlanError(f'There is no time zone "{name}".', _nearest(name)) from None


def _nearest(name: str) -> str:
    """What to write instead of a name that the database does not have."""
    known = {zone.lower(): zone for zone in zoneinfo.available_timezones()}
    asked = name.lower().replace(" ", "_")
    # People write the last part alone; the database has region and place.
    ends = [zone for key, zone in sorted(known.items()) if asked and key.split("/")[-1] == asked]
    close = [known[key] for key in difflib.get_close_matches(asked, known, n=3, cutoff=0.6)]
    names = list(dict.fromkeys(ends + close))[:3]
    if not names:
        return 'Write a name of the IANA list, such as "Etc/UTC", or the start with its offset.'
    listed = " or ".join(f'"{zone}"' for zone in names)
    return f"Did you mean {listed}? The start with its offset from UTC does as well."
