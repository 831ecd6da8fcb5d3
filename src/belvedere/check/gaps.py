"""What a knocked tripod or a slipped head did to the picture: sudden turns, and holes.

Holes are looked for as the head stands at the end of the sweep. So a cell that is named can be shot
again without moving the tripod: sent there, the head points at the hole.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from belvedere.check.model import Finding
from belvedere.check.moves import Moves
from belvedere.check.parting import Cut
from belvedere.check.place import Placing
from belvedere.check.positions import Positions, as_it_stands, scatter_rad, sudden_turns
from belvedere.check.thresholds import (
    HOLE_MARGIN_SHARE,
    JOINED_SHARE,
    RIM_SCATTERS,
    RIM_SHARE,
)
from belvedere.check.words import name
from belvedere.shoot import Plan
from belvedere.sphere import bearing_elevation

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]

#: Points across and down each planned frame: finer than any hole that counts.
_ACROSS, _DOWN = 33, 25
#: So many frames on either side of a sudden turn tell its size.
_TOGETHER = 9


@dataclass(frozen=True, slots=True)
class Geometry:
    """Findings on frames, each with its file, and on the shoot."""

    findings: tuple[Finding, ...] = ()
    shoot_findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class _Turn:
    """From the frame at place `after` on, the camera points elsewhere by `turn` (3,), radians."""

    after: int
    turn: FloatArray


def judge_positions(plan: Plan, placing: Placing, positions: Positions) -> Geometry:
    """Sudden turns of the whole camera, and cells with a part that is on no frame."""
    if len(positions.frames) < 2:
        return Geometry()
    if _joined(positions).mean() < JOINED_SHARE:
        return _in_the_fog(placing, positions)
    sudden = _sudden_turns(placing, positions)
    cut = positions.cut
    holes = _holes(plan, placing, positions)
    findings = [_hole_finding(placing, positions, place, share) for place, share in holes]
    if cut is not None:
        holed = {place for place, _ in holes}
        findings += [
            _parted_finding(placing, positions, cut, place)
            for place in cut.places
            if place not in holed
        ]
    said = [_sudden_finding(placing, positions, turn, bool(holes)) for turn in sudden]
    if cut is not None:
        said.append(_parted_shoot_finding(placing, positions, cut))
    return Geometry(tuple(findings), tuple(said))


def _joined(positions: Positions) -> BoolArray:
    """Which frames (n,) some other frame was found to overlap."""
    ends = [end for one in positions.met if one.found for end in (one.first, one.second)]
    joined: BoolArray = (
        np.bincount(np.array(ends, dtype=np.intp), minlength=len(positions.frames)) > 0
    )
    return joined


def _in_the_fog(placing: Placing, positions: Positions) -> Geometry:
    """A shoot in which next to nothing is to be seen: a stuck head would not show."""
    findings = [
        Finding(
            "unsure",
            f"nothing in {name(placing.frames[t].file)} tells where it lies, nor in most frames of "
            f"this shoot; the clock alone speaks for this cell",
            placing.frames[t].file,
        )
        for t, joined in zip(positions.frames, _joined(positions), strict=True)
        if not joined
    ]
    return Geometry(tuple(findings))


def _sudden_turns(placing: Placing, positions: Positions) -> list[_Turn]:
    """Where the turns of consecutive frames differ by more than any move's own error."""
    places = sudden_turns(positions.turn_rad, placing.moves.width_px / placing.moves.focal_px)
    found = []
    for last, place, following in zip([0, *places], places, [*places[1:], None], strict=False):
        start = max(last, place - _TOGETHER)
        end = min(following or len(positions.frames), place + _TOGETHER)
        before = np.median(positions.turn_rad[start:place], axis=0)
        after = np.median(positions.turn_rad[place:end], axis=0)
        found.append(_Turn(place, after - before))
    return found


def _sudden_finding(placing: Placing, positions: Positions, turn: _Turn, holes: bool) -> Finding:
    a, b = (placing.frames[positions.frames[turn.after - i]] for i in (1, 0))
    axis = positions.rotations[turn.after, 2]
    back = Rotation.from_rotvec(turn.turn).apply(axis)
    by_deg = float(np.degrees(np.linalg.norm(turn.turn)))
    what = (
        "holes are left between the frames; the cells named here fill them as the head stands now"
        if holes
        else "the frames still overlap, so nothing is lost; make the tripod fast all the same"
    )
    return Finding(
        "moved",
        f"between {name(a.file)} and {name(b.file)} the camera moved, as when a tripod is knocked "
        f"or a head slips: from there on all frames lie {_aside(back, axis)}; {what}",
        value=round(by_deg, 2),
        unit="deg",
    )


def _aside(planned: FloatArray, there: FloatArray) -> str:
    """Where one direction lies, seen from another: "2.0° to the right and 1.5° lower"."""
    bearings, elevations = zip(*(bearing_elevation(axis) for axis in (planned, there)), strict=True)
    up = float(elevations[1] - elevations[0])
    right = float((bearings[1] - bearings[0] + 180.0) % 360.0 - 180.0)
    right *= float(np.cos(np.radians(elevations[1])))
    words = []
    if abs(right) >= 0.1 or abs(right) >= abs(up):
        words.append(f"{abs(right):.1f}° to the {'right' if right > 0 else 'left'}")
    if abs(up) >= 0.1 or abs(up) > abs(right):
        words.append(f"{abs(up):.1f}° {'higher' if up > 0 else 'lower'}")
    return " and ".join(words)


