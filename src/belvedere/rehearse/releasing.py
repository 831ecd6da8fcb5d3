"""Every release of a rehearsal's shutter, decided before a pixel is drawn.

`releases` decides everything but the pixels, so it costs nothing; `photograph` then makes the
picture of one of them, and `recorded` says which of them the camera was ready for. The same seed
gives the same card.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from belvedere.rehearse.blur import Blur
from belvedere.rehearse.camera_model import CameraSettings, Exposure, FrameConditions
from belvedere.rehearse.daylight import illumination
from belvedere.rehearse.driving import cell_shown, driven_rotations, driven_times_s
from belvedere.rehearse.faults import (
    Asleep,
    BatteryEmpty,
    CardFull,
    CellFault,
    Dust,
    Fault,
    Place,
    PowerPulled,
    Repeated,
    Slipped,
    Slipping,
    Stuck,
    TrialPictures,
    Truncated,
    at_work,
    never_released,
    require_possible,
)
from belvedere.rehearse.head import USUAL_INTERVAL_S
from belvedere.rehearse.meeting import (
    conditions_of,
    exposure_of,
    settings_with,
    stated_exposure_s,
    sway_in,
    swing_left,
)
from belvedere.rehearse.rehearsal import (
    LIGHT_STREAM,
    MEETING_STREAM,
    NOISE_STREAM,
    TESTS_STREAM,
    Rehearsal,
)
from belvedere.rehearse.shot import Shot
from belvedere.rehearse.shutter_chain import Trouble, opening_delay_s
from belvedere.rehearse.visits import visits
from belvedere.sphere import bearing_elevation_roll, camera_from_world

FloatArray = NDArray[np.float64]

#: A second release comes so long after the first, as a share of the interval.
_BOUNCE = 0.4
#: Marks on the noise's stream: a second release, a picture before the sweep.
_SECOND, _BEFORE = 1, 2

_TROUBLES: dict[type[Fault], Trouble] = {
    Asleep: "asleep",
    CardFull: "card full",
    BatteryEmpty: "battery empty",
    PowerPulled: "power pulled",
}


def releases(rehearsal: Rehearsal) -> tuple[Shot, ...]:
    """Every release that reaches the camera, in the order of time; no file has a number yet."""
    require_possible(rehearsal.visited(), rehearsal.faults)
    asked = [*_test_pictures(rehearsal), *_sweep(rehearsal)]
    return tuple(sorted(asked, key=lambda shot: shot.asked_at))


def _sweep(rehearsal: Rehearsal) -> Iterator[Shot]:
    cells = rehearsal.visited()
    way = visits(cells, rehearsal.faults)
    rotations = driven_rotations(rehearsal, way)
    times = driven_times_s(rehearsal, way)
    silent = never_released(cells, rehearsal.faults)
    first = sum(visit.given_up for visit in way)
    strayed = any(isinstance(fault, Slipped | Slipping) for fault in rehearsal.faults)
    before: Place | None = None
    for index, visit in enumerate(way):
        done = [] if visit.given_up else [one.place for one in way[first : index + 1]]
        faults = at_work(rehearsal.faults, done) if done else []
        shows: Place | None = visit.place
        role = "given up" if visit.given_up else "sweep"
        if any(isinstance(fault, Stuck) for fault in faults):
            role, rotations[index], shows = "stuck", rotations[index - 1], before
        elif strayed:
            shows = cell_shown(rehearsal, rotations[index], visit.place)
        before = shows
        if visit.place in silent and not visit.given_up:
            continue
        asked_at = rehearsal.start + timedelta(seconds=float(times[index]))
        shot = _shot(rehearsal, role, faults, rotations[index], asked_at, index)
        shot = replace(shot, cell=shows, sent_to=visit.place)
        yield shot
        if any(isinstance(fault, Repeated) for fault in faults):
            yield _bounced(rehearsal, shot)


def _shot(
    rehearsal: Rehearsal,
    role: str,
    faults: Sequence[CellFault],
    rotation: FloatArray,
    asked_at: datetime,
    index: int,
) -> Shot:
    shoot, chain, settings = rehearsal.plan.shoot, rehearsal.camera_chain(), _settings(rehearsal)
    number = rehearsal.first_number
    rng = rehearsal.rng(MEETING_STREAM, number, index)
    delay_s = opening_delay_s(chain)
    taken_at = asked_at + timedelta(seconds=delay_s)
    conditions = conditions_of(faults, settings, rehearsal.scene_time_s(taken_at), rng)
    px_per_deg = rehearsal.plan.focal_length_px * np.pi / 180.0
    swing = swing_left(rehearsal.head, shoot, delay_s, settings.exposure_s, px_per_deg, rng)
    sway = sway_in(rehearsal.wind, settings.exposure_s, px_per_deg)
    return Shot(
        number=0,
        role=role,
        cell=None,
        sent_to=None,
        camera_from_world=rotation,
        exposure=exposure_of(faults, rehearsal.camera, rehearsal.rng(LIGHT_STREAM, number, index)),
        stated_exposure_s=stated_exposure_s(faults, settings),
        taken_at=taken_at,
        kept=next((fault.kept for fault in faults if isinstance(fault, Truncated)), 1.0),
        stream=(rehearsal.seed, NOISE_STREAM, number, index),
        asked_at=asked_at,
        settings=settings_with(faults, settings),
        conditions=_lit(rehearsal, replace(conditions, oscillation=swing, gusts=sway), rotation),
        trouble=next((_TROUBLES[type(f)] for f in faults if type(f) in _TROUBLES), None),
        kept_when_pulled=next((f.kept for f in faults if isinstance(f, PowerPulled)), 1.0),
    )


def _settings(rehearsal: Rehearsal) -> CameraSettings:
    """The shoot's settings; a dark frame is taken where the exposure is long enough for it."""
    settings, from_s = rehearsal.camera_settings(), rehearsal.camera_chain().dark_frame_from_s
    if from_s is None or settings.exposure_s < from_s:
        return settings
    return replace(settings, dark_frame=True)


