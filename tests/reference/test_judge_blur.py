"""Blur estimates against edges and blurs whose size is known analytically."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage
from scipy.special import erf

from belvedere.measure import (
    cut,
    detail_difference,
    edge_blur_px,
    ellipse,
    motion_px,
    picture_of,
)
from belvedere.measure.patches import PATCH_PX, displacements

Pixels = NDArray[np.uint8]


def _edge(sigma_px: float, tilt_deg: float = 5.0, noise: float = 0.0) -> Pixels:
    """A slanted edge whose spread function is a Gaussian: exactly an error function."""
    y, x = np.mgrid[0:256, 0:256] - 127.5
    tilt = np.radians(tilt_deg)
    across = x * np.cos(tilt) + y * np.sin(tilt)
    light = 127.5 + 70.0 * erf(across / (np.sqrt(2.0) * sigma_px))
    light += np.random.default_rng(1).normal(0.0, noise, light.shape)
    return np.clip(np.round(light), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    ("sigma_px", "mtf50"),
    # MTF50 of a Gaussian, sqrt(ln 2 / 2) / (pi sigma) = 0.187390625 / sigma cycles/px.
    [(0.8, 0.234238), (1.0, 0.187391), (1.5, 0.124927), (2.0, 0.093695), (3.0, 0.062464)],
)
def test_edge_blur_gives_the_gaussians_mtf50(sigma_px: float, mtf50: float) -> None:
    found = edge_blur_px(_edge(sigma_px))
    assert found is not None
    assert 0.187390625 / found == pytest.approx(mtf50, rel=0.03)


def test_edge_blur_stands_noise_and_says_nothing_of_a_plain_picture() -> None:
    noisy = edge_blur_px(_edge(1.5, 30.0, noise=1.5))
    assert noisy == pytest.approx(1.5, rel=0.1)
    plain = np.random.default_rng(2).normal(120.0, 1.5, (256, 256))
    assert edge_blur_px(plain.astype(np.uint8)) is None


def _texture(seed: int = 3) -> NDArray[np.float64]:
    """Detail whose power falls as in photographs: amplitude like 1/f (common practice)."""
    rng = np.random.default_rng(seed)
    size = 640
    fx, fy = np.meshgrid(np.fft.rfftfreq(size), np.fft.fftfreq(size))
    radius = np.maximum(np.hypot(fx, fy), 1.0 / size)
    spectrum = np.fft.rfft2(rng.normal(size=(size, size))) / radius
    light = np.fft.irfft2(spectrum, s=(size, size))
    return 120.0 + 22.0 * light / light.std()


def _seen(light: NDArray[np.float64], seed: int, noise: float = 1.0) -> Pixels:
    light = light + np.random.default_rng(seed).normal(0.0, noise, light.shape)
    return np.clip(np.round(light), 0, 255).astype(np.uint8)


def _centres() -> NDArray[np.float64]:
    middle = np.arange(64.0, 600.0, 64.0)
    return np.stack(np.meshgrid(middle, middle), axis=-1).reshape(-1, 2)


def _blur_found(sharp: Pixels, blurred: Pixels) -> NDArray[np.float64]:
    centres = _centres()
    compared = detail_difference(cut(sharp, centres), cut(blurred, centres), np.eye(2))
    clear = compared.evidence > 0.1
    assert clear.mean() > 0.5
    return np.array([np.median(compared.blur_px2[clear[:, k], k]) for k in range(4)])


@pytest.mark.parametrize("sigma_px", [0.7, 1.0, 1.5, 2.5, 4.0])
def test_a_gaussian_blur_is_measured_in_every_direction(sigma_px: float) -> None:
    light = _texture()
    blurred = ndimage.gaussian_filter(light, sigma_px)
    found = _blur_found(_seen(light, 10), _seen(blurred, 11))
    np.testing.assert_allclose(np.sqrt(found), sigma_px, rtol=0.15)
    back = _blur_found(_seen(blurred, 11), _seen(light, 10))
    np.testing.assert_allclose(np.sqrt(-back), sigma_px, rtol=0.15)


def test_two_sharp_pictures_differ_by_nothing() -> None:
    light = _texture()
    np.testing.assert_allclose(_blur_found(_seen(light, 10), _seen(light, 11)), 0.0, atol=0.03)


@pytest.mark.parametrize("length_px", [3, 5, 7])
def test_an_even_motion_is_measured_along_its_direction(length_px: int) -> None:
    # An even motion over L has the variance L² / 12 along it, and none across.
    light = _texture()
    moved = ndimage.uniform_filter1d(light, length_px, axis=1)
    found = _blur_found(_seen(light, 10), _seen(moved, 11))
    greatest, least, direction_deg = ellipse(found)
    assert motion_px(greatest - max(least, 0.0)) == pytest.approx(length_px, rel=0.25)
    assert abs(least) < 0.3 * greatest
    assert min(direction_deg, 180.0 - direction_deg) < 8.0


def test_contrast_and_brightness_are_not_mistaken_for_blur() -> None:
    light = _texture()
    dimmer = 0.7 * light
    np.testing.assert_allclose(_blur_found(_seen(light, 10), _seen(dimmer, 11)), 0.0, atol=0.06)


@pytest.mark.parametrize("shift", [(0.25, 0.0), (-0.4, 0.3), (2.6, -1.3)])
def test_patches_are_registered_to_a_part_of_a_pixel(shift: tuple[float, float]) -> None:
    # scipy's Fourier shift moves a periodic picture exactly.
    light = _texture()
    across, down = shift
    moved = np.fft.ifft2(ndimage.fourier_shift(np.fft.fft2(light), (down, across))).real
    centres = _centres()
    found, peak = displacements(
        cut(light.astype(np.float32), centres), cut(moved.astype(np.float32), centres)
    )
    np.testing.assert_allclose(np.median(found, axis=0), shift, atol=0.06)
    assert peak.min() > 0.5


def test_texture_is_seen_where_it_is() -> None:
    light = np.full((256, 512), 120.0)
    light[:, 256:] = _texture()[:256, :256]
    picture = picture_of(_seen(light, 4))
    middle = picture.texture.shape[1] // 2
    assert picture.texture[:, : middle - 2].max() < picture.texture[:, middle + 2 :].min()
    assert PATCH_PX % picture.texture_step_px == 0
