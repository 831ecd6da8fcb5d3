"""A whole rehearsal: every release of the shutter decided first, then photographed one by one.

`shots` decides everything but the pixels, so it costs nothing; `photograph` is a pure function of
one shot, so that shots can be photographed in any order and side by side. The same seed gives the
same card.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError
from belvedere.optics import LensModel
from belvedere.rehearse.blur import Blur
from belvedere.rehearse.camera import CameraTraits, Exposure, Pixels, render_frame
from belvedere.rehearse.faults import (
    ColourJump,
    ExposureJump,
    Fault,
    Missing,
    Place,
    Repeated,
    Shaken,
    Soft,
    Stuck,
    TrialPictures,
    Truncated,
    require_possible,
)
from belvedere.rehearse.head import (
    USUAL_INTERVAL_S,
    HeadTraits,
    base_from_world,
    pointed,
    release_times_s,
    times_by_hand_s,
)
from belvedere.rehearse.scene import Scene
from belvedere.shoot import Cell, Plan
from belvedere.sphere import camera_from_world

FloatArray = NDArray[np.float64]

USUAL_START = datetime(2031, 5, 17, 10, 20, 0)
NORMAL_EXPOSURE_S = 1.0 / 400.0
#: A second release comes so long after the first, as a share of the interval.
_BOUNCE = 0.4
# What a random stream is for: each part of the rehearsal draws from its own.
_BASE, _POINTING, _TIMES, _LIGHT, _NOISE, _TESTS = range(6)


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """Everything that decides a rehearsal, but for the scene.

    Attributes
    ----------
    only
        Cells (row, column) of a retake, in the order of the visit; empty for the whole sweep.
    first_number
        Number of the first file; a later card goes on where the last one ended.
    """

    plan: Plan
    camera: CameraTraits = field(default_factory=CameraTraits)
    head: HeadTraits = field(default_factory=HeadTraits)
    faults: tuple[Fault, ...] = ()
    seed: int = 1
    start: datetime = USUAL_START
    first_number: int = 401
    only: tuple[Place, ...] = ()

    def rng(self, *stream: int) -> np.random.Generator:
        """A random stream of its own."""
        return np.random.default_rng([self.seed, *stream])

    def lens(self) -> LensModel:
        """The true lens."""
        camera = self.plan.shoot.camera
        return self.camera.lens(
            camera.image_width_px, camera.image_height_px, self.plan.focal_length_px
        )

    def base(self) -> FloatArray:
        """The tilt of the base, base_from_world (3, 3)."""
        return base_from_world(self.head, self.rng(_BASE))

    def visited(self) -> tuple[Cell, ...]:
        """The cells that the head is sent to, in order."""
        if not self.only:
            return self.plan.cells
        known = {(cell.row, cell.column): cell for cell in self.plan.cells}
        unknown = [f"{row},{column}" for row, column in self.only if (row, column) not in known]
        if unknown:
            raise PlanError(
                f"The plan has no cell {' nor '.join(unknown)}.",
                f"Rows go from 1 to {self.plan.rows}, columns from 1 to "
                f"{max(self.plan.columns_per_row)}.",
            )
        return tuple(known[place] for place in self.only)


@dataclass(frozen=True, slots=True)
class Shot:
    """One release that leaves a file, with the truth about it.

    Attributes
    ----------
    number
        Number of the file; numbers have no gaps, whatever went wrong.
    role
        "sweep", "repeated" (a second release), "stuck" (the head had not moved) or "before the
        sweep".
    cell, sent_to
        Row and column that the frame shows, and that the head was sent to; None before the sweep.
    camera_from_world
        (3, 3), the true rotation.
    exposure
        What reached the sensor, and how sharply.
    stated_exposure_s
        The exposure time that the file states.
    taken_at
        The moment of the release, to the microsecond.
    kept
        The share of the file's bytes that is there.
    stream
        Names the noise.
    """

    number: int
    role: str
    cell: Place | None
    sent_to: Place | None
    camera_from_world: FloatArray = field(repr=False)
    exposure: Exposure
    stated_exposure_s: float
    taken_at: datetime
    kept: float
    stream: tuple[int, ...]


def shots(rehearsal: Rehearsal) -> tuple[Shot, ...]:
    """Every release that leaves a file, in order."""
    require_possible(rehearsal.visited(), rehearsal.faults)
    before = _test_pictures(rehearsal)
    taken = [*before, *_sweep(rehearsal)]
    return tuple(
        replace(shot, number=rehearsal.first_number + index) for index, shot in enumerate(taken)
    )


def photograph(shot: Shot, scene: Scene, lens: LensModel, traits: CameraTraits) -> Pixels:
    """The picture of one shot, (height, width, 3) uint8 RGB."""
    rng = np.random.default_rng(shot.stream)
    return render_frame(scene, lens, shot.camera_from_world, traits, shot.exposure, rng)


def rehearse(rehearsal: Rehearsal, scene: Scene) -> Iterator[tuple[Shot, Pixels]]:
    """Each shot with its picture, in order."""
    lens = rehearsal.lens()
    for shot in shots(rehearsal):
        yield shot, photograph(shot, scene, lens, rehearsal.camera)


def _sweep(rehearsal: Rehearsal) -> Iterator[Shot]:
    cells = rehearsal.visited()
    rotations = _rotations(rehearsal, cells)
    times = _times_s(rehearsal, cells)
    faults = {type_: _by_cell(rehearsal.faults, type_) for type_ in (Missing, Repeated, Stuck)}
    shown = list(cells)
    for index, cell in enumerate(cells):
        place = (cell.row, cell.column)
        if place in faults[Missing]:
            continue
        role = "sweep"
        if place in faults[Stuck]:
            role = "stuck"
            rotations[index], shown[index] = rotations[index - 1], shown[index - 1]
        shot = Shot(
            number=0,
            role=role,
            cell=(shown[index].row, shown[index].column),
            sent_to=place,
            camera_from_world=rotations[index],
            exposure=_exposure(rehearsal, cells, index),
            stated_exposure_s=_stated_exposure_s(rehearsal, cells, index),
            taken_at=rehearsal.start + timedelta(seconds=float(times[index])),
            kept=_kept(rehearsal, place),
            stream=(rehearsal.seed, _NOISE, rehearsal.first_number, index),
        )
        yield shot
        if place in faults[Repeated]:
            yield _bounced(rehearsal, shot)


def _bounced(rehearsal: Rehearsal, shot: Shot) -> Shot:
    interval = rehearsal.plan.shoot.sweep.interval_s or USUAL_INTERVAL_S
    return replace(
        shot,
        role="repeated",
        taken_at=shot.taken_at + timedelta(seconds=_BOUNCE * interval),
        kept=1.0,
        exposure=replace(shot.exposure, blur=Blur()),
        stream=(*shot.stream, 1),
    )


def _rotations(rehearsal: Rehearsal, cells: Sequence[Cell]) -> list[FloatArray]:
    base, first = rehearsal.base(), rehearsal.plan.cells[0]
    return [
        pointed(
            rehearsal.head,
            base,
            first,
            cell,
            rehearsal.rng(_POINTING, rehearsal.first_number, index),
        )
        for index, cell in enumerate(cells)
    ]


def _times_s(rehearsal: Rehearsal, cells: Sequence[Cell]) -> FloatArray:
    rng = rehearsal.rng(_TIMES, rehearsal.first_number)
    if rehearsal.only:
        return times_by_hand_s(len(cells), rng)
    return release_times_s(rehearsal.head, rehearsal.plan.shoot.sweep, cells, rng)


def _exposure(rehearsal: Rehearsal, cells: Sequence[Cell], index: int) -> Exposure:
    rng = rehearsal.rng(_LIGHT, rehearsal.first_number, index)
    ev = float(rng.normal(0.0, 1.0)) * rehearsal.camera.gain_jitter_ev
    red, blue, blur = 1.0, 1.0, Blur()
    for fault in _at_work(rehearsal.faults, cells, index):
        if isinstance(fault, ExposureJump):
            ev += fault.ev
        elif isinstance(fault, ColourJump):
            red, blue = red * fault.red, blue * fault.blue
        elif isinstance(fault, Soft):
            blur = replace(blur, defocus_px=fault.blur_px)
        elif isinstance(fault, Shaken):
            blur = replace(
                blur, motion_px=fault.length_px, motion_direction_deg=fault.direction_deg
            )
    return Exposure(ev, (red, 1.0, blue), blur)


def _stated_exposure_s(rehearsal: Rehearsal, cells: Sequence[Cell], index: int) -> float:
    stated = [
        fault.ev
        for fault in _at_work(rehearsal.faults, cells, index)
        if isinstance(fault, ExposureJump) and fault.stated
    ]
    return float(NORMAL_EXPOSURE_S * 2.0 ** sum(stated))


def _kept(rehearsal: Rehearsal, place: Place) -> float:
    fault = _by_cell(rehearsal.faults, Truncated).get(place)
    return fault.kept if isinstance(fault, Truncated) else 1.0


def _at_work(faults: Sequence[Fault], cells: Sequence[Cell], index: int) -> Iterator[Fault]:
    """The faults of one cell, and those that began at an earlier one and last."""
    visited = [(cell.row, cell.column) for cell in cells[: index + 1]]
    for fault in faults:
        if isinstance(fault, TrialPictures):
            continue
        lasts = isinstance(fault, ExposureJump | ColourJump) and fault.onwards
        if fault.cell == visited[-1] or (lasts and fault.cell in visited):
            yield fault


def _by_cell(faults: Sequence[Fault], wanted: type[Fault]) -> dict[Place, Fault]:
    return {
        fault.cell: fault
        for fault in faults
        if isinstance(fault, wanted) and not isinstance(fault, TrialPictures)
    }


def _test_pictures(rehearsal: Rehearsal) -> list[Shot]:
    """Pictures before the sweep: anywhere in the grid's span, the exposure still being tried."""
    count = sum(f.count for f in rehearsal.faults if isinstance(f, TrialPictures))
    rng = rehearsal.rng(_TESTS, rehearsal.first_number)
    bearings = [cell.bearing_deg for cell in rehearsal.plan.cells]
    elevations = [cell.elevation_deg for cell in rehearsal.plan.cells]
    before_s = np.sort(rng.uniform(20.0, 20.0 + 15.0 * max(count, 1), count))[::-1]
    taken: list[Shot] = []
    for index in range(count):
        rotation = camera_from_world(
            rng.uniform(min(bearings), max(bearings)), rng.uniform(min(elevations), max(elevations))
        )
        tried_ev = round(float(rng.uniform(-1.0, 1.0)) * 3.0) / 3.0
        taken.append(
            Shot(
                number=0,
                role="before the sweep",
                cell=None,
                sent_to=None,
                camera_from_world=rotation @ rehearsal.base(),
                exposure=Exposure(tried_ev),
                stated_exposure_s=NORMAL_EXPOSURE_S * 2.0**tried_ev,
                taken_at=rehearsal.start - timedelta(seconds=float(before_s[index])),
                kept=1.0,
                stream=(rehearsal.seed, _NOISE, rehearsal.first_number, index, 2),
            )
        )
    return taken