def _lit(
    rehearsal: Rehearsal, conditions: FrameConditions, rotation: FloatArray
) -> FrameConditions:
    """The frame's light at its moment, where its axis looks, and the dust on the sensor."""
    grains = sum(fault.grains for fault in rehearsal.faults if isinstance(fault, Dust))
    conditions = replace(conditions, dust_grains=grains)
    if rehearsal.daylight is None:
        return conditions
    bearing, elevation, _ = bearing_elevation_roll(rotation)
    ev, gains = illumination(rehearsal.daylight, conditions.at_s, bearing, elevation)
    red, green, blue = (float(gain) for gain in gains.ravel())
    return replace(conditions, illumination_ev=float(ev), illuminant=(red, green, blue))


def _bounced(rehearsal: Rehearsal, shot: Shot) -> Shot:
    later = timedelta(seconds=_BOUNCE * (rehearsal.plan.shoot.sweep.interval_s or USUAL_INTERVAL_S))
    at_s = rehearsal.scene_time_s(shot.taken_at + later)
    return replace(
        shot,
        role="repeated",
        asked_at=shot.asked_at + later,
        taken_at=shot.taken_at + later,
        kept=1.0,
        exposure=replace(shot.exposure, blur=Blur()),
        conditions=replace(shot.conditions, at_s=at_s),
        stream=(*shot.stream, _SECOND),
        trouble=None,
    )


def _test_pictures(rehearsal: Rehearsal) -> list[Shot]:
    """Pictures before the sweep: anywhere in the grid's span, the exposure still being tried."""
    count = sum(f.count for f in rehearsal.faults if isinstance(f, TrialPictures))
    number = rehearsal.first_number
    rng = rehearsal.rng(TESTS_STREAM, number)
    bearings = [cell.bearing_deg for cell in rehearsal.plan.cells]
    elevations = [cell.elevation_deg for cell in rehearsal.plan.cells]
    before_s = np.sort(rng.uniform(20.0, 20.0 + 15.0 * max(count, 1), count))[::-1]
    taken: list[Shot] = []
    for index in range(count):
        rotation = camera_from_world(
            rng.uniform(min(bearings), max(bearings)), rng.uniform(min(elevations), max(elevations))
        )
        tried_ev = round(float(rng.uniform(-1.0, 1.0)) * 3.0) / 3.0
        asked_at = rehearsal.start - timedelta(seconds=float(before_s[index]))
        shot = _shot(
            rehearsal, "before the sweep", [], rotation @ rehearsal.base(), asked_at, index
        )
        taken.append(
            replace(
                shot,
                exposure=Exposure(tried_ev),
                stated_exposure_s=shot.settings.exposure_s * 2.0**tried_ev,
                stream=(*shot.stream, _BEFORE),
            )
        )
    return taken