def _parted_finding(placing: Placing, positions: Positions, cut: Cut, place: int) -> Finding:
    file = placing.frames[positions.frames[place]].file
    first = placing.frames[positions.frames[cut.after]].file
    return Finding(
        "unsure",
        f"{name(file)} shows nothing of the frames beside it: from {name(first)} on the camera "
        f"seems to have been moved, further than can be measured",
        file,
    )


def _parted_shoot_finding(placing: Placing, positions: Positions, cut: Cut) -> Finding:
    a, b = (placing.frames[positions.frames[cut.after - i]].file for i in (1, 0))
    return Finding(
        "moved",
        f"nothing taken from {name(b)} on joins what was taken up to {name(a)}, though it should: "
        f"the tripod or the head seems to have been moved far; compare the two, and shoot again "
        f"from the cell of {name(b)} with the camera pointed as before",
    )


def _holes(plan: Plan, placing: Placing, positions: Positions) -> list[tuple[int, float]]:
    """Frames (by place) in whose cell a part is on no frame, with the share of the cell."""
    moves = replace(placing.moves, linear=positions.linear)
    rotations = as_it_stands(positions)
    cells = placing.cell[positions.frames]
    off_px = moves.focal_px * np.linalg.norm(rotations[:, 2] - moves.directions[cells], axis=1)
    strayed = off_px > HOLE_MARGIN_SHARE * min(moves.width_px, moves.height_px)
    if not strayed.any():
        return []
    taken, planned = cKDTree(rotations[:, 2]), cKDTree(moves.directions)
    reach = 2.0 * np.sin(0.55 * np.hypot(moves.width_px, moves.height_px) / moves.focal_px)
    # Frames aimed by hand, or from a drone, have ragged borders.
    frame_rad = moves.width_px / moves.focal_px
    rim = max(RIM_SHARE, RIM_SCATTERS * scatter_rad(positions.turn_rad) / frame_rad)
    gone = np.setdiff1d(np.arange(moves.count), cells)
    by_cell = {int(cell): place for place, cell in enumerate(cells)}
    holes = []
    for cell, place in by_cell.items():
        near = np.array(taken.query_ball_point(moves.directions[cell], 2.0 * reach), dtype=np.intp)
        if not strayed[near].any():
            continue
        rays = _rays(plan, placing, cell, rim)
        count = len(rays)
        _, nearest = planned.query(rays)
        rays = rays[nearest == cell]
        rays = rays[~_shown(moves, rays, moves.rotations[gone], 0.1)]
        bare = rays[~_shown(moves, rays, rotations[near], -HOLE_MARGIN_SHARE)]
        if len(bare):
            holes.append((place, len(bare) / count))
    return holes


def _rays(plan: Plan, placing: Placing, cell: int, rim: float) -> FloatArray:
    """Directions (m, 3) all over a planned frame, the outer rim of the whole grid left out."""
    moves, here = placing.moves, plan.cells[cell]
    open_ended = not plan.shoot.grid.full_turn
    last = plan.columns_per_row[here.row - 1]
    left, right = (open_ended and here.column == side for side in (1, last))
    top, bottom = here.row == 1, here.row == plan.rows
    x = np.linspace(rim * left - 0.5, 0.5 - rim * right, _ACROSS) * moves.width_px
    y = np.linspace(rim * top - 0.5, 0.5 - rim * bottom, _DOWN) * moves.height_px
    image = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    rays = np.column_stack([image / moves.focal_px, np.ones(len(image))])
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    world: FloatArray = rays @ moves.rotations[cell]
    return world


def _shown(moves: Moves, rays: FloatArray, rotations: FloatArray, grown: float) -> BoolArray:
    """Which directions (m, 3) some frame (n, 3, 3) shows, each larger by a share on every side."""
    half = (0.5 + grown) * np.array([moves.width_px, moves.height_px])
    shown = np.zeros(len(rays), dtype=bool)
    for rotation in rotations:
        if len(rays) and rotation[2] @ rays[len(rays) // 2] < 0.2:
            continue
        seen = rays @ rotation.T
        depth = np.where(seen[:, 2] > 0.1, seen[:, 2], np.inf)
        image = moves.focal_px * (seen[:, :2] / depth[:, None]) @ moves.linear.T
        shown |= (np.abs(image) <= half).all(axis=1) & (seen[:, 2] > 0.1)
    return shown


def _hole_finding(placing: Placing, positions: Positions, place: int, share: float) -> Finding:
    file = placing.frames[positions.frames[place]].file
    return Finding(
        "missing",
        f"the camera moved during the sweep, and a part of this cell ({max(share, 0.01):.0%}) is "
        f"on no frame, {name(file)} included; shoot it again with the head as it stands now",
        file,
        round(share, 3),
        "share",
    )
