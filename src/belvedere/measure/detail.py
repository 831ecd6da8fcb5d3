"""How much less fine detail one frame shows than another where both show the same scene.

The same patch of scene twice: what differs in the spectra is the cameras' doing. For a Gaussian
blur of standard deviation s the power falls by exp(-4 pi² s² f²), and a motion of length L acts
along its direction like s² = L² / 12, a defocus disc of diameter d like s² = d² / 16 (their second
moments). Blur variances add, so differences of them can be solved over all overlaps.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from belvedere.measure.patches import PATCH_PX, cut, frequencies, spectra, window
from belvedere.measure.picture import FloatImage, Picture

FloatArray = NDArray[np.float64]

#: Directions of blur that are told apart, degrees from x to the right, clockwise (y is down).
SECTORS_DEG = (0.0, 45.0, 90.0, 135.0)
#: Edges of the bands of spatial frequency, cycles/px.
_BANDS = (0.05, 0.08, 0.12, 0.17, 0.23, 0.3, 0.38)
#: Above this frequency (cycles/px) a patch mostly shows noise.
_NOISE_FROM = 0.42
#: So many of a frame's flattest patches tell its noise.
_FLAT_PATCHES = 24
#: Power of rounding to whole grey levels: a variance of 1/12.
_ROUNDING = 1.0 / 12.0
#: How sure we are beforehand that brightness alone explains the difference in contrast (ln power).
_GAIN_SPREAD = 0.15
#: How far two alike patches differ in one band (ln power).
_BAND_SPREAD = 0.3
#: Signal must exceed the noise by so much before it counts: noise is known to a factor only.
_NOISE_MARGIN = 1.0
#: Blur variances tried, px²: fine near 0, up to 5 px of standard deviation.
_TRIED = np.concatenate([np.arange(0.0, 0.2, 0.02), np.geomspace(0.2, 25.0, 28)])
_DIFFERENCES = np.concatenate([-_TRIED[:0:-1], _TRIED])


@dataclass(frozen=True, slots=True)
class DetailDifference:
    """Blur variance of b less that of a, px², for each patch and sector: (n, 4).

    `evidence` (n, 4), 0 to 1, says how far the detail stands above the noise in the sharper of
    both: 0 where there was nothing to judge.
    """

    blur_px2: FloatArray
    evidence: FloatArray


def noise_spectrum(picture: Picture) -> FloatArray:
    """Power of the noise in each sector and band (4, bands): what the flattest patches show.

    In JPEG files noise is neither white nor round, so it is measured where the scene is silent.
    Where a frame has no silent part the result is too high; the lower of two neighbours serves.
    """
    half = PATCH_PX // 2
    step = picture.texture_step_px
    reach = int(np.ceil(PATCH_PX / step))
    texture = cv2.blur(picture.texture, (reach, reach))
    row, column = np.mgrid[
        half : picture.height_px - half : PATCH_PX, half : picture.width_px - half : PATCH_PX
    ].reshape(2, -1)
    centres = np.stack([column, row], axis=1).astype(np.float64)
    if not len(centres):
        return np.full((len(SECTORS_DEG), len(_BANDS) - 1), _ROUNDING)
    cells = np.minimum(centres[:, ::-1] // step, np.array(texture.shape) - 1).astype(int)
    flatness = texture[cells[:, 0], cells[:, 1]]
    level = picture.grey[row, column]
    flatness = np.where((level > 20) & (level < 235), flatness, np.inf)
    chosen = np.argsort(flatness, kind="stable")[:_FLAT_PATCHES]
    chosen = chosen[np.isfinite(flatness[chosen])]
    if not len(chosen):
        return np.full((len(SECTORS_DEG), len(_BANDS) - 1), _ROUNDING)
    power, _ = _band_power(cut(picture.grey, centres[chosen]), np.eye(2))
    spectrum: FloatArray = np.median(power, axis=0)
    return spectrum


def detail_difference(
    patches_a: FloatImage,
    patches_b: FloatImage,
    jacobian: FloatArray,
    noise: FloatArray | None = None,
) -> DetailDifference:
    """Compare registered patches (n, PATCH_PX, PATCH_PX) of two frames, whole pixels, unresampled.

    `jacobian` (2, 2) takes steps in a to steps in b, so that a turned or scaled frame is compared
    along the same directions of the scene. `noise` (4, bands) is the lower of both frames'
    `noise_spectrum`.

    Notes
    -----
    For each sector the difference is the one that makes the sharper patch's spectrum, blurred by
    it, agree best with the other's: a search over `_DIFFERENCES`, noise included, with the
    contrast free within what the mean brightness leaves open.
    """
    power_a, corner_a = _band_power(patches_a, np.eye(2))
    power_b, corner_b = _band_power(patches_b, jacobian)
    # The less sharp patch's highest frequencies are the purest sight of the noise in both.
    purest = np.maximum(np.minimum(corner_a, corner_b), _ROUNDING)[:, None, None]
    noise = np.maximum(purest, 0.0 if noise is None else noise[None])
    gain = 2.0 * np.log(_level(patches_b) / _level(patches_a))[:, None]
    signal_a = np.maximum(power_a - noise, 0.02 * noise)
    signal_b = np.maximum(power_b - noise, 0.02 * noise)
    clearness = np.maximum(signal_a, signal_b) / noise
    excess = np.maximum(clearness - _NOISE_MARGIN, 0.0)
    weight = np.square(excess / (excess + 3.0))

    cost = np.empty((*power_a.shape[:2], len(_DIFFERENCES)))
    for index, difference in enumerate(_DIFFERENCES):
        fall = np.exp(-4.0 * np.pi**2 * abs(difference) * _band_frequency() ** 2)
        grow = np.exp(gain)[..., None]
        if difference >= 0:
            misfit = np.log(power_b) - np.log(signal_a * grow * fall + noise)
        else:
            misfit = np.log(signal_b / grow * fall + noise) - np.log(power_a)
        cost[..., index] = _profiled(misfit, weight) + _surprise(difference)
    fine = weight[..., 2:]
    return DetailDifference(_lowest(cost), fine.mean(axis=-1) * (fine.max(axis=-1) > 0.25))


def _surprise(difference: float) -> float:
    """Cost of believing in a difference at all: where nothing speaks, frames are alike."""
    return 0.1 * float(np.log1p(abs(difference) / 0.2))


def _profiled(misfit: FloatArray, weight: FloatArray) -> FloatArray:
    """Weighted squares of `misfit` (n, sectors, bands) less the best offset, held by a prior.

    The offset of one sector is free within `_GAIN_SPREAD`: contrast that brightness leaves open.
    """
    prior = _BAND_SPREAD**2 / _GAIN_SPREAD**2
    total = weight.sum(axis=-1) + prior
    offset = (weight * misfit).sum(axis=-1) / total
    squares: FloatArray = (weight * misfit**2).sum(axis=-1) - total * offset**2
    return squares


def _lowest(cost: FloatArray) -> FloatArray:
    """The difference of least cost (n, sectors), by a parabola through three neighbours."""
    best = np.clip(cost.argmin(axis=-1), 1, cost.shape[-1] - 2)[..., None]
    x0, x1, x2 = (_DIFFERENCES[best[..., 0] + step] for step in (-1, 0, 1))
    y0, y1, y2 = (np.take_along_axis(cost, best + step, -1)[..., 0] for step in (-1, 0, 1))
    left, right = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    bend = (right - left) / (x2 - x0)
    vertex = (x0 + x1) / 2.0 - left / (2.0 * np.where(bend > 1e-12, bend, np.inf))
    lowest: FloatArray = np.where(bend > 1e-12, np.clip(vertex, x0, x2), x1)
    return lowest


def _level(patches: FloatImage) -> FloatArray:
    """Mean encoded brightness of each patch (n,), windowed, at least a few grey levels."""
    mean = (patches * window()).sum(axis=(1, 2), dtype=np.float64) / float(window().sum())
    level: FloatArray = np.maximum(mean, 4.0)
    return level


@cache
def _band_frequency() -> FloatArray:
    """The frequency that stands for each band (cycles/px): the root of its mean square."""
    low, high = np.array(_BANDS[:-1]), np.array(_BANDS[1:])
    middle: FloatArray = np.sqrt((low**2 + high**2) / 2.0)
    return middle


def _band_power(patches: FloatImage, jacobian: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Power density in each sector and band (n, 4, bands), and in the corners (n,)."""
    transformed = spectra(patches).reshape(len(patches), -1)
    power = np.square(transformed.real) + np.square(transformed.imag)
    power /= float(np.square(window()).sum())
    identity = np.abs(jacobian - np.eye(2)).max() < 0.05
    masks, corner = _upright_masks() if identity else _masks(jacobian)
    density = (masks @ power.T).T.astype(np.float64) + 1e-9
    noise = power @ corner.astype(np.float32)
    return density.reshape(len(patches), len(SECTORS_DEG), len(_BANDS) - 1), noise


