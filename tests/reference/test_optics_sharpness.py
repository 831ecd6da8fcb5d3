"""The sharpness budget against curves of contrast from prysm, scipy and numpy.

The budget gives widths and adds them in quadrature. Here the contrast that a share, or all of
them together, leaves is computed pattern by pattern, and its fall to a half compared.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from prysm.otf import diffraction_limited_mtf, mtf_from_psf
from prysm.propagation import Wavefront
from scipy.special import j0, j1

from belvedere.optics import mtf50_cycles_per_px, sharpness_budget

Curve = NDArray[np.float64]

PITCH_UM = 4.0
WAVELENGTH_UM = 0.55
FREQUENCIES = np.linspace(1e-4, 1.5, 15_000)  # cycles per pixel

STOPS = [2.2, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0]
DISCS_PX = [0.0, 0.5, 1.0, 2.0, 4.0, 8.0]
STREAKS_PX = [0.0, 0.5, 1.0, 2.0, 4.0, 8.0]


def aperture(f_number: float) -> Curve:
    """Source: prysm 0.21, prysm.otf.diffraction_limited_mtf (past its cutoff there is nothing)."""
    per_mm = FREQUENCIES * 1e3 / PITCH_UM
    cutoff = 1e3 / (WAVELENGTH_UM * f_number)
    curve: Curve = diffraction_limited_mtf(
        f_number, WAVELENGTH_UM, frequencies=np.minimum(per_mm, cutoff * (1.0 - 1e-12))
    )
    return curve


def disc(diameter_px: float) -> Curve:
    """The transform of an even disc, by scipy's Bessel function."""
    z = np.pi * diameter_px * FREQUENCIES
    curve: Curve = np.abs(np.divide(2.0 * j1(z), z, out=np.ones_like(z), where=z > 0.0))
    return curve


def streak(length_px: float) -> Curve:
    curve: Curve = np.abs(np.sinc(FREQUENCIES * length_px))
    return curve


def mtf50(contrast: Curve, frequencies: Curve = FREQUENCIES) -> float:
    """The first fall to a half, in cycles per pixel."""
    after = int(np.argmax(contrast < 0.5))
    before = after - 1
    share = (contrast[before] - 0.5) / (contrast[before] - contrast[after])
    return float(frequencies[before] + share * (frequencies[after] - frequencies[before]))


@pytest.mark.parametrize("f_number", [4.0, 8.0, 22.0])
def test_diffraction_alone_halves_contrast_where_prysm_says(f_number: float) -> None:
    share = sharpness_budget(f_number, PITCH_UM).diffraction_px
    assert mtf50_cycles_per_px(share) == pytest.approx(mtf50(aperture(f_number)), rel=1e-5)


@pytest.mark.parametrize("width_px", [1.0, 2.5, 9.0])
def test_defocus_and_motion_alone_halve_contrast_where_their_transforms_do(width_px: float) -> None:
    budget = sharpness_budget(
        4.0, PITCH_UM, defocus_blur_mm=width_px * PITCH_UM / 1e3, motions_px=[width_px]
    )
    assert mtf50_cycles_per_px(budget.defocus_px) == pytest.approx(mtf50(disc(width_px)), rel=1e-5)
    assert mtf50_cycles_per_px(budget.motion_px) == pytest.approx(mtf50(streak(width_px)), rel=1e-5)
    assert budget.motion_px == width_px


def test_a_pixel_alone_by_value() -> None:
    # sinc(0.6033546) = 1/2: the MTF50 of an even pixel.
    assert mtf50_cycles_per_px(sharpness_budget(4.0, 4.0).pixel_px) == pytest.approx(0.6033546)


