"""The best times to begin on a day.

Start times every ten minutes are tried with the whole sweep behind them. A start is as good as
the product of four shares, each 0 to 1:

- light: how well the sun's elevation suits what was asked for, on average over the frames;
- clear: 1 with no frame near the sun, 0 from a fifth of the frames on, halved with the sun in one;
- steady: exp(−range of daylight in EV / 2);
- still: exp(−turn of the shadows between touching cells / 10°), on average while the sun is up.

Asked for is day, dusk (the sun between −6° and +6°; dawn counts as second best, and the other
way round for a start before noon) or night, by where the asked start lies. Day and dusk are
looked for on the date of the asked start, night from noon to noon around its night. The weights
are our own; common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from belvedere.light.daylight import daylight_ev100
from belvedere.light.events import BLUE_BOTTOM_DEG, GOLDEN_TOP_DEG, midnight_s, phase
from belvedere.light.flare import sun_and_frames
from belvedere.light.model import Site, StartChoice, SweptCells
from belvedere.light.moon import night_s, sine_above_horizon
from belvedere.light.shadows import shadow_move_deg
from belvedere.light.sun import (
    ASTRONOMICAL_DEG,
    SunPath,
    at_offset,
    hour_angle_deg,
    sun_path,
    unix_of,
)

Prefer = Literal["day", "dusk", "night"]

_STEP_S = 600.0
_DAY_S = 86_400.0
_APART_S = 3600.0
_MOST_CHOICES = 3
#: A choice below this share of the best one is no choice.
_WORTH_NAMING = 0.5
_LEAST_SCORE = 0.05
#: So many cells, spread over the sweep, speak for all of them.
_SAMPLED_CELLS = 256
_GOLDEN_RATIO = 0.6180339887498949

#: How well the sun's elevation suits a picture by day: soft and long shadows rather than noon.
_DAY_ELEVATION_DEG = (0.0, GOLDEN_TOP_DEG, 15.0, 45.0, 90.0)
_DAY_SUITS = (0.0, 0.5, 1.0, 1.0, 0.5)
#: Other half of the day than the one asked for: dawn instead of dusk.
_OTHER_HALF = 0.4
#: A dark sky with the moon in it, against one without.
_MOONLIT = 0.5


@dataclass(frozen=True, slots=True)
class _Trial:
    """All candidate starts as arrays of shape (starts,); the sun is (starts, sampled frames).

    `near` is the share of frames with the sun in or near them, `moon_up` that with the moon up;
    `inside` says whether the sun is in one; `range_ev` and `turn_deg` are those of the whole sweep.
    """

    start_s: NDArray[np.float64]
    sun: SunPath
    near: NDArray[np.float64]
    inside: NDArray[np.bool_]
    range_ev: NDArray[np.float64]
    turn_deg: NDArray[np.float64]
    moon_up: NDArray[np.float64]


def preference(start_elevation_deg: float, middle_elevation_deg: float) -> Prefer:
    """What the asked start is after, by the sun at the first release and half-way."""
    if any(
        BLUE_BOTTOM_DEG < elevation <= GOLDEN_TOP_DEG
        for elevation in (start_elevation_deg, middle_elevation_deg)
    ):
        return "dusk"
    return "day" if start_elevation_deg > GOLDEN_TOP_DEG else "night"


def best_starts(
    start: datetime, cells: SweptCells, site: Site, greatest_age_s: float
) -> tuple[StartChoice, ...]:
    """Up to three good times to begin on the day of `start` or in its night, best first.

    They lie an hour apart or in different phases. `greatest_age_s` is the greatest age difference
    of touching cells. Empty where no time of this day gives what was asked for.
    """
    start_s = unix_of(start)
    half_s = float(cells.release_s[-1]) / 2.0
    asked = sun_path(np.array([start_s, start_s + half_s]), site).elevation_deg
    prefer = preference(float(asked[0]), float(asked[1]))
    trial = _trial(_candidates_s(start, prefer, site), cells, site, greatest_age_s)
    score = _scores(trial, prefer, _before_noon(start_s, site))
    known = cells.azimuth_deg is not None
    return tuple(
        StartChoice(
            at_offset(float(trial.start_s[index]), start),
            round(float(score[index]), 2),
            _says(trial, index, known),
        )
        for index in _chosen(trial, score, start_s)
    )


def _chosen(trial: _Trial, score: NDArray[np.float64], start_s: float) -> list[int]:
    """Which candidates to name, best first; of equals, the one nearest to the asked start."""
    chosen: list[int] = []
    least = max(_LEAST_SCORE, _WORTH_NAMING * float(score.max()))
    for index in np.lexsort((np.abs(trial.start_s - start_s), -np.round(score, 2))).tolist():
        if score[index] < least or len(chosen) == _MOST_CHOICES:
            break
        if all(_differ(trial, index, other) for other in chosen):
            chosen.append(index)
    return chosen


def _candidates_s(start: datetime, prefer: Prefer, site: Site) -> NDArray[np.float64]:
    """Every ten minutes, in step with the asked start, so that it is itself a candidate."""
    start_s = unix_of(start)
    begin_s = night_s(start_s, site)[0] if prefer == "night" else midnight_s(start)
    steps: NDArray[np.float64] = np.arange(0.0, _DAY_S, _STEP_S)
    return begin_s + (start_s - begin_s) % _STEP_S + steps


def _trial(
    start_s: NDArray[np.float64], cells: SweptCells, site: Site, greatest_age_s: float
) -> _Trial:
    """What each candidate start would bring."""
    index = _spread(len(cells.release_s))
    release_s = start_s[:, None] + cells.release_s[index][None, :]
    sun = sun_path(release_s, site)
    inside = near = np.zeros(release_s.shape, dtype=np.bool_)
    if cells.azimuth_deg is not None:
        _, inside, near = sun_and_frames(
            sun,
            cells.azimuth_deg[index][None, :],
            cells.elevation_deg[index][None, :],
            cells.hfov_deg,
            cells.vfov_deg,
        )
    daylight = daylight_ev100(sun.elevation_deg)
    moon = sine_above_horizon(float(release_s[0, 0]), float(release_s[-1, -1]), site)
    return _Trial(
        start_s,
        sun,
        _mean(near),
        np.any(inside, axis=1),
        np.ptp(daylight, axis=1),
        _turn_deg(release_s, greatest_age_s, site),
        _mean(moon(release_s) > 0.0),
    )


def _spread(count: int) -> NDArray[np.intp]:
    """Cells that stand for all: one in each equal part of the sweep, never all of one column."""
    if count <= _SAMPLED_CELLS:
        return np.arange(count)
    part = np.arange(_SAMPLED_CELLS)
    inner = (part * _GOLDEN_RATIO) % 1.0
    index = ((part + inner) * count / _SAMPLED_CELLS).astype(np.intp)
    index[0], index[-1] = 0, count - 1
    return index


def _turn_deg(
    release_s: NDArray[np.float64], greatest_age_s: float, site: Site
) -> NDArray[np.float64]:
    """Turn of the shadows between touching cells, mean over each sweep; 0 with the sun down."""
    thinned = release_s[:, :: max(1, release_s.shape[1] // 16)]
    older = sun_path(thinned - greatest_age_s / 2.0, site)
    newer = sun_path(thinned + greatest_age_s / 2.0, site)
    turn = shadow_move_deg(
        older.azimuth_deg,
        older.apparent_elevation_deg,
        newer.azimuth_deg,
        newer.apparent_elevation_deg,
    )
    return _mean(np.nan_to_num(turn))


def _mean(values: NDArray[np.float64] | NDArray[np.bool_]) -> NDArray[np.float64]:
    """Over the frames of each sweep."""
    return np.asarray(np.mean(values, axis=1), dtype=np.float64)


def _scores(trial: _Trial, prefer: Prefer, before_noon: bool) -> NDArray[np.float64]:
    clear = np.clip(1.0 - 5.0 * trial.near, 0.0, 1.0) * np.where(trial.inside, 0.5, 1.0)
    steady = np.exp(-trial.range_ev / 2.0)
    still = np.exp(-trial.turn_deg / 10.0)
    score: NDArray[np.float64] = _light(trial, prefer, before_noon) * clear * steady * still
    return score


def _light(trial: _Trial, prefer: Prefer, before_noon: bool) -> NDArray[np.float64]:
    elevation = trial.sun.elevation_deg
    if prefer == "day":
        by_day: NDArray[np.float64] = np.interp(elevation, _DAY_ELEVATION_DEG, _DAY_SUITS)
        return _mean(by_day)
    if prefer == "dusk":
        at_dusk = (elevation > BLUE_BOTTOM_DEG) & (elevation <= GOLDEN_TOP_DEG)
        east = trial.sun.azimuth_deg[:, 0] < 180.0
        return _mean(at_dusk) * np.where(east == before_noon, 1.0, _OTHER_HALF)
    # Between the end of civil twilight and full darkness the sky darkens evenly.
    dark = np.clip((elevation - BLUE_BOTTOM_DEG) / (ASTRONOMICAL_DEG - BLUE_BOTTOM_DEG), 0.0, 1.0)
    return _mean(dark) * (1.0 - (1.0 - _MOONLIT) * trial.moon_up)


def _before_noon(start_s: float, site: Site) -> bool:
    return hour_angle_deg(start_s, site) < 0.0


def _phase(trial: _Trial, index: int) -> str:
    return phase(float(trial.sun.elevation_deg[index, 0]))


def _differ(trial: _Trial, one: int, other: int) -> bool:
    apart = abs(trial.start_s[one] - trial.start_s[other]) >= _APART_S
    return bool(apart) or _phase(trial, one) != _phase(trial, other)


def _says(trial: _Trial, index: int, azimuths_known: bool) -> str:
    """Why, in one short sentence."""
    first, last = trial.sun.elevation_deg[index, [0, -1]]
    parts = [f"{_phase(trial, index)}, the sun at {first:+.0f}°"]
    if abs(last - first) >= 1.0:
        parts[0] += f" to {last:+.0f}°"
    if first < BLUE_BOTTOM_DEG:
        up = trial.moon_up[index]
        parts.append("no moon" if up == 0.0 else "the moon up" if up == 1.0 else "the moon in part")
    elif azimuths_known:
        parts.append(_sun_words(trial, index))
    change_ev = float(trial.range_ev[index])
    parts.append("steady light" if change_ev < 0.15 else f"daylight changes by {change_ev:.1f} EV")
    sentence = ", ".join(parts) + "."
    return sentence[0].upper() + sentence[1:]


def _sun_words(trial: _Trial, index: int) -> str:
    if trial.inside[index]:
        return "the sun in the picture"
    return "the sun near the picture" if trial.near[index] > 0.0 else "no frame near the sun"
