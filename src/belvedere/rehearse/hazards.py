"""Days that go wrong in their own way: a hazard draws faults, light and settings from the seed.

How often things happen is common practice, no source; each rate is named where it is used.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import numpy as np

from belvedere.foundation import PlanError
from belvedere.light import Site
from belvedere.rehearse.daylight import (
    USUAL_SITE,
    Daylight,
    passing_shadow,
    sun_elevations_deg,
)
from belvedere.rehearse.faults import (
    Dust,
    Fault,
    LostRow,
    Place,
    Shaken,
    TrialPictures,
    WetLens,
)
from belvedere.rehearse.head import USUAL_INTERVAL_S
from belvedere.rehearse.rehearsal import CROWD_STREAM, HAZARD_STREAM, USUAL_START, Rehearsal
from belvedere.rehearse.shutter_chain import ChainTraits
from belvedere.rehearse.vibration import Gusts
from belvedere.shoot import CardWish, mean_file_mb

#: Wind comes in gusts: so often one begins at a frame, and ends at one; so many frames of a gust
#: are shaken, by so many px (even in the logarithm), within so many degrees of its direction.
_GUST_BEGINS, _GUST_ENDS, _SHAKEN_IN_GUST = 0.06, 0.35, 0.7
_SHAKEN_PX, _GUST_SPREAD_DEG = (2.5, 10.0), 12.0
#: And all along the tripod sways by so much, which shows in long exposures.
_SWAY_ARCSEC = 12.0
#: A sweep at dusk begins with the sun here, exposed for so long.
_DUSK_SUN_DEG, _DUSK_EXPOSURE_S = -1.5, 0.25
#: In a hurry the interval is so close to what the camera needs on average, of which processing is
#: this share; the card pauses for one file in so many.
_HURRIED_LOAD, _HURRIED_PROCESSING, _HURRIED_STALLS = (0.85, 0.98), 0.6, 0.02
_HURRIED_SPREAD, _HURRIED_STALL_S = 0.12, 1.0
#: In the cold one battery in two gives up, after so much of the sweep; cards pause more often.
_COLD_GIVES_UP, _COLD_LASTS, _COLD_STALLS, _COLD_STALL_S = 0.5, (0.35, 1.0), 0.03, 2.0
_COLD_WRITE_MB_S = 4.0
#: Grains on a sensor that is due for cleaning; drops at the beginning of a shower, and how often
#: one falls on the lens at a frame.
_GRAINS, _SHOWER_BEGINS, _DROPS = (8, 30), (0.2, 0.9), (1, 4)
_CLOUDS_EV = 0.3
#: On a market day so many people more are about than usual.
_CROWD = (240, 420)
_BYTES_PER_MB = 1e6

#: Each hazard with what it means, for the help.
HAZARDS: dict[str, str] = {
    "windy": "gusts shake some frames, several in a row",
    "dusk": "the sun has just set: long exposures, and the light falls from frame to frame",
    "cloudy": "thin cloud drifts, and the shadow of a thick one crosses the picture",
    "hurried": "the interval is hardly longer than the camera needs: some frames are lost",
    "automatic": "exposure, white balance and focus were left on automatic",
    "cold": "a weak battery and a card that pauses",
    "showery": "drops fall on the lens and stay",
    "dusty": "grains lie on the sensor",
    "crowded": "a market day: people, carts, boats and birds everywhere, and on the move",
}


def with_hazard(rehearsal: Rehearsal, name: str) -> Rehearsal:
    """The rehearsal on such a day; its own faults stay as they are.

    Raises
    ------
    PlanError
        Naming the hazards there are.
    """
    name = name.strip().lower()
    if name not in _DRAWS:
        near = difflib.get_close_matches(name, HAZARDS, 1)
        remedy = f"Did you mean “{near[0]}”?" if near else f"Known are {', '.join(HAZARDS)}."
        raise PlanError(f"“{name}” names no hazard that can be rehearsed.", remedy)
    if name in rehearsal.hazards:
        raise PlanError(f"The hazard “{name}” is asked for twice.", "Ask for it once.")
    stream = list(HAZARDS).index(name)
    rng = rehearsal.rng(HAZARD_STREAM, rehearsal.first_number, stream)
    drawn = _DRAWS[name](rehearsal, rng)
    return replace(drawn, hazards=(*rehearsal.hazards, name))


def _windy(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    free = _free_places(rehearsal)
    direction = float(rng.uniform(0.0, 180.0))
    faults: list[Fault] = []
    gust = False
    for cell in rehearsal.visited():
        luck, shaken = float(rng.random()), float(rng.random())
        length = float(np.exp(rng.uniform(*np.log(_SHAKEN_PX))))
        lean = float(rng.normal(0.0, _GUST_SPREAD_DEG))
        gust = luck >= _GUST_ENDS if gust else luck < _GUST_BEGINS
        if gust and shaken < _SHAKEN_IN_GUST and (cell.row, cell.column) in free:
            turned = round((direction + lean) % 180.0)
            faults.append(Shaken((cell.row, cell.column), round(length, 1), turned))
    wind = rehearsal.wind or Gusts(_SWAY_ARCSEC)
    return replace(rehearsal, faults=(*rehearsal.faults, *faults), wind=wind)


def _dusk(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    daylight = rehearsal.daylight or _day(rehearsal, int(rng.integers(1 << 31)))
    settings = replace(rehearsal.camera_settings(), exposure_s=_DUSK_EXPOSURE_S)
    rehearsal = replace(rehearsal, settings=settings, daylight=daylight)
    minutes = np.arange(0.0, 24.0 * 60.0)
    sun_deg = sun_elevations_deg(daylight, minutes * 60.0)
    sets = np.flatnonzero((sun_deg[:-1] > _DUSK_SUN_DEG) & (sun_deg[1:] <= _DUSK_SUN_DEG))
    if not sets.size:
        raise PlanError(
            "The sun does not set on the day of this shoot.",
            "Give another start in [shoot], or another place.",
        )
    later = timedelta(minutes=float(minutes[sets[0]]))
    daylight = replace(daylight, start=daylight.start + later)
    if rehearsal.began is not None:  # a later card: the camera's clock is in the evening already
        later = timedelta()
    return replace(rehearsal, daylight=daylight, start=rehearsal.start + later)


def _cloudy(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    seed, plan = int(rng.integers(1 << 31)), rehearsal.plan
    daylight = rehearsal.daylight or _day(rehearsal, seed)
    bearings = [cell.bearing_deg for cell in plan.cells]
    half_deg = plan.horizontal_fov_deg / 2.0
    interval_s = plan.shoot.sweep.interval_s or USUAL_INTERVAL_S
    shadow = passing_shadow(
        seed, min(bearings) - half_deg, max(bearings) + half_deg, interval_s * len(plan.cells)
    )
    return replace(rehearsal, daylight=replace(daylight, clouds_ev=_CLOUDS_EV, shadows=(shadow,)))


def _hurried(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    interval_s = rehearsal.plan.shoot.sweep.interval_s or USUAL_INTERVAL_S
    busy_s = interval_s * float(rng.uniform(*_HURRIED_LOAD))
    # Files of detailed frames are larger than the usual one: those are lost first.
    usual_mb, _ = mean_file_mb(rehearsal.plan.shoot.camera, CardWish())
    write_s = busy_s * (1.0 - _HURRIED_PROCESSING)
    chain = replace(
        rehearsal.camera_chain(),
        processing_s=busy_s * _HURRIED_PROCESSING,
        processing_spread=_HURRIED_SPREAD,
        buffer_bytes=0.0,
        write_bytes_per_s=usual_mb * _BYTES_PER_MB / write_s,
        stall_probability=_HURRIED_STALLS,
        stall_s=_HURRIED_STALL_S,
    )
    return replace(rehearsal, chain=chain)


def _automatic(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    settings = replace(
        rehearsal.camera_settings(),
        exposure_mode="auto",
        white_balance_mode="auto",
        focus_mode="auto",
    )
    return replace(rehearsal, settings=settings)


def _cold(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    count = len(rehearsal.visited())
    gives_up, lasts = float(rng.random()) < _COLD_GIVES_UP, float(rng.uniform(*_COLD_LASTS))
    chain = rehearsal.camera_chain()
    if chain == ChainTraits():
        chain = replace(chain, write_bytes_per_s=_COLD_WRITE_MB_S * _BYTES_PER_MB)
    chain = replace(
        chain,
        stall_probability=max(chain.stall_probability, _COLD_STALLS),
        stall_s=max(chain.stall_s, _COLD_STALL_S),
        battery_frames=max(1, round(lasts * count)) if gives_up else chain.battery_frames,
    )
    return replace(rehearsal, chain=chain)


def _showery(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    cells = rehearsal.visited()
    cell = cells[min(len(cells) - 1, int(float(rng.uniform(*_SHOWER_BEGINS)) * len(cells)))]
    drops = WetLens((cell.row, cell.column), int(rng.integers(*_DROPS, endpoint=True)))
    if any(isinstance(f, WetLens) and f.cell == drops.cell for f in rehearsal.faults):
        return rehearsal
    return replace(rehearsal, faults=(*rehearsal.faults, drops))


def _dusty(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    grains = Dust(int(rng.integers(*_GRAINS, endpoint=True)))
    return replace(rehearsal, faults=(*rehearsal.faults, grains))


def _crowded(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    # The same people are there in a retake: this follows from the seed alone.
    rng = rehearsal.rng(CROWD_STREAM)
    return replace(rehearsal, crowd=int(rng.integers(*_CROWD, endpoint=True)))


_DRAWS: dict[str, Callable[[Rehearsal, np.random.Generator], Rehearsal]] = {
    "windy": _windy,
    "dusk": _dusk,
    "cloudy": _cloudy,
    "hurried": _hurried,
    "automatic": _automatic,
    "cold": _cold,
    "showery": _showery,
    "dusty": _dusty,
    "crowded": _crowded,
}


def _free_places(rehearsal: Rehearsal) -> set[Place]:
    """Cells without a fault of their own: a hazard adds nothing to what was asked for by name."""
    rows = {fault.row for fault in rehearsal.faults if isinstance(fault, LostRow)}
    asked = {
        fault.cell
        for fault in rehearsal.faults
        if not isinstance(fault, TrialPictures | LostRow | Dust)
    }
    return {(c.row, c.column) for c in rehearsal.visited() if c.row not in rows} - asked


def _day(rehearsal: Rehearsal, seed: int) -> Daylight:
    """The day of the shoot: its place and start where the shoot file says them.

    Without a start the camera's clock, which has no zone, is as far from the usual start of a
    rehearsal as the day is from its own.
    """
    conditions, began = rehearsal.plan.shoot.conditions, rehearsal.began or rehearsal.start
    place, site = conditions.place, USUAL_SITE
    if place is not None:
        site = Site(place.latitude_deg, place.longitude_deg)
    start = conditions.start or Daylight().start + (began - USUAL_START)
    return Daylight(site=site, start=start, seed=seed)
