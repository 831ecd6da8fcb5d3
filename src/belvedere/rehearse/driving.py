"""Where the head stands at each visit of a rehearsal, when, and what it leaves behind."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.rehearse.faults import Place
from belvedere.rehearse.head import (
    Stance,
    driven_deg,
    pointed,
    sweep_times_s,
    times_by_hand_s,
)
from belvedere.rehearse.rehearsal import (
    KNOCK_STREAM,
    POINTING_STREAM,
    TIMES_STREAM,
    WAITS_STREAM,
    Rehearsal,
)
from belvedere.rehearse.visits import Visit, bases, slips, visits, waits_s
from belvedere.sphere import camera_from_world

FloatArray = NDArray[np.float64]


def stance_at_end(rehearsal: Rehearsal) -> Stance:
    """How tripod and head stand when the last frame is taken."""
    way = visits(rehearsal.visited(), rehearsal.faults)
    base = _bases(rehearsal, way)[-1]
    unhindered = driven_deg(rehearsal.head, rehearsal.plan, [visit.cell for visit in way])
    pan, tilt = unhindered[-1] - _driven_deg(rehearsal, way)[-1]
    return Stance(tuple(tuple(row) for row in base.tolist()), (float(pan), float(tilt)))


def _driven_deg(rehearsal: Rehearsal, way: Sequence[Visit]) -> FloatArray:
    """Where the axes stop at each visit, (visits, 2)."""
    lost = slips(way, rehearsal.faults)
    driven = driven_deg(rehearsal.head, rehearsal.plan, [visit.cell for visit in way], lost)
    behind = (0.0, 0.0) if rehearsal.stands is None else rehearsal.stands.behind_deg
    return np.asarray(driven - behind)


def _bases(rehearsal: Rehearsal, way: Sequence[Visit]) -> list[FloatArray]:
    number = rehearsal.first_number
    return bases(
        rehearsal.base(),
        way,
        rehearsal.faults,
        lambda index: rehearsal.rng(KNOCK_STREAM, number, index),
    )


def driven_rotations(rehearsal: Rehearsal, way: Sequence[Visit]) -> list[FloatArray]:
    """Where the camera looks at each visit: camera_from_world, (3, 3) each."""
    number = rehearsal.first_number
    driven, stands = _driven_deg(rehearsal, way), _bases(rehearsal, way)
    return [
        pointed(rehearsal.head, base, axes, rehearsal.rng(POINTING_STREAM, number, index))
        for index, (base, axes) in enumerate(zip(stands, driven, strict=True))
    ]


def driven_times_s(rehearsal: Rehearsal, way: Sequence[Visit]) -> FloatArray:
    """When the head is done at each visit, in seconds from the first release, (visits,)."""
    number, cells = rehearsal.first_number, [visit.cell for visit in way]
    rng = rehearsal.rng(TIMES_STREAM, number)
    waits = np.cumsum(waits_s(way, rehearsal.faults, rehearsal.rng(WAITS_STREAM, number)))
    if rehearsal.only:
        return times_by_hand_s(len(cells), rng) + waits
    return sweep_times_s(rehearsal.head, rehearsal.plan, cells, rng) + waits


def cell_shown(rehearsal: Rehearsal, rotation: FloatArray, sent_to: Place) -> Place | None:
    """The cell whose middle lies nearest to a frame's; None where it shows the middle of none."""
    plan = rehearsal.plan
    looks = rehearsal.base() @ rotation[2]
    middles = np.array(
        [camera_from_world(cell.bearing_deg, cell.elevation_deg)[2] for cell in plan.cells]
    )
    nearness = middles @ looks
    nearest = plan.cells[int(np.argmax(nearness))]
    apart_deg = float(np.degrees(np.arccos(min(1.0, float(nearness.max())))))
    if apart_deg > min(plan.horizontal_fov_deg, plan.vertical_fov_deg) / 2.0:
        return None
    known = plan.cell(*sent_to)
    same = np.isclose(nearness.max(), nearness[plan.cells.index(known)], atol=1e-12)
    return sent_to if same else (nearest.row, nearest.column)
