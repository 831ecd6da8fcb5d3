"""All that the planner says of the light over a shoot."""

from __future__ import annotations

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from belvedere.light.daylight import brightness_drift_ev, daylight_ev100
from belvedere.light.events import day_events, phase
from belvedere.light.flare import sun_in_cells
from belvedere.light.model import LightFacts, Site, SunAt, SweptCells
from belvedere.light.moon import moon_lit, moonless
from belvedere.light.shadows import shadow_move_deg, shadow_move_m
from belvedere.light.starts import best_starts
from belvedere.light.sun import SunPath, at_offset, sun_path, unix_of

_SAMPLE_EVERY_S = 600.0
_MOST_SAMPLES = 49


def light_over(start: datetime, site: Site, cells: SweptCells) -> LightFacts:
    """Sun, moon and daylight over a sweep that begins at `start`.

    Parameters
    ----------
    start
        Moment of the first release, with its offset from UTC; all times come back in that offset.
    site
        Where the tripod stands.
    cells
        The sweep as arrays, n ≥ 1 cells in sweep order; the azimuths are true ones (bearing in
        the grid plus the true bearing of its zero), or None where that is not known: then
        `sun_cells` is empty and the best starts do not mind the sun in the picture. Each pair of
        `cells.touching` once, in either order.

    Raises
    ------
    PlanError
        If `start` has no offset from UTC.
    ValueError
        If the arrays differ in length or are empty.
    """
    _check(cells)
    start_s = unix_of(start)
    release_unix_s = start_s + cells.release_s
    sun = sun_path(release_unix_s, site)
    age_s = np.abs(cells.release_s[cells.touching[0]] - cells.release_s[cells.touching[1]])
    turn_deg, tip_m = _shadow_moves(sun, cells, age_s)
    return LightFacts(
        sun=_samples(start, float(cells.release_s[-1]), site),
        events=day_events(start, site),
        phase=phase(float(sun.elevation_deg[0])),
        sun_cells=sun_in_cells(cells, release_unix_s, site),
        shadow_move_deg=turn_deg,
        shadow_move_m=tip_m,
        brightness_drift_ev=brightness_drift_ev(
            float(sun.elevation_deg[0]), float(sun.elevation_deg[-1])
        ),
        touching_drift_ev=_touching_drift_ev(sun, cells),
        best_starts=best_starts(start, cells, site, float(age_s.max(initial=0.0))),
        moonless=moonless(start, site),
        moon_lit=moon_lit(start),
    )


def _check(cells: SweptCells) -> None:
    count = len(cells.release_s)
    azimuths = count if cells.azimuth_deg is None else len(cells.azimuth_deg)
    if count == 0 or not count == len(cells.elevation_deg) == azimuths:
        raise ValueError("release times, azimuths and elevations must have one equal length")
    if len(cells.touching[0]) != len(cells.touching[1]):
        raise ValueError("the two arrays of touching cells must have one length")


def _samples(start: datetime, duration_s: float, site: Site) -> tuple[SunAt, ...]:
    """The sun from the first release to the last, every ten minutes or 49 times."""
    count = int(np.clip(np.ceil(duration_s / _SAMPLE_EVERY_S) + 1, 2, _MOST_SAMPLES))
    moments = np.linspace(0.0, duration_s, count if duration_s > 0.0 else 1)
    path = sun_path(unix_of(start) + moments, site)
    return tuple(
        SunAt(at_offset(unix_of(start) + after_s, start), azimuth, elevation)
        for after_s, azimuth, elevation in zip(
            moments.tolist(),
            path.azimuth_deg.tolist(),
            path.apparent_elevation_deg.tolist(),
            strict=True,
        )
    )


def _shadow_moves(
    sun: SunPath, cells: SweptCells, age_s: NDArray[np.float64]
) -> tuple[float | None, float | None]:
    """Turn and move of the tip between the touching cells of the greatest age difference.

    Of several pairs as old, the one with the greatest move. None where the sun is down in all.
    """
    oldest = np.flatnonzero(age_s >= age_s.max(initial=0.0) - 1e-6)
    one, other = cells.touching[0][oldest], cells.touching[1][oldest]
    if oldest.size == 0:  # a single cell, or none that touch: nothing to compare
        one = other = np.array([0], dtype=np.intp)
    ends = (
        sun.azimuth_deg[one],
        sun.apparent_elevation_deg[one],
        sun.azimuth_deg[other],
        sun.apparent_elevation_deg[other],
    )
    turn_deg, tip_m = shadow_move_deg(*ends), shadow_move_m(*ends)
    if np.isnan(turn_deg).all():
        return None, None
    return float(np.nanmax(turn_deg)), float(np.nanmax(tip_m))


def _touching_drift_ev(sun: SunPath, cells: SweptCells) -> float:
    ev = daylight_ev100(sun.elevation_deg)
    change = np.abs(ev[cells.touching[0]] - ev[cells.touching[1]])
    return float(change.max(initial=0.0))
