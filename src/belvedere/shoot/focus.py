"""Focus zones: which rows one focus setting serves, and where autofocus would fail.

A sweep is shot with manual focus: an autofocus that hunts makes the head's rhythm late and the
frame soft. Where the scene is deeper than one setting holds, focus changes between rows, so that
each row is one setting from end to end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from belvedere.optics import focus_between_m, hyperfocal_m, largest_offset_mm, near_far_m
from belvedere.shoot.briefing import AutofocusTrouble, FocusFacts, FocusZone
from belvedere.shoot.conditions import Region
from belvedere.shoot.model import Plan

_TROUBLE = {
    "sky": (
        "plain sky gives autofocus nothing to hold on to",
        "leave the focus of the zone as it stands and go on",
    ),
    "dark": (
        "it is too dark for autofocus",
        "pause before these rows, focus by hand on a far lamp or star in the magnified picture, "
        "and go on",
    ),
    "haze": (
        "haze leaves too little contrast for autofocus",
        "pause, focus by hand on the farthest sharp edge, and go on",
    ),
    "water": (
        "reflections move, and autofocus follows them",
        "focus by hand on the shore behind, and go on",
    ),
}


@dataclass(frozen=True, slots=True)
class Depth:
    """Nearest and farthest distance that must be sharp."""

    near_m: float
    far_m: float


@dataclass(frozen=True, slots=True)
class FocusLens:
    """What depth of field depends on."""

    focal_length_mm: float
    f_number: float
    circle_mm: float


def focus_facts(plan: Plan, lens: FocusLens) -> FocusFacts:
    """Zones from the top row down, and where autofocus will fail.

    Without regions all rows are one zone, focused at the distance of [focus], or at the
    hyperfocal distance.
    """
    conditions = plan.shoot.conditions
    fixed_m = conditions.focus.distance_m
    rows = plan.row_elevations_deg()
    per_row = [_regions_of_row(plan, elevation) for elevation in rows]
    if fixed_m is not None or not any(per_row):
        focus_m = fixed_m or hyperfocal_m(lens.focal_length_mm, lens.f_number, lens.circle_mm)
        named = tuple(dict.fromkeys(region.name for row in per_row for region in row))
        zones: tuple[FocusZone, ...] = (_zone(focus_m, lens, 1, len(rows), named),)
    else:
        zones = _zones(per_row, lens)
    return FocusFacts(zones, _troubles(per_row, conditions.regions))


def scene_depth(plan: Plan) -> Depth | None:
    """Nearest and farthest of all regions in the picture; None where no distance is known."""
    regions = [
        region
        for elevation in plan.row_elevations_deg()
        for region in _regions_of_row(plan, elevation)
        if region.kind != "sky"
    ]
    return _depth(regions) if regions else None


def pupil_offset_mm(plan: Plan, px: float = 0.5) -> float | None:
    """How far the entrance pupil is off the axis when near things shift by `px` between neighbours.

    None where the shoot file does not tell how near and how far the scene is.
    """
    depth = scene_depth(plan)
    steps = [
        step for step, n in zip(plan.column_steps_deg, plan.columns_per_row, strict=True) if n > 1
    ]
    widest_deg = max([*steps, plan.row_step_deg])
    if depth is None or depth.near_m >= depth.far_m or widest_deg <= 0.0:
        return None
    return largest_offset_mm(depth.near_m, depth.far_m, widest_deg, plan.focal_length_px, px)


def zone_need(plan: Plan, zone: FocusZone) -> Depth | None:
    """What must be sharp in the rows of a zone; None where no distance is known."""
    rows = plan.row_elevations_deg()[zone.first_row - 1 : zone.last_row]
    regions = [
        region
        for elevation in rows
        for region in _regions_of_row(plan, elevation)
        if region.kind != "sky"
    ]
    return _depth(regions) if regions else None


def holds(zone: FocusZone, need: Depth) -> bool:
    """Whether all of `need` is within the zone's depth of field."""
    return zone.near_m <= need.near_m * 1.0001 and zone.far_m >= need.far_m / 1.0001


def _zones(per_row: Sequence[Sequence[Region]], lens: FocusLens) -> tuple[FocusZone, ...]:
    """As few zones as hold, each as many rows from the top as one setting serves."""
    zones = []
    first, held = 1, list(per_row[0])
    for row in range(2, len(per_row) + 2):
        more = list(per_row[row - 1]) if row <= len(per_row) else None
        if more is not None and _goes_with(held, more, lens):
            held += more
            continue
        zones.append(_zone_for(held, lens, first, row - 1))
        first, held = row, more or []
    return tuple(zones)


def _goes_with(held: Sequence[Region], more: Sequence[Region], lens: FocusLens) -> bool:
    """Whether one more row needs no setting of its own: it asks nothing new, or one holds all."""
    if not _far_things(more):
        return True
    together = [*held, *more]
    nothing_new = bool(_far_things(held)) and _need(together) == _need(held)
    return nothing_new or _one_setting(together, lens)


def _need(regions: Sequence[Region]) -> Depth:
    return _depth(_far_things(regions))


def _far_things(regions: Sequence[Region]) -> list[Region]:
    return [region for region in regions if region.kind != "sky"]


def _one_setting(regions: Sequence[Region], lens: FocusLens) -> bool:
    return holds(_zone_for(regions, lens, 1, 1), _need(regions))


def _zone_for(regions: Sequence[Region], lens: FocusLens, first: int, last: int) -> FocusZone:
    need = _depth(_far_things(regions) or regions)
    named = tuple(dict.fromkeys(region.name for region in regions))
    hyperfocal = hyperfocal_m(lens.focal_length_mm, lens.f_number, lens.circle_mm)
    focus_m = focus_between_m(need.near_m, need.far_m) if need.near_m < math.inf else hyperfocal
    if need.far_m == math.inf and need.near_m >= hyperfocal / 2.0:
        focus_m = max(focus_m, hyperfocal)
    return _zone(focus_m, lens, first, last, named)


def _zone(
    focus_m: float, lens: FocusLens, first: int, last: int, named: tuple[str, ...]
) -> FocusZone:
    near_m, far_m = near_far_m(focus_m, lens.focal_length_mm, lens.f_number, lens.circle_mm)
    return FocusZone(focus_m, near_m, far_m, first, last, named)


def _depth(regions: Sequence[Region]) -> Depth:
    if not regions:
        return Depth(math.inf, math.inf)
    return Depth(
        min(region.nearest_m for region in regions),
        max(math.inf if region.farthest_m is None else region.farthest_m for region in regions),
    )


def _regions_of_row(plan: Plan, elevation_deg: float) -> list[Region]:
    half = plan.vertical_fov_deg / 2.0
    grid = plan.shoot.grid
    found = []
    for region in plan.shoot.conditions.regions:
        top = grid.top_deg if region.top_deg is None else region.top_deg
        bottom = grid.bottom_deg if region.bottom_deg is None else region.bottom_deg
        if elevation_deg + half > bottom and elevation_deg - half < top:
            found.append(region)
    return found


def _troubles(
    per_row: Sequence[Sequence[Region]], regions: Sequence[Region]
) -> tuple[AutofocusTrouble, ...]:
    found = []
    for region in regions:
        rows = [number for number, row in enumerate(per_row, start=1) if region in row]
        if rows and region.kind in _TROUBLE:
            why, do = _TROUBLE[region.kind]
            found.append(AutofocusTrouble(region.name, rows[0], rows[-1], why, do))
    return tuple(found)
