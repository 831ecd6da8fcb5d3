"""A simulated head: where it really points, and when the shutter is released."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.shoot import Cell, Sweep
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
    step_scale_error
        By what share the head turns too far in bearing, counted from the sweep's first cell.
    interval_jitter_s
        Standard deviation of each release against the interval.
    speed_deg_per_s
        Turning speed: the way back to the start of a row takes longer than a step.
    """

    pointing_error_deg: float = 0.03
    base_tilt_deg: float = 0.7
    step_scale_error: float = 0.0
    interval_jitter_s: float = 0.05
    speed_deg_per_s: float = 15.0


def base_from_world(traits: HeadTraits, rng: np.random.Generator) -> FloatArray:
    """The rotation (3, 3) from world axes to those of the tilted base.

    The tilt is a turn about a level axis.
    """
    toward = rng.uniform(0.0, 2.0 * np.pi)
    axis = np.array([np.cos(toward), 0.0, np.sin(toward)])
    turn: FloatArray = Rotation.from_rotvec(axis * np.radians(traits.base_tilt_deg)).as_matrix()
    return turn


def pointed(
    traits: HeadTraits, base: FloatArray, first: Cell, cell: Cell, rng: np.random.Generator
) -> FloatArray:
    """Where the camera really looks, camera_from_world (3, 3), when sent to `cell`."""
    error = rng.normal(0.0, 1.0, 3) * traits.pointing_error_deg
    turned = (cell.bearing_deg - first.bearing_deg) * (1.0 + traits.step_scale_error)
    from_base = camera_from_world(
        first.bearing_deg + turned + error[0], cell.elevation_deg + error[1], error[2]
    )
    return from_base @ base


def release_times_s(
    traits: HeadTraits, sweep: Sweep, cells: Sequence[Cell], rng: np.random.Generator
) -> FloatArray:
    """Seconds of each release after the first one, for a sweep of `cells` in this order."""
    interval = sweep.interval_s or USUAL_INTERVAL_S
    gaps = [
        interval + _longer_way_s(traits, sweep, before, after) for before, after in pairwise(cells)
    ]
    jitter = rng.normal(0.0, traits.interval_jitter_s, len(cells))
    times = np.concatenate([[0.0], np.cumsum(gaps)]) + jitter
    return np.asarray(times - times[0], dtype=np.float64)


def times_by_hand_s(count: int, rng: np.random.Generator) -> FloatArray:
    """Seconds of each release after the first one, when a person drives from cell to cell."""
    gaps = rng.uniform(*BY_HAND_S, max(count - 1, 0))
    return np.concatenate([[0.0], np.cumsum(gaps)])


def _longer_way_s(traits: HeadTraits, sweep: Sweep, before: Cell, after: Cell) -> float:
    """What a change to the next row (or column) takes beyond a step within one."""
    within_row = sweep.order == "rows" and before.row == after.row
    within_column = sweep.order == "columns" and before.column == after.column
    if within_row or within_column:
        return 0.0
    way = max(
        abs(after.bearing_deg - before.bearing_deg), abs(after.elevation_deg - before.elevation_deg)
    )
    return way / traits.speed_deg_per_s
