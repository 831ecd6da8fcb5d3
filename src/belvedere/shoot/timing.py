"""The rhythm of a shoot: what head and camera need for a frame, and how short the interval may be.

The head is blind: it moves, waits for fixed times, releases, and goes on. The interval is from one
release to the next for the moves it was set for, those along a row (or column); where a move is
longer, on the way to the next row, the head arrives later by the difference. Both axes turn at the
same time.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError
from belvedere.shoot.briefing import CyclePart, RiskPoint, TimingFacts
from belvedere.shoot.card import (
    SCENE_MEMORY,
    SCENE_SHARE,
    file_spread,
    mean_file_mb,
    write_rate_mb_s,
)
from belvedere.shoot.conditions import CardWish, Cycle, Head
from belvedere.shoot.missing_frames import BusyTimes, missing_frame_probability
from belvedere.shoot.missing_frames_trial import simulated_probability
from belvedere.shoot.model import Camera, Plan

FloatArray = NDArray[np.float64]

# What is taken where the shoot file is silent: common practice, no source, except as said.
#: Turning speed of a small geared head; that of the rehearsal.
USUAL_SPEED_DEG_S = 15.0
#: Every move, however short, gets up to speed and stops.
START_STOP_S = 0.2
#: Long enough for most of the vibration to die on a weighted tripod.
USUAL_SETTLE_S = 1.0
#: From the head's contact to the open shutter, focus and exposure being manual.
USUAL_SHUTTER_LAG_S = 0.1
#: Demosaicing and JPEG in a compact camera; by what share of itself it varies.
USUAL_PROCESSING_S = 0.6
USUAL_PROCESSING_SPREAD = 0.2
#: From about this exposure on many cameras subtract a dark frame, asked or not.
DARK_FRAME_LIKELY_S = 1.0
#: A tripod with a long lens swings about so often a second, and loses this share of the critical
#: damping.
USUAL_SWING_HZ, USUAL_DAMPING = 8.0, 0.03

#: The probability of losing a frame that the recommended interval stays within.
ACCEPTED_RISK = 0.001
#: Intervals are dialled in by half seconds.
DIAL_STEP_S = 0.5

#: Largest sweep that is simulated for the curve, and how many frames of it for each interval.
_MOST_SIMULATED_FRAMES, _SIMULATED_WORK, _MOST_SHOOTS = 4_000, 300_000, 1_000
_SEED = 1
_SURELY_FAILS, _SURELY_FINE = 0.999, 1e-5
_CURVE_STEPS_S = (0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 30.0, 60.0)
_MOST_CURVE_STEPS = 20


def timing_facts(plan: Plan, exposure_s: float) -> tuple[TimingFacts, tuple[str, ...]]:
    """The cycle of head and camera, the risk of the interval, and the timetable.

    Parameters
    ----------
    plan
        Head, camera cycle and card are those of `plan.shoot.conditions`.
    exposure_s
        The exposure time of every frame.

    Returns
    -------
    The facts, and what was assumed, a sentence each. `duration_s` is from the first release to the
    last, as everywhere in Belvedere.

    Raises
    ------
    PlanError
        For an exposure, rate or size that cannot be.
    """
    if not (exposure_s > 0.0 and math.isfinite(exposure_s)):
        raise PlanError(
            f"An exposure of {exposure_s:g} s is no exposure.", "Correct shutter_s in [exposure]."
        )
    conditions = plan.shoot.conditions
    busy, camera_parts, assumed = camera_cycle(
        plan.shoot.camera, conditions.cycle, conditions.card, exposure_s
    )
    head, head_assumed = head_with_usual_values(conditions.head)
    moves_s = move_times_s(plan)
    ordinary_s = _ordinary(moves_s)
    settle_s = head.settle_s or 0.0
    parts = (CyclePart("move", ordinary_s), CyclePart("settle", settle_s), *camera_parts)
    open_s = sum(p.seconds for p in parts if p.reason in ("self-timer", "shutter lag", "exposure"))
    head_s = open_s + ordinary_s + settle_s
    extras_s = np.maximum(0.0, moves_s - ordinary_s)
    risk = _risk_at(busy, extras_s)
    recommended_s = _recommended_s(risk, head_s)
    interval_s = plan.shoot.sweep.interval_s or recommended_s
    release_s = np.concatenate([[0.0], np.cumsum(interval_s + extras_s)])
    facts = TimingFacts(
        parts=tuple(part for part in parts if part.seconds > 0.0),
        head_s=head_s,
        camera_s=_camera_s(busy),
        interval_s=interval_s,
        recommended_interval_s=recommended_s,
        missing_frame_probability=risk(interval_s),
        curve=_curve(busy, extras_s, risk, (interval_s, recommended_s)),
        simulated_shoots=_simulated_shoots(len(plan.cells)),
        duration_s=float(release_s[-1]),
        release_s=tuple(release_s.tolist()),
    )
    return facts, (*head_assumed, *assumed)


def release_times_s(plan: Plan, interval_s: float) -> FloatArray:
    """Seconds from the first release for each cell in sweep order, shape (cells,).

    `plan.cells` may be in any order: a move longer than the ordinary one of that order comes late
    by the difference.
    """
    moves_s = move_times_s(plan)
    gaps_s = interval_s + np.maximum(0.0, moves_s - _ordinary(moves_s))
    return np.concatenate([[0.0], np.cumsum(gaps_s)])


def move_times_s(plan: Plan) -> FloatArray:
    """Seconds of each of the head's moves from cell to cell in sweep order, shape (cells - 1,).

    In a full turn the head goes the shorter way round, so it may go on instead of returning.
    """
    count = len(plan.cells)
    bearings = np.fromiter((cell.bearing_deg for cell in plan.cells), np.float64, count)
    elevations = np.fromiter((cell.elevation_deg for cell in plan.cells), np.float64, count)
    return turn_times_s(plan, np.diff(bearings), np.diff(elevations))


def turn_times_s(plan: Plan, pan_deg: FloatArray, tilt_deg: FloatArray) -> FloatArray:
    """Seconds of moves of the plan's head by angles of any one shape, both axes at once.

    In a full turn the head goes the shorter way round.
    """
    head, _ = head_with_usual_values(plan.shoot.conditions.head)
    pan_deg, tilt_deg = np.abs(pan_deg), np.abs(tilt_deg)
    if plan.shoot.grid.full_turn:
        pan_deg = np.abs((pan_deg + 180.0) % 360.0 - 180.0)
    speeds = (head.pan_speed_deg_s or USUAL_SPEED_DEG_S, head.tilt_speed_deg_s or USUAL_SPEED_DEG_S)
    turning_s = np.maximum(pan_deg / speeds[0], tilt_deg / speeds[1])
    moves_s: FloatArray = np.where(turning_s > 0.0, turning_s + START_STOP_S, 0.0)
    return moves_s


def standing_time_s(plan: Plan, exposure_s: float) -> float:
    """Seconds that one frame takes between two moves: settling, exposure, until it is written."""
    conditions = plan.shoot.conditions
    busy, _, _ = camera_cycle(plan.shoot.camera, conditions.cycle, conditions.card, exposure_s)
    head, _ = head_with_usual_values(conditions.head)
    stalls_s = busy.stall_probability * busy.stall_s
    return (head.settle_s or 0.0) + busy.fixed_s + busy.processing_s + busy.write_s + stalls_s


def head_with_usual_values(head: Head) -> tuple[Head, tuple[str, ...]]:
    """The head with its speeds and settling time filled in, and what was assumed."""
    assumed = []
    for key, axis in (("pan_speed_deg_s", "turns"), ("tilt_speed_deg_s", "tilts")):
        if getattr(head, key) is None:
            assumed.append(f"no {key} in [head]: it {axis} at {USUAL_SPEED_DEG_S:g}° a second")
    if head.settle_s is None:
        assumed.append(
            f"no settle_s in [head]: {USUAL_SETTLE_S:g} s after each move, in which the swing of a "
            f"tripod falls to about {vibration_left(USUAL_SETTLE_S):.0%}"
        )
    filled = replace(
        head,
        pan_speed_deg_s=head.pan_speed_deg_s or USUAL_SPEED_DEG_S,
        tilt_speed_deg_s=head.tilt_speed_deg_s or USUAL_SPEED_DEG_S,
        settle_s=USUAL_SETTLE_S if head.settle_s is None else head.settle_s,
    )
    return filled, tuple(assumed)


def vibration_left(
    still_s: float, swing_hz: float = USUAL_SWING_HZ, damping: float = USUAL_DAMPING
) -> float:
    """Share of a vibration's amplitude that is left after `still_s` seconds of standing still.

    A damped oscillator: exp(-damping × 2π f t), `damping` as a share of the critical one.
    """
    return math.exp(-damping * 2.0 * math.pi * swing_hz * still_s)


def camera_cycle(
    camera: Camera, cycle: Cycle, card: CardWish, exposure_s: float
) -> tuple[BusyTimes, tuple[CyclePart, ...], tuple[str, ...]]:
    """How long the camera is busy with a frame: as distributions, as parts, and what was assumed.

    Without a buffer frames count as independent, with one their sizes are alike along the sweep:
    the cautious side of either (see `missing_frames`).
    """
    usual, assumed = _with_usual_values(cycle, exposure_s)
    write_mb_s, rate_assumed = write_rate_mb_s(card)
    mean_mb, size_assumed = mean_file_mb(camera, card)
    spread, spread_assumed = file_spread(card)
    takes_dark = usual.dark_frame_from_s is not None and exposure_s >= usual.dark_frame_from_s
    dark_s = exposure_s if takes_dark else 0.0
    lag_s, processing_s = usual.shutter_lag_s or 0.0, usual.processing_s or 0.0
    write_s = mean_mb / write_mb_s
    stalls_s = card.stall_probability * card.stall_s
    busy = BusyTimes(
        fixed_s=usual.self_timer_s + lag_s + exposure_s + dark_s + usual.review_s,
        processing_s=processing_s,
        processing_spread=usual.processing_spread or 0.0,
        write_s=write_s,
        write_spread=spread,
        stall_probability=card.stall_probability if card.stall_s > 0.0 else 0.0,
        stall_s=card.stall_s,
        buffer_s=usual.buffer_frames * write_s,
        scene_share=SCENE_SHARE if usual.buffer_frames else 0.0,
        scene_memory=SCENE_MEMORY if usual.buffer_frames else 0.0,
    )
    parts = (
        CyclePart("self-timer", usual.self_timer_s),
        CyclePart("shutter lag", lag_s),
        CyclePart("exposure", exposure_s),
        CyclePart("dark frame", dark_s),
        CyclePart("processing", processing_s),
        CyclePart("write", write_s + stalls_s),
        CyclePart("review", usual.review_s),
    )
    return busy, parts, (*assumed, *size_assumed, *rate_assumed, *spread_assumed)


def _with_usual_values(cycle: Cycle, exposure_s: float) -> tuple[Cycle, tuple[str, ...]]:
    usual = {
        "shutter_lag_s": (USUAL_SHUTTER_LAG_S, f"{USUAL_SHUTTER_LAG_S:g} s"),
        "processing_s": (USUAL_PROCESSING_S, f"{USUAL_PROCESSING_S:g} s a frame"),
        "processing_spread": (
            USUAL_PROCESSING_SPREAD,
            f"processing varies by {USUAL_PROCESSING_SPREAD:.0%}",
        ),
    }
    missing = [key for key in usual if getattr(cycle, key) is None]
    assumed = [f"no {key} in [cycle]: {usual[key][1]}" for key in missing]
    if cycle.dark_frame_from_s is None and exposure_s >= DARK_FRAME_LIKELY_S:
        assumed.append(
            "no dark_frame_from_s in [cycle]: no dark frame. Many cameras take one by themselves "
            f"from about {DARK_FRAME_LIKELY_S:g} s on; then every frame takes {exposure_s:g} s "
            "longer. Try it once at home."
        )
    filled = {key: getattr(cycle, key) for key in usual} | {key: usual[key][0] for key in missing}
    return (
        replace(
            cycle,
            shutter_lag_s=filled["shutter_lag_s"],
            processing_s=filled["processing_s"],
            processing_spread=filled["processing_spread"],
        ),
        tuple(assumed),
    )


def _camera_s(busy: BusyTimes) -> float:
    """What the camera needs on average; in the long run a buffer only hides the shorter of two."""
    before_s = busy.fixed_s + busy.processing_s
    write_s = busy.write_s + busy.stall_probability * busy.stall_s
    return max(before_s, write_s) if busy.buffer_s > 0.0 else before_s + write_s


def _ordinary(moves_s: FloatArray) -> float:
    """The move that the interval is set for: the middle one, as most moves are along a line."""
    if moves_s.size == 0:
        return 0.0
    middle = (moves_s.size - 1) // 2
    return float(np.partition(moves_s, middle)[middle])


def _risk_at(busy: BusyTimes, extras_s: FloatArray) -> Callable[[float], float]:
    """The probability of losing a frame, as a function of the interval; each is computed once."""
    distinct_s = np.round(extras_s, 3)

    @cache
    def risk(interval_s: float) -> float:
        return missing_frame_probability(busy, interval_s + distinct_s)

    return risk


def _recommended_s(risk: Callable[[float], float], head_s: float) -> float:
    """The shortest interval on the dial that the head can keep and that loses hardly a frame."""
    low = max(1, math.ceil(head_s / DIAL_STEP_S - 1e-9))
    if risk(low * DIAL_STEP_S) <= ACCEPTED_RISK:
        return low * DIAL_STEP_S
    width = 1
    while risk((low + width) * DIAL_STEP_S) > ACCEPTED_RISK:
        low, width = low + width, width * 2
    high = low + width
    while high - low > 1:
        middle = (low + high) // 2
        if risk(middle * DIAL_STEP_S) > ACCEPTED_RISK:
            low = middle
        else:
            high = middle
    return high * DIAL_STEP_S


def _curve(
    busy: BusyTimes,
    extras_s: FloatArray,
    risk: Callable[[float], float],
    also_s: tuple[float, ...],
) -> tuple[RiskPoint, ...]:
    """Risk at a dozen or two of intervals, from surely failing to surely fine."""
    if extras_s.size == 0:  # a single frame: no interval is too short
        intervals_s = sorted({*also_s, *(also_s[1] + DIAL_STEP_S * place for place in range(12))})
    else:
        intervals_s = _curve_intervals_s(risk, _camera_s(busy), also_s)
    return tuple(
        RiskPoint(interval_s, risk(interval_s), simulated)
        for interval_s, simulated in zip(
            intervals_s, _simulated(busy, extras_s, intervals_s), strict=True
        )
    )


def _curve_intervals_s(
    risk: Callable[[float], float], around_s: float, also_s: tuple[float, ...]
) -> list[float]:
    low = _crossing_s(risk, _SURELY_FAILS, around_s)
    high = max(_crossing_s(risk, _SURELY_FINE, around_s), low + 0.12)
    step = next(
        (step for step in _CURVE_STEPS_S if (high - low) / step <= _MOST_CURVE_STEPS),
        (high - low) / _MOST_CURVE_STEPS,
    )
    first, last = max(1, math.floor(low / step)), math.ceil(high / step)
    last = max(last, first + 11)
    even = [round(place * step, 4) for place in range(first, last + 1)]
    return sorted({*even, *also_s})


def _crossing_s(risk: Callable[[float], float], level: float, around_s: float) -> float:
    """The interval, to some percent, at which the risk falls to `level`."""
    low, high = 0.0, around_s
    while risk(high) > level:
        low, high = high, high * 2.0
    while high - low > 0.04 * high:
        middle = (low + high) / 2.0
        low, high = (middle, high) if risk(middle) > level else (low, middle)
    return high


def _simulated(
    busy: BusyTimes, extras_s: FloatArray, intervals_s: list[float]
) -> list[float] | list[None]:
    shoots = _simulated_shoots(len(extras_s) + 1)
    if shoots is None:
        return [None] * len(intervals_s)
    # With a buffer the closed form takes every gap as the shortest: simulate the same.
    longer_s = extras_s if busy.buffer_s == 0.0 else np.full_like(extras_s, extras_s.min(initial=0))
    gaps_s = np.array(intervals_s)[:, None] + longer_s
    release_s = np.concatenate([np.zeros((len(intervals_s), 1)), np.cumsum(gaps_s, axis=1)], axis=1)
    rng = np.random.default_rng(_SEED)
    return [float(share) for share in simulated_probability(busy, release_s, shoots, rng)]


def _simulated_shoots(frames: int) -> int | None:
    """How many shoots are simulated for each interval; None where the sweep is too large."""
    if frames > _MOST_SIMULATED_FRAMES:
        return None
    return min(_MOST_SHOOTS, max(1, _SIMULATED_WORK // frames))