@cache
def _upright_masks() -> tuple[sparse.csr_array, FloatArray]:
    return _masks(np.eye(2))


def _masks(jacobian: FloatArray) -> tuple[sparse.csr_array, FloatArray]:
    """Weights of the transform's values that give mean densities: (4 × bands, values), (values,).

    A scene frequency f seen in frame a lies at J⁻ᵀ f in frame b, so a value at g in b belongs
    to the sector and band of Jᵀ g. Sectors fade into each other, so that a strong value near
    an edge does not jump from one to the next.
    """
    gx, gy = (axis.ravel() for axis in frequencies())
    fx, fy = jacobian.T @ np.stack([gx, gy])
    radius = np.hypot(fx, fy)
    direction = np.degrees(np.arctan2(fy, fx)) % 180.0
    # A real transform stores half its plane: inner columns stand for two values each.
    twice = np.where((gx > 0) & (gx < 0.5), 2.0, 1.0)
    columns = []
    for sector in SECTORS_DEG:
        away = np.abs((direction - sector + 90.0) % 180.0 - 90.0)
        share = twice * np.maximum(0.0, 1.0 - away / 45.0)
        for low, high in pairwise(_BANDS):
            columns.append(share * (radius >= low) * (radius < high))
    masks = np.stack(columns)
    corner = twice * (np.hypot(gx, gy) > _NOISE_FROM)
    masks /= np.maximum(masks.sum(axis=1, keepdims=True), 1e-9)
    return sparse.csr_array(masks.astype(np.float32)), corner / corner.sum()


