"""Where a knocked tripod or a slipped head left holes in the picture, by the true rotations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.optics import LensModel
from belvedere.rehearse import Bumped, Rehearsal, Slipped, Slipping
from belvedere.sphere import camera_from_world

Cell = tuple[int, int]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Points across and down a cell's planned footprint.
_ACROSS, _DOWN = 41, 31
#: The outer border of the whole grid may be lost by this share of a frame, cropped away and never
#: missed; up to the larger share it is a matter of opinion. Holes inside are none.
_RIM_SHARE, _WIDE_RIM_SHARE = 0.05, 0.15
#: A hole counts when it is there even with each frame larger by this share on every side.
_GROWN_SHARE = 0.01
#: So many frames tell where the tripod stands: single moves have errors of their own.
_MEASURED = 9


@dataclass(frozen=True, slots=True)
class Gaps:
    """Cells with a part of the picture that no frame shows.

    Where the tripod stood before it strayed and where it stands at the end are both fair measures
    of what was planned: `surely` has the cells with a hole by the one and by the other. At cells of
    `perhaps` either answer is right.
    """

    surely: tuple[frozenset[Cell], ...] = ()
    perhaps: frozenset[Cell] = frozenset()

    @property
    def somewhere(self) -> bool:
        """Whether there is a hole by both measures."""
        return bool(self.surely) and all(self.surely)


def find_gaps(rehearsal: Rehearsal, documents: Sequence[Mapping[str, Any]]) -> Gaps:
    """Holes between the whole frames of the card; what misses for other reasons is left out."""
    lens = rehearsal.lens()
    frames = [
        frame
        for document in documents
        for frame in document["frames"]
        if frame["kept_share"] >= 1.0 and frame["role"] != "before the sweep"
    ]
    rotations = np.array([frame["camera_from_world"] for frame in frames])
    base = np.array(documents[0]["head"]["base_from_world"])
    planned = _planned(rehearsal, base)
    sent = [frame for frame in documents[0]["frames"] if frame["role"] == "sweep"]
    gone = set(planned) - {_place(frame["sent_to"]) for frame in sent if frame["kept_share"] >= 1.0}
    found: list[tuple[set[Cell], set[Cell]]] = []
    for stands in _stances(rehearsal, sent, planned):
        moved = {place: rotation @ stands for place, rotation in planned.items()}
        found.append(_holes(rehearsal, moved, rotations, lens, gone))
    (must_a, may_a), (must_b, may_b) = found
    return Gaps(
        (frozenset(must_a), frozenset(must_b)),
        frozenset(may_a | may_b | _beside(rehearsal, must_a | must_b)),
    )


def _stances(
    rehearsal: Rehearsal, sent: Sequence[Mapping[str, Any]], planned: Mapping[Cell, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """What turns the plan's world to where the head stood before it strayed, and at the end."""
    places = [_place(frame["sent_to"]) for frame in sent]
    order = [(cell.row, cell.column) for cell in rehearsal.plan.cells]
    strayed = [
        order.index(fault.cell)
        for fault in rehearsal.faults
        if isinstance(fault, Bumped | Slipped | Slipping)
    ]
    strayed.sort()
    turns = [
        planned[place].T @ np.array(frame["camera_from_world"])
        for place, frame in zip(places, sent, strict=True)
    ]
    before = [t for t, place in zip(turns, places, strict=True) if order.index(place) < strayed[0]]
    after = [t for t, place in zip(turns, places, strict=True) if order.index(place) >= strayed[-1]]
    return _mean((before or turns[:1])[-_MEASURED:]), _mean((after or turns[-1:])[-_MEASURED:])


def _mean(rotations: Sequence[FloatArray]) -> FloatArray:
    mean: FloatArray = Rotation.from_matrix(np.array(rotations)).mean().as_matrix()
    return mean


def _beside(rehearsal: Rehearsal, cells: set[Cell]) -> set[Cell]:
    """Cells next to these: the hole lies between the two, and either may be named."""
    return {
        (cell.row, cell.column)
        for cell in rehearsal.plan.cells
        for row, column in cells
        if abs(cell.row - row) <= 1 and abs(cell.column - column) <= 1
    }


