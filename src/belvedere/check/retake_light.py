"""Whether the light allows the retakes: the sun since the sweep, and how long it will stay."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from belvedere.check.model import RetakeLight
from belvedere.check.place import Placing
from belvedere.check.thresholds import (
    CLOCK_TRUSTED_H,
    LIGHT_LOST_EV,
    LIGHT_SAME_EV,
    READY_AGAIN_S,
)
from belvedere.foundation import duration_words
from belvedere.light import Site, day_events, daylight_ev100, shadow_move_deg, sun_positions
from belvedere.shoot import Cell, Plan

#: Shadows that turned by less look as before.
_SHADOWS_TURNED_DEG = 5.0
#: A sunset further off needs no word.
_SUNSET_NEAR = timedelta(hours=3)


def retake_light(
    plan: Plan, way: Sequence[Cell], placing: Placing, seconds: float
) -> RetakeLight | None:
    """What the sky says to retakes that begin some minutes after the last frame of the card.

    None where the shoot file has no place or no start, or where the camera's clock is so far off
    that start that it cannot be trusted: then nobody knows.
    """
    place, start = plan.shoot.conditions.place, plan.shoot.conditions.start
    known = [
        (int(cell), frame.taken_at)
        for frame, cell in zip(placing.frames, placing.cell, strict=True)
        if cell >= 0 and frame.taken_at is not None
    ]
    if place is None or start is None or not known:
        return None
    local = start.replace(tzinfo=None)
    if abs(known[0][1] - local) > timedelta(hours=CLOCK_TRUSTED_H):
        return None
    begin = max(at for _, at in known) + timedelta(seconds=READY_AGAIN_S)
    site = Site(place.latitude_deg, place.longitude_deg, place.altitude_m)
    index = {(cell.row, cell.column): number for number, cell in enumerate(plan.cells)}
    first = _taken(known, [index[cell.row, cell.column] for cell in way])
    again = [begin + timedelta(seconds=seconds * n / len(way)) for n in range(1, len(way) + 1)]
    return _said(start, site, first, again, begin)


def _taken(known: Sequence[tuple[int, datetime]], wanted: Sequence[int]) -> list[datetime]:
    """When the sweep was at each cell: the time of the frame nearest to it in the sweep."""
    cells = np.array([cell for cell, _ in known])
    return [known[int(np.abs(cells - index).argmin())][1] for index in wanted]


def _said(
    start: datetime,
    site: Site,
    first: Sequence[datetime],
    again: Sequence[datetime],
    begin: datetime,
) -> RetakeLight:
    zone = start.tzinfo
    moments = [at.replace(tzinfo=zone) for at in (*first, *again)]
    sun = sun_positions(moments, site.latitude_deg, site.longitude_deg, site.altitude_m)
    count = len(first)
    change = np.diff(daylight_ev100(sun.elevation_deg).reshape(2, count), axis=0)[0]
    worst = int(abs(change).argmax())
    shadows = shadow_move_deg(
        sun.azimuth_deg[:count],
        sun.apparent_elevation_deg[:count],
        sun.azimuth_deg[count:],
        sun.apparent_elevation_deg[count:],
    )
    turned = None if np.isnan(shadows).all() else float(np.nanmax(shadows))
    end = moments[-1]
    sunset = _sunset(start, site, moments[0])
    allows = abs(float(change[worst])) <= LIGHT_LOST_EV and (sunset is None or end <= sunset)
    return RetakeLight(
        allows,
        begin.replace(tzinfo=zone),
        end,
        round(float(change[worst]), 2),
        None if turned is None else round(turned, 1),
        sunset,
        _words(begin, end, float(change[worst]), turned, sunset),
    )


def _sunset(start: datetime, site: Site, after: datetime) -> datetime | None:
    """The end of the day, where the sun is up at `after`."""
    rims = [e for e in day_events(start, site) if e.name in ("sunrise", "sunset") and e.at >= after]
    return rims[0].at if rims and rims[0].name == "sunset" else None


def _words(
    begin: datetime, end: datetime, change_ev: float, turned: float | None, sunset: datetime | None
) -> str:
    says = f"begin by {begin:%H:%M} and you are done at {end:%H:%M}"
    if sunset is not None and end > sunset:
        return f"{says}, but the sun sets at {sunset:%H:%M}: too late today; {_ANOTHER_DAY}"
    word = "brighter" if change_ev > 0 else "darker"
    if abs(change_ev) > LIGHT_LOST_EV:
        return (
            f"{says}, but under a clear sky it will be {abs(change_ev):.1f} EV {word} than when "
            f"these cells were taken: they would not match; {_ANOTHER_DAY}"
        )
    says += (
        "; under a clear sky it is as bright as it was"
        if abs(change_ev) <= LIGHT_SAME_EV
        else f"; under a clear sky it will be {abs(change_ev):.1f} EV {word}: keep the settings as "
        f"they were, the frames are evened out when they are put together"
    )
    if turned is not None and turned > _SHADOWS_TURNED_DEG:
        says += f"; shadows have turned by {turned:.0f}° and will not match"
    if sunset is not None and sunset - end < _SUNSET_NEAR:
        left = duration_words(60.0 * round((sunset - end).total_seconds() / 60.0))
        says += f"; the sun sets at {sunset:%H:%M}, {left} later"
    return says


_ANOTHER_DAY = "shoot these cells another day at the hour of the sweep, in the same weather"