def disc_px(blur_px2: float) -> float:
    """Diameter (px) of the defocus disc with this blur variance (px² along any direction)."""
    return 4.0 * float(np.sqrt(max(blur_px2, 0.0)))


def motion_px(blur_px2: float) -> float:
    """Length (px) of the even motion with this blur variance along its direction (px²)."""
    return float(np.sqrt(12.0 * max(blur_px2, 0.0)))


def ellipse(blur_px2: FloatArray) -> tuple[float, float, float]:
    """Blur variances of four sectors as an ellipse: greatest, least (px²), direction (degrees).

    The direction of the greatest blur counts from x to the right, clockwise, 0 to 180. A sector
    fades to nothing 45° away, which dulls the swing of cos 2φ to (1 - cos 2w) / (2 w²), w = π/4.
    """
    mean = float(blur_px2.mean())
    dulled = 8.0 / np.pi**2
    across = float(blur_px2[0] - blur_px2[2]) / 2.0 / dulled
    slanted = float(blur_px2[1] - blur_px2[3]) / 2.0 / dulled
    swing = float(np.hypot(across, slanted))
    return mean + swing, mean - swing, float(np.degrees(np.arctan2(slanted, across)) / 2.0 % 180.0)


__all__ = [
    "PATCH_PX",
    "SECTORS_DEG",
    "DetailDifference",
    "detail_difference",
    "disc_px",
    "ellipse",
    "motion_px",
    "noise_spectrum",
]