def _place(place: Sequence[int]) -> Cell:
    return int(place[0]), int(place[1])


def _planned(rehearsal: Rehearsal, base: FloatArray) -> dict[Cell, FloatArray]:
    return {
        (cell.row, cell.column): camera_from_world(cell.bearing_deg, cell.elevation_deg) @ base
        for cell in rehearsal.plan.cells
    }


def _holes(
    rehearsal: Rehearsal,
    planned: Mapping[Cell, FloatArray],
    rotations: FloatArray,
    lens: LensModel,
    gone: set[Cell],
) -> tuple[set[Cell], set[Cell]]:
    """Cells with a hole that counts, and cells with any."""
    plan = rehearsal.plan
    ideal = LensModel.ideal(lens.width_px, lens.height_px, plan.focal_length_px)
    axes = np.array(list(planned.values()))[:, 2]
    names = list(planned)
    must: set[Cell] = set()
    may: set[Cell] = set()
    for place, rotation in planned.items():
        if place in gone:
            continue
        missing = [cell for cell in gone if _angle(rotation[2], planned[cell][2]) < 60.0]
        for rim, grown, holes in ((_RIM_SHARE, 0.0, may), (_WIDE_RIM_SHARE, _GROWN_SHARE, must)):
            rays = ideal.unproject(_points(rehearsal, place, rim)) @ rotation
            # What another cell is nearer to is looked at there.
            rays = rays[np.argmax(rays @ axes.T, axis=1) == names.index(place)]
            # What a missing cell would have shown is missing with it.
            rays = rays[~_covered(rays, np.array([planned[cell] for cell in missing]), ideal, 0.1)]
            if not _covered(rays, rotations, lens, grown).all():
                holes.add(place)
    return must, may


def _points(rehearsal: Rehearsal, place: Cell, rim: float) -> FloatArray:
    """Points of a cell's planned footprint in px, (n, 2), the grid's outer rim left out."""
    plan = rehearsal.plan
    width, height = plan.shoot.camera.image_width_px, plan.shoot.camera.image_height_px
    row, column = place
    rim_x, rim_y = rim * width, rim * height
    turn = plan.shoot.grid.full_turn
    left = rim_x if column == 1 and not turn else 0.0
    right = rim_x if column == plan.columns_per_row[row - 1] and not turn else 0.0
    top, bottom = rim_y if row == 1 else 0.0, rim_y if row == plan.rows else 0.0
    x = np.linspace(left, width - 1 - right, _ACROSS)
    y = np.linspace(top, height - 1 - bottom, _DOWN)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def _covered(rays: FloatArray, rotations: FloatArray, lens: LensModel, grown: float) -> BoolArray:
    """Which rays (n, 3) in world axes some frame shows, its edges moved out by a share."""
    covered = np.zeros(len(rays), dtype=bool)
    if not len(rays) or not len(rotations):
        return covered
    middle = rays.mean(axis=0)
    middle /= np.linalg.norm(middle)
    reach = 2.2 * np.degrees(
        np.arctan(0.5 * np.hypot(lens.width_px, lens.height_px) / lens.focal_length_px)
    )
    near = rotations[rotations[:, 2] @ middle > np.cos(np.radians(min(reach, 89.0)))]
    x_out, y_out = grown * lens.width_px + 0.5, grown * lens.height_px + 0.5
    for rotation in near:
        open_ = np.flatnonzero(~covered)
        if not len(open_):
            break
        seen = rays[open_] @ rotation.T
        ahead = seen[:, 2] > 0.3
        xy = lens.project(seen[ahead])
        inside = (xy[:, 0] >= -x_out) & (xy[:, 0] <= lens.width_px - 1 + x_out)
        inside &= (xy[:, 1] >= -y_out) & (xy[:, 1] <= lens.height_px - 1 + y_out)
        covered[open_[ahead][inside]] = True
    return covered


def _angle(a: FloatArray, b: FloatArray) -> float:
    return float(np.degrees(np.arccos(np.clip(float(a @ b), -1.0, 1.0))))
