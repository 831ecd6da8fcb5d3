"""How sharp a frame can be: what diffraction, focus, motion and the pixel leave, in pixels.

Each share is measured by the fineness at which it halves contrast (its MTF50), and given as the
width of the even streak that does the same: ``0.6033546 / MTF50``, the root of sinc(x) = 1/2. So
a pixel counts as 1 and a streak as its own length; a disc of defocus counts as 0.8557 of its
diameter, and diffraction as 1.4936 λN (the Airy disc is 2.4393 λN, most of it faint). Widths
measured at half contrast add up in quadrature, exactly if the shares were Gaussian and within
8 % as they are; where defocus meets diffraction the geometrical disc is up to 15 % too severe.
Both are held by tests/reference/test_optics_sharpness.py, the second against wave optics. A
second moment would add exactly, but that of the Airy pattern is infinite.

The colour filter over the pixels, the lens's own faults and later sharpening are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from belvedere.optics.demands import demand_not_negative, demand_positive
from belvedere.optics.diffraction import GREEN_NM

#: MTF50 of an even streak (or of a pixel) of width 1: sinc(x) = 1/2.
STREAK_MTF50 = 0.6033545644016143
#: MTF50 of the circular aperture in units of 1/(λN).
_DIFFRACTION_MTF50 = 0.4039727532995172
#: MTF50 of a disc of diameter 1: 2 J1(π x) / (π x) = 1/2.
_DISC_MTF50 = 0.7050848445272254

SHARPNESS_CRITERION = (
    "each share is the width of the even streak that halves contrast at the same fineness "
    "(a pixel counts 1); shares add as the root of the sum of squares"
)


@dataclass(frozen=True, slots=True)
class SharpnessBudget:
    """Blur of one frame, each share as a diameter in pixels of the full-size picture.

    `criterion` says in words how the shares are measured and combined.
    """

    diffraction_px: float
    defocus_px: float
    motion_px: float
    pixel_px: float
    combined_px: float
    criterion: str


def sharpness_budget(
    f_number: float,
    pixel_pitch_um: float,
    *,
    defocus_blur_mm: float = 0.0,
    motions_px: Sequence[float] = (),
    wavelength_nm: float = GREEN_NM,
) -> SharpnessBudget:
    """The blur of a frame and its shares.

    Parameters
    ----------
    f_number, pixel_pitch_um, wavelength_nm
        Aperture as used, distance of two pixels on the sensor, colour of the light.
    defocus_blur_mm
        Diameter of the blur disc on the sensor, the worst that is to count
        (`belvedere.optics.defocus_blur_mm`).
    motions_px
        Lengths of streaks that do not know of each other (a subject, the stars, the wind); as
        their directions are independent they add in quadrature.
    """
    demand_positive(f_number, "The f-number")
    demand_positive(pixel_pitch_um, "The pixel pitch", "µm")
    demand_not_negative(defocus_blur_mm, "The blur disc", "mm")
    for motion_px in motions_px:
        demand_not_negative(motion_px, "A motion", "px")
    lambda_n_px = f_number * wavelength_nm / 1000.0 / pixel_pitch_um
    diffraction_px = lambda_n_px * STREAK_MTF50 / _DIFFRACTION_MTF50
    defocus_px = defocus_blur_mm * 1000.0 / pixel_pitch_um * STREAK_MTF50 / _DISC_MTF50
    motion_px = math.hypot(*motions_px)
    return SharpnessBudget(
        diffraction_px=diffraction_px,
        defocus_px=defocus_px,
        motion_px=motion_px,
        pixel_px=1.0,
        combined_px=math.hypot(diffraction_px, defocus_px, motion_px, 1.0),
        criterion=SHARPNESS_CRITERION,
    )


def mtf50_cycles_per_px(blur_px: float) -> float:
    """The fineness at which a blur of this width (a share, or the combined one) halves contrast."""
    demand_positive(blur_px, "The blur", "px")
    return STREAK_MTF50 / blur_px