def test_all_together_agree_with_the_product_of_contrasts_within_8_percent() -> None:
    """Everything between a sharp frame and one lost to blur; the error is bounded both ways."""
    errors = []
    for f_number, disc_px, streak_px in itertools.product(STOPS, DISCS_PX, STREAKS_PX):
        budget = sharpness_budget(
            f_number, PITCH_UM, defocus_blur_mm=disc_px * PITCH_UM / 1e3, motions_px=[streak_px]
        )
        contrast = aperture(f_number) * disc(disc_px) * streak(streak_px) * streak(1.0)
        errors.append(mtf50_cycles_per_px(budget.combined_px) / mtf50(contrast) - 1.0)
    assert max(errors) < 0.08
    assert min(errors) > -0.03
    # Were the truth met everywhere, the tolerance would say nothing.
    assert max(errors) > 0.06


def defocused(f_number: float, blur_px: float) -> Callable[[Curve], Curve]:
    """Contrast along x by wave optics: prysm's pupil with a defocused wave, focused, transformed.

    A disc of diameter b by rays is a wave that bends by b / 8N at the pupil's edge.
    """
    focal_mm, across = 100.0, 256
    radius_mm = focal_mm / f_number / 2.0
    at = np.linspace(-1.0, 1.0, across)
    r2 = at[None, :] ** 2 + at[:, None] ** 2
    bend_nm = blur_px * PITCH_UM * 1e3 / (8.0 * f_number)
    pupil = Wavefront.from_amp_and_phase(
        (r2 <= 1.0).astype(float), bend_nm * r2, WAVELENGTH_UM, 2.0 * radius_mm / (across - 1)
    )
    picture = pupil.focus(focal_mm, Q=4)
    mtf = mtf_from_psf(picture.intensity)
    x, y = mtf.slices().x

    def contrast(per_px: Curve) -> Curve:
        curve: Curve = np.interp(per_px * 1e3 / PITCH_UM, x, y)
        return curve

    return contrast


def test_wave_optics_of_prysm_is_set_up_rightly() -> None:
    """In focus it must give the curve known for the aperture, far out of focus that of a disc."""
    in_focus = defocused(8.0, 0.0)(FREQUENCIES)
    assert in_focus == pytest.approx(aperture(8.0), abs=0.01)
    blurred = defocused(4.0, 12.0)(FREQUENCIES)
    assert mtf50(blurred) == pytest.approx(mtf50(disc(12.0)), rel=0.03)


def test_defocus_with_diffraction_agrees_with_wave_optics_within_15_percent() -> None:
    errors = []
    for f_number, disc_px in itertools.product([4.0, 5.6, 8.0, 11.0, 16.0, 22.0], DISCS_PX):
        budget = sharpness_budget(f_number, PITCH_UM, defocus_blur_mm=disc_px * PITCH_UM / 1e3)
        contrast = defocused(f_number, disc_px)(FREQUENCIES) * streak(1.0)
        errors.append(mtf50_cycles_per_px(budget.combined_px) / mtf50(contrast) - 1.0)
    # Rays see a disc where waves still see a point: too severe, hardly ever too mild.
    assert min(errors) > -0.15
    assert max(errors) < 0.08
    assert min(errors) < -0.08


def test_streaks_that_do_not_know_of_each_other_add_in_quadrature() -> None:
    """Mean square of the sum of two vectors of independent direction, by 100,000 draws."""
    turns = np.random.default_rng(1).uniform(0.0, 2.0 * np.pi, (2, 100_000))
    sums = 3.0 * np.exp(1j * turns[0]) + 1.5 * np.exp(1j * turns[1])
    expected = math.sqrt(float(np.mean(np.abs(sums) ** 2)))
    motion_px = sharpness_budget(8.0, 4.0, motions_px=[3.0, 1.5]).motion_px
    assert motion_px == pytest.approx(expected, rel=0.01)


def test_a_whole_swing_blurs_up_to_a_quarter_more_than_an_even_streak() -> None:
    """As `shake_px` says: the transform of a sinusoid's density is a Bessel function, J0."""
    swing = j0(np.pi * 4.0 * FREQUENCIES)
    assert mtf50(streak(4.0)) / mtf50(swing) == pytest.approx(1.246, abs=0.002)
