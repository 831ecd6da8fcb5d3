"""A simulated head: where it really points, and when the shutter is released."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.shoot import Cell, Plan, release_times_s
from belvedere.sphere import camera_from_world

FloatArray = NDArray[np.float64]

#: The interval of a plan that states none.
USUAL_INTERVAL_S = 3.0
#: A person drives the head to the next cell of a retake by hand: between so many seconds.
BY_HAND_S = (8.0, 25.0)


@dataclass(frozen=True, slots=True)
class HeadTraits:
    """What a head and its tripod are like.

    Attributes
    ----------
    pointing_error_deg
        Standard deviation of bearing, elevation and roll, each, anew for every move.
    base_tilt_deg
        How far the base is off level, towards a bearing that the seed decides.
    step_scale_error, tilt_scale_error
        By what share the head turns, and tilts, too far, counted from the sweep's first cell.
    interval_jitter_s
        Standard deviation of each release against the interval.
    speed_deg_per_s
        Speed of both axes where the shoot file states none: the way back to the start of a row
        takes longer than a step.
    pan_step_deg, tilt_step_deg
        The smallest move of each axis; 0 for what the shoot file says.
    backlash_deg
        Play of the gears: an axis stops so much further back when it comes from the other side.
    swing_arcsec, swing_hz, swing_damping
        The swing that a move leaves in the tripod: amplitude as the head stops, rate, and damping
        as a share of the critical one.
    """

    pointing_error_deg: float = 0.03
    base_tilt_deg: float = 0.7
    step_scale_error: float = 0.0
    interval_jitter_s: float = 0.05
    speed_deg_per_s: float = 15.0
    tilt_scale_error: float = 0.0
    pan_step_deg: float = 0.0
    tilt_step_deg: float = 0.0
    backlash_deg: float = 0.0
    swing_arcsec: float = 20.0
    swing_hz: float = 8.0
    swing_damping: float = 0.03


@dataclass(frozen=True, slots=True)
class Stance:
    """How tripod and head stand: what a knock or a slip left is there for the next card, too.

    `base_from_world` (3, 3) is the base's rotation; `behind_deg` how far bearing and elevation are
    behind what the head believes.
    """

    base_from_world: tuple[tuple[float, ...], ...]
    behind_deg: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Slip:
    """What a head loses of its moves from the move numbered `index` (from 0) on.

    `by_deg` once, on the axis that moves further; the share `short` of every move.
    """

    index: int
    by_deg: float = 0.0
    short: float = 0.0


def base_from_world(traits: HeadTraits, rng: np.random.Generator) -> FloatArray:
    """The rotation (3, 3) from world axes to those of the tilted base.

    The tilt is a turn about a level axis.
    """
    toward = rng.uniform(0.0, 2.0 * np.pi)
    axis = np.array([np.cos(toward), 0.0, np.sin(toward)])
    turn: FloatArray = Rotation.from_rotvec(axis * np.radians(traits.base_tilt_deg)).as_matrix()
    return turn


def knock(by_deg: float, rng: np.random.Generator) -> FloatArray:
    """A turn (3, 3) of the base by `by_deg`, mostly about the plumb line, as a knocked leg gives.

    The axis leans up to 45° from the plumb line.
    """
    lean, toward = np.radians(rng.uniform(0.0, 45.0)), rng.uniform(0.0, 2.0 * np.pi)
    side = np.sin(lean)
    axis = np.array([side * np.cos(toward), np.cos(lean), side * np.sin(toward)])
    sense = 1.0 if rng.random() < 0.5 else -1.0
    turn: FloatArray = Rotation.from_rotvec(sense * axis * np.radians(by_deg)).as_matrix()
    return turn


def driven_deg(
    traits: HeadTraits, plan: Plan, cells: Sequence[Cell], slips: Sequence[Slip] = ()
) -> FloatArray:
    """Bearing and elevation, (cells, 2), at which the axes stop on the way along `cells`.

    Whole steps, scale, backlash and slips are in it; the errors of single moves, and the base, are
    not. Bearings are not brought back to one turn: in a full turn the head goes the shorter way.
    """
    first = plan.cells[0]
    origin = np.array([first.bearing_deg, first.elevation_deg])
    targets = np.array([origin, *((cell.bearing_deg, cell.elevation_deg) for cell in cells)])
    if plan.shoot.grid.full_turn:
        targets[:, 0] = np.unwrap(targets[:, 0], period=360.0)
    head = plan.shoot.conditions.head
    steps = (
        traits.pan_step_deg or head.pan_step_deg,
        traits.tilt_step_deg or head.tilt_step_deg,
    )
    way = np.stack([_in_steps(targets[:, i] - origin[i], steps[i]) for i in (0, 1)], axis=1)
    moves = np.diff(way, axis=0)
    scale = 1.0 + np.array([traits.step_scale_error, traits.tilt_scale_error])
    behind = 0.5 * traits.backlash_deg * _sense(moves)
    driven: FloatArray = origin + way[1:] * scale - behind - _lost_deg(moves, slips)
    return driven


def pointed(
    traits: HeadTraits, base: FloatArray, driven: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """Where the camera really looks, camera_from_world (3, 3), with the axes at `driven` (2,)."""
    error = rng.normal(0.0, 1.0, 3) * traits.pointing_error_deg
    from_base = camera_from_world(
        float(driven[0] + error[0]), float(driven[1] + error[1]), float(error[2])
    )
    return from_base @ base


def sweep_times_s(
    traits: HeadTraits, plan: Plan, cells: Sequence[Cell], rng: np.random.Generator
) -> FloatArray:
    """Seconds of each release after the first one, for a sweep of `cells` in this order.

    The planner's timetable, with the head's jitter.
    """
    interval = plan.shoot.sweep.interval_s or USUAL_INTERVAL_S
    times = release_times_s(_as_driven(traits, plan, cells), interval)
    times = times + rng.normal(0.0, traits.interval_jitter_s, len(cells))
    return np.asarray(times - times[0], dtype=np.float64)


def times_by_hand_s(count: int, rng: np.random.Generator) -> FloatArray:
    """Seconds of each release after the first one, when a person drives from cell to cell."""
    gaps = rng.uniform(*BY_HAND_S, max(count - 1, 0))
    return np.concatenate([[0.0], np.cumsum(gaps)])


def _as_driven(traits: HeadTraits, plan: Plan, cells: Sequence[Cell]) -> Plan:
    """The plan of these cells, with the head's own speed where the shoot file states none."""
    head = plan.shoot.conditions.head
    speed = traits.speed_deg_per_s
    stated = replace(
        head,
        pan_speed_deg_s=head.pan_speed_deg_s or speed,
        tilt_speed_deg_s=head.tilt_speed_deg_s or speed,
    )
    conditions = replace(plan.shoot.conditions, head=stated)
    return replace(plan, cells=tuple(cells), shoot=replace(plan.shoot, conditions=conditions))


