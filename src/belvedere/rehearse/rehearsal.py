"""A whole rehearsal: every release of the shutter decided first, then photographed one by one.

`releases` decides everything but the pixels, so it costs nothing; `photograph` is a pure function
of one shot, so that shots can be photographed in any order and side by side; `recording` then says
which of them the camera was ready for. The same seed gives the same card.
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
from belvedere.rehearse.camera import Pixels, take_frame
from belvedere.rehearse.camera_model import (
    CameraSettings,
    CameraTraits,
    Exposure,
    Frame,
    FrameConditions,
    Optic,
)
from belvedere.rehearse.daylight import Daylight, illumination
from belvedere.rehearse.faults import (
    Asleep,
    BatteryEmpty,
    CardFull,
    CellFault,
    Dust,
    Fault,
    Place,
    PowerPulled,
    Repeated,
    Slipped,
    Slipping,
    Stuck,
    TrialPictures,
    Truncated,
    at_work,
    never_released,
    require_possible,
)
from belvedere.rehearse.head import (
    USUAL_INTERVAL_S,
    HeadTraits,
    Stance,
    base_from_world,
    driven_deg,
    pointed,
    sweep_times_s,
    times_by_hand_s,
)
from belvedere.rehearse.makers import FileStyle
from belvedere.rehearse.meeting import (
    conditions_of,
    exposure_of,
    settings_of,
    settings_with,
    stated_exposure_s,
    swing_left,
)
from belvedere.rehearse.scene import Scene
from belvedere.rehearse.shutter_chain import ChainTraits, Trouble, chain_of, opening_delay_s
from belvedere.rehearse.visits import Visit, bases, slips, visits, waits_s
from belvedere.shoot import Cell, Plan
from belvedere.sphere import bearing_elevation_roll, camera_from_world

FloatArray = NDArray[np.float64]

USUAL_START = datetime(2031, 5, 17, 10, 20, 0)
#: A second release comes so long after the first, as a share of the interval.
_BOUNCE = 0.4
# What a random stream is for: each part of the rehearsal draws from its own.
_BASE, _POINTING, _TIMES, _LIGHT, _NOISE, _TESTS, _WAITS, _KNOCK, _MEETING = range(9)
CHAIN_STREAM, HAZARD_STREAM = 9, 10
#: Marks on the noise's stream: a second release, a picture before the sweep.
_SECOND, _BEFORE = 1, 2

_TROUBLES: dict[type[Fault], Trouble] = {
    Asleep: "asleep",
    CardFull: "card full",
    BatteryEmpty: "battery empty",
    PowerPulled: "power pulled",
}


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """Everything that decides a rehearsal, but for the scene.

    Attributes
    ----------
    settings, chain
        How the camera is set, and how quick it is; None for what the shoot file says.
    daylight
        How the light changes; None for light that stays.
    style
        How the camera names and fills its files.
    hazards
        The hazards that faults and settings were drawn from, in words.
    start
        The moment of the first release.
    began
        When the scene's clock began; None for `start`. A later card goes on with the first one's.
    still
        Nothing in the scene moves, and the light is that of the beginning: for measuring.
    first_number
        Number of the first file; a later card goes on where the last one ended.
    stands
        How an earlier card left tripod and head; None for as they were set up.
    only
        Cells (row, column) of a retake, in the order of the visit; empty for the whole sweep.
    """

    plan: Plan
    camera: CameraTraits = field(default_factory=CameraTraits)
    head: HeadTraits = field(default_factory=HeadTraits)
    faults: tuple[Fault, ...] = ()
    seed: int = 1
    start: datetime = USUAL_START
    first_number: int = 401
    only: tuple[Place, ...] = ()
    settings: CameraSettings | None = None
    chain: ChainTraits | None = None
    daylight: Daylight | None = None
    style: FileStyle = field(default_factory=FileStyle)
    hazards: tuple[str, ...] = ()
    began: datetime | None = None
    still: bool = False
    stands: Stance | None = None

    def rng(self, *stream: int) -> np.random.Generator:
        """A random stream of its own."""
        return np.random.default_rng([self.seed, *stream])

    def lens(self) -> LensModel:
        """The true lens."""
        camera = self.plan.shoot.camera
        return self.camera.lens(
            camera.image_width_px, camera.image_height_px, self.plan.focal_length_px
        )

    def optic(self) -> Optic:
        """The true focal length in mm, and the distance from pixel to pixel."""
        camera = self.plan.shoot.camera
        pitch_mm = camera.sensor_width_mm / camera.image_width_px
        return Optic(self.lens().focal_length_px * pitch_mm, pitch_mm * 1000.0)

    def base(self) -> FloatArray:
        """The tilt of the base, base_from_world (3, 3), before anything is knocked."""
        if self.stands is not None:
            return np.array(self.stands.base_from_world)
        return base_from_world(self.head, self.rng(_BASE))

    def camera_settings(self) -> CameraSettings:
        """How the camera is set for the whole shoot."""
        return self.settings or settings_of(self.plan.shoot)

    def camera_chain(self) -> ChainTraits:
        """How quick the camera and its card are."""
        return self.chain or chain_of(self.plan.shoot)

    def scene_time_s(self, moment: datetime) -> float:
        """Seconds of the scene's clock, which stands where nothing shall move."""
        if self.still:
            return 0.0
        return (moment - (self.began or self.start)).total_seconds()

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
    """One release, and the frame that it leads to if the camera obeys, with the truth about it.

    Attributes
    ----------
    number
        Number of the file; 0 as long as nobody knows whether there is one. Numbers have no gaps,
        whatever went wrong.
    role
        "sweep", "repeated" (a second release), "stuck" (the head had not moved), "given up" (the
        sweep was begun anew later) or "before the sweep".
    cell, sent_to
        Row and column that the frame shows, and that the head was sent to; None before the sweep.
    camera_from_world
        (3, 3), the true rotation.
    exposure
        What reached the sensor, and how sharply, as far as faults and the camera's errors go.
    stated_exposure_s
        The exposure time that the file states.
    taken_at
        The moment the shutter opens, to the microsecond.
    kept
        The share of the file's bytes that is there.
    stream
        Names the noise.
    asked_at
        The moment of the contact.
    settings, conditions
        How the camera is set and what the frame meets, `exposure` left aside.
    trouble, kept_when_pulled
        What strikes the camera at this release, and what of the file is kept then.
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
    asked_at: datetime
    settings: CameraSettings = field(default_factory=CameraSettings, repr=False)
    conditions: FrameConditions = field(default_factory=FrameConditions, repr=False)
    trouble: Trouble | None = None
    kept_when_pulled: float = 1.0


def releases(rehearsal: Rehearsal) -> tuple[Shot, ...]:
    """Every release that reaches the camera, in the order of time; no file has a number yet."""
    require_possible(rehearsal.visited(), rehearsal.faults)
    asked = [*_test_pictures(rehearsal), *_sweep(rehearsal)]
    return tuple(sorted(asked, key=lambda shot: shot.asked_at))


def take(
    shot: Shot, scene: Scene, lens: LensModel, traits: CameraTraits, optic: Optic | None = None
) -> Frame:
    """The picture of one shot, and what was really used for it."""
    settings = replace(shot.settings, white_balance=shot.exposure.white_balance)
    conditions = replace(shot.conditions, error_ev=shot.exposure.ev, blur=shot.exposure.blur)
    rng = np.random.default_rng(shot.stream)
    return take_frame(scene, lens, shot.camera_from_world, traits, settings, conditions, rng, optic)


def photograph(
    shot: Shot, scene: Scene, lens: LensModel, traits: CameraTraits, optic: Optic | None = None
) -> Pixels:
    """The picture of one shot, (height, width, 3) uint8 RGB."""
    return take(shot, scene, lens, traits, optic).picture


def _sweep(rehearsal: Rehearsal) -> Iterator[Shot]:
    cells = rehearsal.visited()
    way = visits(cells, rehearsal.faults)
    rotations = _rotations(rehearsal, way)
    times = _times_s(rehearsal, way)
    silent = never_released(cells, rehearsal.faults)
    first = sum(visit.given_up for visit in way)
    strayed = any(isinstance(fault, Slipped | Slipping) for fault in rehearsal.faults)
    before: Place | None = None
    for index, visit in enumerate(way):
        done = [] if visit.given_up else [one.place for one in way[first : index + 1]]
        faults = at_work(rehearsal.faults, done) if done else []
        shows: Place | None = visit.place
        role = "given up" if visit.given_up else "sweep"
        if any(isinstance(fault, Stuck) for fault in faults):
            role, rotations[index], shows = "stuck", rotations[index - 1], before
        elif strayed:
            shows = _shown(rehearsal, rotations[index], visit.place)
        before = shows
        if visit.place in silent and not visit.given_up:
            continue
        asked_at = rehearsal.start + timedelta(seconds=float(times[index]))
        shot = _shot(rehearsal, role, faults, rotations[index], asked_at, index)
        shot = replace(shot, cell=shows, sent_to=visit.place)
        yield shot
        if any(isinstance(fault, Repeated) for fault in faults):
            yield _bounced(rehearsal, shot)


def _shot(
    rehearsal: Rehearsal,
    role: str,
    faults: Sequence[CellFault],
    rotation: FloatArray,
    asked_at: datetime,
    index: int,
) -> Shot:
    shoot, chain, settings = rehearsal.plan.shoot, rehearsal.camera_chain(), _settings(rehearsal)
    number = rehearsal.first_number
    rng = rehearsal.rng(_MEETING, number, index)
    delay_s = opening_delay_s(chain)
    taken_at = asked_at + timedelta(seconds=delay_s)
    conditions = conditions_of(faults, settings, rehearsal.scene_time_s(taken_at), rng)
    px_per_deg = rehearsal.plan.focal_length_px * np.pi / 180.0
    swing = swing_left(rehearsal.head, shoot, delay_s, settings.exposure_s, px_per_deg, rng)
    return Shot(
        number=0,
        role=role,
        cell=None,
        sent_to=None,
        camera_from_world=rotation,
        exposure=exposure_of(faults, rehearsal.camera, rehearsal.rng(_LIGHT, number, index)),
        stated_exposure_s=stated_exposure_s(faults, settings),
        taken_at=taken_at,
        kept=next((fault.kept for fault in faults if isinstance(fault, Truncated)), 1.0),
        stream=(rehearsal.seed, _NOISE, number, index),
        asked_at=asked_at,
        settings=settings_with(faults, settings),
        conditions=_lit(rehearsal, replace(conditions, oscillation=swing), rotation),
        trouble=next((_TROUBLES[type(f)] for f in faults if type(f) in _TROUBLES), None),
        kept_when_pulled=next((f.kept for f in faults if isinstance(f, PowerPulled)), 1.0),
    )


def _settings(rehearsal: Rehearsal) -> CameraSettings:
    """The shoot's settings; a dark frame is taken where the exposure is long enough for it."""
    settings, from_s = rehearsal.camera_settings(), rehearsal.camera_chain().dark_frame_from_s
    if from_s is None or settings.exposure_s < from_s:
        return settings
    return replace(settings, dark_frame=True)


