"""What the aperture alone takes from sharpness, for a perfect lens with a round opening.

Airy disc and modulation transfer function of the circular pupil in incoherent light: the first
zero of the Bessel function J1 at 3.83170597 gives the disc's diameter of 2.43933978 λN (handbooks
round to 2.44), and the overlap of two circles the contrast. (J. W. Goodman, "Introduction to
Fourier Optics", 3rd ed., 2005, sections 4.4.2 and 6.3.2; from memory.)

Nyquist is the finest pattern the sensor can hold: one period on two pixels.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from belvedere.foundation import PlanError
from belvedere.optics.demands import demand_positive
from belvedere.optics.nominal import NOMINAL_F_NUMBERS, nearest_nominal_f_number, nominal_f_numbers

#: Green light, where the eye sees best and half of a sensor's pixels look.
GREEN_NM = 550.0

#: Diameter of the Airy disc in units of λN: twice the first zero of J1, over π.
AIRY_LAMBDA_N = 2.0 * 3.831705970207512 / math.pi

#: Contrast left at Nyquist where pictures begin to look soft, whatever is done to them later.
#: It is what puts the trade's "beyond about f/5.6" for a pitch of 2.08 µm at f/5.6 (common
#: practice, no source; the value is ours).
SOFT_MTF = 0.15

#: Contrast left at Nyquist that sharpening brings back without much noise; about one stop wider
#: than `SOFT_MTF` (our choice).
KEPT_MTF = 0.35

SWEET_SPOT_CRITERION = (
    "the narrowest third-stop aperture at which diffraction leaves 35 % of the contrast in the "
    "finest detail the pixels can hold (green light, 550 nm); a lens that opens only to there is "
    "closed by one stop to lose its aberrations, but not beyond where 15 % is left"
)


@dataclass(frozen=True, slots=True)
class DiffractionFigures:
    """Diffraction at one aperture on one pixel pitch, in the measures people argue in.

    `cutoff_per_nyquist`: the finest pattern the lens passes over the finest the pixels hold; below
    1 there are more pixels than picture. `airy_two_px_f_number`: where the Airy disc spans two
    pixels. `soft_f_number`: where contrast at Nyquist falls to `SOFT_MTF`.
    """

    f_number: float
    airy_um: float
    airy_px: float
    mtf_at_nyquist: float
    cutoff_per_nyquist: float
    airy_two_px_f_number: float
    soft_f_number: float


def airy_diameter_um(f_number: float, wavelength_nm: float = GREEN_NM) -> float:
    """Diameter of the Airy disc to its first dark ring."""
    return AIRY_LAMBDA_N * _lambda_n_um(f_number, wavelength_nm)


def cutoff_cycles_per_mm(f_number: float, wavelength_nm: float = GREEN_NM) -> float:
    """The finest pattern that passes the aperture at all: ``1 / (λ N)``."""
    return 1000.0 / _lambda_n_um(f_number, wavelength_nm)


def diffraction_mtf(
    frequency_cycles_per_mm: float, f_number: float, wavelength_nm: float = GREEN_NM
) -> float:
    """Contrast left of a pattern, 0 to 1: ``2/π (acos x - x √(1 - x²))`` with x of the cutoff."""
    x = abs(frequency_cycles_per_mm) / cutoff_cycles_per_mm(f_number, wavelength_nm)
    return _mtf_of_cutoff_share(min(x, 1.0))


def nyquist_cycles_per_mm(pixel_pitch_um: float) -> float:
    """One period on two pixels."""
    demand_positive(pixel_pitch_um, "The pixel pitch", "µm")
    return 500.0 / pixel_pitch_um


def mtf_at_nyquist(
    f_number: float, pixel_pitch_um: float, wavelength_nm: float = GREEN_NM
) -> float:
    """Contrast that diffraction leaves in the finest pattern the pixels can hold, 0 to 1."""
    return diffraction_mtf(nyquist_cycles_per_mm(pixel_pitch_um), f_number, wavelength_nm)


def f_number_where_airy_spans(
    pixels: float, pixel_pitch_um: float, wavelength_nm: float = GREEN_NM
) -> float:
    """The f-number at which the Airy disc is `pixels` wide; not rounded to a mark."""
    demand_positive(pixels, "The width of the Airy disc", "px")
    demand_positive(pixel_pitch_um, "The pixel pitch", "µm")
    return pixels * pixel_pitch_um / airy_diameter_um(1.0, wavelength_nm)


def f_number_where_mtf_falls_to(
    mtf: float, pixel_pitch_um: float, wavelength_nm: float = GREEN_NM
) -> float:
    """The f-number at which contrast at Nyquist is `mtf` (0 ≤ mtf < 1); not rounded to a mark."""
    if not 0.0 <= mtf < 1.0:
        raise PlanError(
            f"A contrast of {mtf:g} at Nyquist is not to be had.", "Give 0 or more, below 1."
        )
    share = _cutoff_share_where_mtf_is(mtf)
    return share * cutoff_cycles_per_mm(1.0, wavelength_nm) / nyquist_cycles_per_mm(pixel_pitch_um)


def sweet_spot_f_number(
    pixel_pitch_um: float,
    widest_f_number: float | None = None,
    narrowest_f_number: float | None = None,
    wavelength_nm: float = GREEN_NM,
) -> float:
    """The aperture to prefer for this pixel pitch, by `SWEET_SPOT_CRITERION`.

    Aberrations of most lenses shrink for one or two stops from wide open (common practice, no
    source), and diffraction grows all the way; the figure lies where the second has not yet
    become the worse one. `widest_f_number` and `narrowest_f_number` are those of the lens at the
    focal length in use; the result is a nominal mark between them, or the nearer of the two where
    no mark between them will do.
    """
    kept = _mark_not_above(f_number_where_mtf_falls_to(KEPT_MTF, pixel_pitch_um, wavelength_nm))
    chosen = kept
    if widest_f_number is not None:
        soft = _mark_not_above(f_number_where_mtf_falls_to(SOFT_MTF, pixel_pitch_um, wavelength_nm))
        one_stop_down = nearest_nominal_f_number(widest_f_number * math.sqrt(2.0))
        chosen = max(kept, min(one_stop_down, soft), widest_f_number)
    if narrowest_f_number is not None:
        chosen = min(chosen, narrowest_f_number)
    return chosen


def diffraction_figures(
    pixel_pitch_um: float, f_number: float = 5.6, wavelength_nm: float = GREEN_NM
) -> DiffractionFigures:
    """How the trade's rule "small sensors soften beyond about f/5.6" relates to the figures.

    The rule (common practice, no source) is not that of an Airy disc of two pixels: at f/5.6 on
    2.08 µm the disc spans 3.6 of them, and 15 % of the contrast is left at Nyquist.
    """
    return DiffractionFigures(
        f_number=f_number,
        airy_um=airy_diameter_um(f_number, wavelength_nm),
        airy_px=airy_diameter_um(f_number, wavelength_nm) / pixel_pitch_um,
        mtf_at_nyquist=mtf_at_nyquist(f_number, pixel_pitch_um, wavelength_nm),
        cutoff_per_nyquist=cutoff_cycles_per_mm(f_number, wavelength_nm)
        / nyquist_cycles_per_mm(pixel_pitch_um),
        airy_two_px_f_number=f_number_where_airy_spans(2.0, pixel_pitch_um, wavelength_nm),
        soft_f_number=f_number_where_mtf_falls_to(SOFT_MTF, pixel_pitch_um, wavelength_nm),
    )


def _lambda_n_um(f_number: float, wavelength_nm: float) -> float:
    demand_positive(f_number, "The f-number")
    demand_positive(wavelength_nm, "The wavelength", "nm")
    return f_number * wavelength_nm / 1000.0


def _mtf_of_cutoff_share(x: float) -> float:
    return 2.0 / math.pi * (math.acos(x) - x * math.sqrt(1.0 - x * x))


def _cutoff_share_where_mtf_is(mtf: float) -> float:
    """The inverse of `_mtf_of_cutoff_share`, by halving: contrast only falls."""
    low, high = 0.0, 1.0
    for _ in range(60):  # beyond the last bit of a double
        middle = 0.5 * (low + high)
        if _mtf_of_cutoff_share(middle) > mtf:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _mark_not_above(f_number: float) -> float:
    """The narrowest nominal mark that is not beyond `f_number`; the first mark at least."""
    return max([NOMINAL_F_NUMBERS[0], *nominal_f_numbers(narrowest=f_number)])
