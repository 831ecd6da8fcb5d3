"""One release of the shutter, and the picture that it leads to.

`photograph` is a pure function of one shot, so that shots can be photographed in any order and
side by side.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.rehearse.camera import Pixels, take_frame
from belvedere.rehearse.camera_model import (
    CameraSettings,
    CameraTraits,
    Exposure,
    Frame,
    FrameConditions,
    Optic,
)
from belvedere.rehearse.faults import Place
from belvedere.rehearse.scene import Scene
from belvedere.rehearse.shutter_chain import Trouble

FloatArray = NDArray[np.float64]


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