def _lit(
    rehearsal: Rehearsal, conditions: FrameConditions, rotation: FloatArray
) -> FrameConditions:
    """The frame's light at its moment, where its axis looks, and the dust on the sensor."""
    grains = sum(fault.grains for fault in rehearsal.faults if isinstance(fault, Dust))
    conditions = replace(conditions, dust_grains=grains)
    if rehearsal.daylight is None:
        return conditions
    bearing, elevation, _ = bearing_elevation_roll(rotation)
    ev, gains = illumination(rehearsal.daylight, conditions.at_s, bearing, elevation)
    red, green, blue = (float(gain) for gain in gains.ravel())
    return replace(conditions, illumination_ev=float(ev), illuminant=(red, green, blue))


def _bounced(rehearsal: Rehearsal, shot: Shot) -> Shot:
    later = timedelta(seconds=_BOUNCE * (rehearsal.plan.shoot.sweep.interval_s or USUAL_INTERVAL_S))
    at_s = rehearsal.scene_time_s(shot.taken_at + later)
    return replace(
        shot,
        role="repeated",
        asked_at=shot.asked_at + later,
        taken_at=shot.taken_at + later,
        kept=1.0,
        exposure=replace(shot.exposure, blur=Blur()),
        conditions=replace(shot.conditions, at_s=at_s),
        stream=(*shot.stream, _SECOND),
        trouble=None,
    )


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
        lambda index: rehearsal.rng(_KNOCK, number, index),
    )


