"""What a camera is like, how it is set, what a frame meets, and what was really used in the end."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from belvedere.foundation import PlanError
from belvedere.optics import LensModel, ev100
from belvedere.rehearse.blur import Blur
from belvedere.rehearse.vibration import Gusts, Oscillation

Mode = Literal["manual", "auto"]
Gains = tuple[float, float, float]

#: The settings at which the light of a scene, 0 to 1, fills the sensor from black to white.
NORMAL_F_NUMBER, NORMAL_EXPOSURE_S, NORMAL_ISO = 5.6, 1.0 / 400.0, 100.0
NORMAL_LIGHT_EV100 = ev100(NORMAL_F_NUMBER, NORMAL_EXPOSURE_S, NORMAL_ISO)


@dataclass(frozen=True, slots=True)
class CameraTraits:
    """What a camera and its lens are like, beyond the plan.

    Attributes
    ----------
    focal_length_error
        How far the true focal length is off the one the plan states, as a share of it.
    corner_pull
        How far the corners are pulled inwards by barrel distortion, as a share of their distance
        from the centre; in pixels that is what the eye sees, whatever the focal length.
    centre_offset_px
        Where the optical axis meets the sensor, right and down from the middle of the picture.
    corner_falloff_ev
        How much darker the corners are than the middle, at f/5.6.
    full_well_e
        Electrons at white, at ISO 100.
    read_noise_e
        Electrons of noise that are there in the dark.
    lens_blur_px
        Standard deviation of the blur of a well-focused lens, at f/5.6.
    gain_jitter_ev
        Standard deviation of the exposure from frame to frame.
    jpeg_quality
        1 to 100.
    dark_current_e_s
        Electrons a second that a pixel gathers in the dark.
    hot_pixels_per_mp
        Pixels in a million that gather hundreds of times as many: they show in long exposures.
    bad_pixels_per_mp
        Pixels in a million that are always black or always white; cameras hide those they know.
    bits
        Depth of the sensor's numbers before the tone curve.
    readout_s
        From the first row's release to the last one's (rolling shutter).
    nearest_focus_m
        The nearest distance that the lens can focus on.
    camera_seed
        Which pixels are hot or bad, and where dust and drops lie: the same for the same camera.
    """

    focal_length_error: float = 0.002
    corner_pull: float = 0.004
    centre_offset_px: tuple[float, float] = (1.3, -0.8)
    corner_falloff_ev: float = 0.4
    full_well_e: float = 10_000.0
    read_noise_e: float = 5.0
    lens_blur_px: float = 0.45
    gain_jitter_ev: float = 0.01
    jpeg_quality: int = 93
    dark_current_e_s: float = 0.5
    hot_pixels_per_mp: float = 20.0
    bad_pixels_per_mp: float = 0.0
    bits: int = 12
    readout_s: float = 1.0 / 30.0
    nearest_focus_m: float = 0.8
    camera_seed: int = 1

    def lens(self, width_px: int, height_px: int, planned_focal_length_px: float) -> LensModel:
        """The true lens for frames of one size."""
        focal_length = planned_focal_length_px * (1.0 + self.focal_length_error)
        corner = np.hypot(width_px, height_px) / 2.0 / focal_length
        return LensModel(
            width_px,
            height_px,
            focal_length,
            (width_px - 1) / 2.0 + self.centre_offset_px[0],
            (height_px - 1) / 2.0 + self.centre_offset_px[1],
            k1=-self.corner_pull / corner**2,
        )


@dataclass(frozen=True, slots=True)
class Exposure:
    """How one frame was exposed, in short.

    `ev` is the exposure against the shoot's normal one, `white_balance` the camera's gains for
    red, green and blue against its normal ones.
    """

    ev: float = 0.0
    white_balance: Gains = (1.0, 1.0, 1.0)
    blur: Blur = field(default_factory=Blur)


@dataclass(frozen=True, slots=True)
class Optic:
    """The sizes that turn distances and apertures into pixels.

    The true focal length, and the distance from pixel to pixel on the sensor.
    """

    focal_length_mm: float
    pixel_pitch_um: float

    def __post_init__(self) -> None:
        if not (self.focal_length_mm > 0.0 and self.pixel_pitch_um > 0.0):
            raise PlanError(
                f"A focal length of {self.focal_length_mm:g} mm on pixels of "
                f"{self.pixel_pitch_um:g} µm is not to be had.",
                "Give numbers above 0.",
            )


@dataclass(frozen=True, slots=True)
class CameraSettings:
    """How the camera is set.

    Attributes
    ----------
    f_number, exposure_s, iso
        With automatic exposure only the aperture and the ISO hold; the time is the camera's.
    focus_m
        The distance the lens is focused on; inf is allowed. None: everything is in focus, however
        near or far.
    white_balance
        Gains of red, green and blue against the camera's normal ones, when set by hand.
    compensation_ev
        What automatic exposure is told to add.
    dark_frame
        Long-exposure noise reduction: a second exposure of the same length in the dark, which is
        subtracted.
    """

    f_number: float = NORMAL_F_NUMBER
    exposure_s: float = NORMAL_EXPOSURE_S
    iso: float = NORMAL_ISO
    focus_m: float | None = None
    white_balance: Gains = (1.0, 1.0, 1.0)
    exposure_mode: Mode = "manual"
    white_balance_mode: Mode = "manual"
    focus_mode: Mode = "manual"
    compensation_ev: float = 0.0
    dark_frame: bool = False

    def __post_init__(self) -> None:
        ev100(self.f_number, self.exposure_s, self.iso)  # refuses what is not above 0


@dataclass(frozen=True, slots=True)
class Flicker:
    """Light that follows the mains: brightest twice in a period.

    `depth` is the swing about the mean, 0 to 1; `phase` in turns, at the first row's release.
    """

    mains_hz: float = 50.0
    depth: float = 0.3
    phase: float = 0.0


@dataclass(frozen=True, slots=True)
class FrameConditions:
    """What one frame meets.

    Attributes
    ----------
    at_s
        When the shutter opens, after the shoot's start: decides where things that move are.
    light_ev100
        The light the scene is painted in: the EV at ISO 100 at which it is exposed from black to
        white. That of the normal settings, unless the shoot takes place in other light.
    illumination_ev
        How much brighter the light is at this moment than `light_ev100`.
    illuminant
        The colour of the light at this moment against that of the scene: red, green, blue.
    error_ev
        By how much the camera misses the exposure that it states.
    blur
        Faults of sharpness given in pixels, whatever their reason.
    oscillation, gusts
        How the camera moves while the shutter is open.
    flicker
        Lamps on the mains; None in daylight.
    dust_grains, drops
        How many grains lie on the sensor, drops on the lens; where is decided by the camera.
    """

    at_s: float = 0.0
    light_ev100: float = NORMAL_LIGHT_EV100
    illumination_ev: float = 0.0
    illuminant: Gains = (1.0, 1.0, 1.0)
    error_ev: float = 0.0
    blur: Blur = field(default_factory=Blur)
    oscillation: Oscillation | None = None
    gusts: Gusts | None = None
    flicker: Flicker | None = None
    dust_grains: int = 0
    drops: int = 0


@dataclass(frozen=True, slots=True)
class KernelSummary:
    """The blur of a point, by its second moments: deviations along and across, px.

    `direction_deg` is that of the longer one: 0 along the rows, 90 along the columns.
    """

    along_px: float
    across_px: float
    direction_deg: float


@dataclass(frozen=True, slots=True)
class FrameRecord:
    """What was really used for one frame.

    Attributes
    ----------
    exposure_s, f_number, iso
        As the file will state them.
    ev
        The true exposure against one that shows the scene's light as it is painted.
    white_balance
        The gains used.
    focus_m
        The distance focused on; None where focus was not looked at.
    focus_s
        Seconds that autofocus took before the release; 0 by hand.
    focus_found
        False where autofocus found nothing to hold on to.
    defocus_px
        Diameters of the smallest and the largest blur disc in the picture, from its depth.
    kernel
        The blur that all of the picture shares: lens, faults and motion.
    """

    exposure_s: float
    f_number: float
    iso: float
    ev: float
    white_balance: Gains
    focus_m: float | None
    focus_s: float
    focus_found: bool
    defocus_px: tuple[float, float]
    kernel: KernelSummary


@dataclass(frozen=True, slots=True)
class Frame:
    """A picture, (height, width, 3) uint8 RGB, and what was really used for it."""

    picture: np.ndarray[tuple[int, ...], np.dtype[np.uint8]] = field(repr=False)
    record: FrameRecord
