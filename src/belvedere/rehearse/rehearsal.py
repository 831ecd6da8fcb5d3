"""Everything that decides a rehearsal, but for the scene."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError
from belvedere.optics import LensModel
from belvedere.rehearse.camera_model import CameraSettings, CameraTraits, Optic
from belvedere.rehearse.daylight import Daylight
from belvedere.rehearse.faults import Fault, Place
from belvedere.rehearse.head import HeadTraits, Stance, base_from_world
from belvedere.rehearse.makers import FileStyle
from belvedere.rehearse.meeting import settings_of
from belvedere.rehearse.shutter_chain import ChainTraits, chain_of
from belvedere.rehearse.vibration import Gusts
from belvedere.shoot import Cell, Plan

FloatArray = NDArray[np.float64]

USUAL_START = datetime(2031, 5, 17, 10, 20, 0)
# What a random stream is for: each part of the rehearsal draws from its own.
BASE_STREAM, POINTING_STREAM, TIMES_STREAM, LIGHT_STREAM, NOISE_STREAM = range(5)
TESTS_STREAM, WAITS_STREAM, KNOCK_STREAM, MEETING_STREAM, CHAIN_STREAM, HAZARD_STREAM = range(5, 11)
CROWD_STREAM = 11


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
    crowd
        How many people more than usual are about in the built-in harbour, and what comes with
        them; a sketch or a picture knows of none.
    wind
        What sways the tripod all along; it shows in long exposures only.
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
    crowd: int = 0
    wind: Gusts | None = None

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
        return base_from_world(self.head, self.rng(BASE_STREAM))

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