def _in_steps(way_deg: FloatArray, step_deg: float) -> FloatArray:
    """The way as whole steps make it; a step of 0 stops anywhere."""
    return way_deg if step_deg == 0.0 else np.round(way_deg / step_deg) * step_deg


def _sense(moves: FloatArray) -> FloatArray:
    """From which side each axis came to where it stands: 1 or -1, (cells, 2); 0 if it never moved.

    A person brings the head to the first cell from the side that the sweep goes on from.
    """
    sense = np.sign(np.where(np.abs(moves) > 1e-9, moves, 0.0))
    for axis in (0, 1):
        moving = np.flatnonzero(sense[:, axis])
        if moving.size:
            last = np.maximum.accumulate(
                np.where(sense[:, axis] != 0.0, np.arange(len(sense)), moving[0])
            )
            sense[:, axis] = sense[np.maximum(last, moving[0]), axis]
    return sense


def _lost_deg(moves: FloatArray, slips: Sequence[Slip]) -> FloatArray:
    """How far behind each axis stands after each move, (cells, 2)."""
    lost = np.zeros_like(moves)
    for slip in slips:
        lost[slip.index :] += slip.short * moves[slip.index :]
        move = moves[slip.index]
        axis = int(np.argmax(np.abs(move)))
        lost[slip.index, axis] += slip.by_deg * np.sign(move[axis])
    behind: FloatArray = np.cumsum(lost, axis=0)
    return behind