def _rotations(rehearsal: Rehearsal, way: Sequence[Visit]) -> list[FloatArray]:
    number = rehearsal.first_number
    driven, stands = _driven_deg(rehearsal, way), _bases(rehearsal, way)
    return [
        pointed(rehearsal.head, base, axes, rehearsal.rng(_POINTING, number, index))
        for index, (base, axes) in enumerate(zip(stands, driven, strict=True))
    ]


def _times_s(rehearsal: Rehearsal, way: Sequence[Visit]) -> FloatArray:
    number, cells = rehearsal.first_number, [visit.cell for visit in way]
    rng = rehearsal.rng(_TIMES, number)
    waits = np.cumsum(waits_s(way, rehearsal.faults, rehearsal.rng(_WAITS, number)))
    if rehearsal.only:
        return times_by_hand_s(len(cells), rng) + waits
    return sweep_times_s(rehearsal.head, rehearsal.plan, cells, rng) + waits


def _shown(rehearsal: Rehearsal, rotation: FloatArray, sent_to: Place) -> Place | None:
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


def _test_pictures(rehearsal: Rehearsal) -> list[Shot]:
    """Pictures before the sweep: anywhere in the grid's span, the exposure still being tried."""
    count = sum(f.count for f in rehearsal.faults if isinstance(f, TrialPictures))
    number = rehearsal.first_number
    rng = rehearsal.rng(_TESTS, number)
    bearings = [cell.bearing_deg for cell in rehearsal.plan.cells]
    elevations = [cell.elevation_deg for cell in rehearsal.plan.cells]
    before_s = np.sort(rng.uniform(20.0, 20.0 + 15.0 * max(count, 1), count))[::-1]
    taken: list[Shot] = []
    for index in range(count):
        rotation = camera_from_world(
            rng.uniform(min(bearings), max(bearings)), rng.uniform(min(elevations), max(elevations))
        )
        tried_ev = round(float(rng.uniform(-1.0, 1.0)) * 3.0) / 3.0
        asked_at = rehearsal.start - timedelta(seconds=float(before_s[index]))
        shot = _shot(
            rehearsal, "before the sweep", [], rotation @ rehearsal.base(), asked_at, index
        )
        taken.append(
            replace(
                shot,
                exposure=Exposure(tried_ev),
                stated_exposure_s=shot.settings.exposure_s * 2.0**tried_ev,
                stream=(*shot.stream, _BEFORE),
            )
        )
    return taken
