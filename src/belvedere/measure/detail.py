"""How much less fine detail one frame shows than another where both show the same scene.

The same patch of scene twice: what differs in the spectra is the cameras' doing. For a Gaussian
blur of standard deviation s the power falls by exp(-4 pi² s² f²), and a motion of length L acts
along its direction like s² = L² / 12, a defocus disc of diameter d like s² = d² / 16 (their second
moments). Blur variances add, so differences of them can be solved over all overlaps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import cv2
import numpy as np

from belvedere.measure.patches import (
    PATCH_PX,
    FloatArray,
    FloatImage,
    frequencies,
    levels,
    spectra,
    window,
)
from belvedere.measure.picture import Picture

#: Directions of blur that are told apart, degrees from x to the right, clockwise (y is down).
SECTORS_DEG = (0.0, 45.0, 90.0, 135.0)
#: Edges of the bands of spatial frequency, cycles/px.
_BANDS = (0.05, 0.08, 0.12, 0.17, 0.23, 0.3, 0.38)
#: Above this frequency (cycles/px) a patch mostly shows noise.
_NOISE_FROM = 0.42
#: So many of a frame's flattest patches tell its noise.
_FLAT_PATCHES = 24
#: Noise of cameras is stronger in each band than at the highest frequencies, but hardly by more
#: than so many times: beyond, the flattest patches are taken not to be flat. Set by eye from the
#: flattest patches of 40 files; in more than half of these some band is above.
_MOST_COLOURED = np.array([60.0, 50.0, 40.0, 30.0, 20.0, 8.0])
#: A fall of power deeper than this tells no more of how deep: a streak's power falls as a Gaussian
#: does only down to its first zero, and beyond rises again to 0.047 (that of sin x / x, squared).
_DEEPEST = 0.04
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
#: So many patches are searched together: their numbers stay in the processor's cache.
_TOGETHER = 400
#: Patches whose powers are summed in one product.
_PORTION = 4
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
    Where a frame has no silent part the result is too high, though bounded by what the highest
    frequencies show; the lower of two neighbours serves.
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
    power, corner = _band_power(picture.cut(centres[chosen]), np.eye(2))
    purest = max(float(np.median(corner)), _ROUNDING)
    spectrum: FloatArray = np.minimum(np.median(power, axis=0), purest * _MOST_COLOURED)
    return spectrum


@dataclass(frozen=True, slots=True)
class PatchPowers:
    """What `detail_difference` needs of registered patches, a few hundred bytes for each.

    `power_a`, `power_b` (n, 4, bands) are power densities by sector and band; `purest` (n,) the
    noise as the less sharp patch's highest frequencies show it; `gain` (n,) the natural logarithm
    of b's power against a's by mean brightness alone. All float32.
    """

    power_a: FloatImage
    power_b: FloatImage
    purest: FloatImage
    gain: FloatImage

    def __len__(self) -> int:
        return len(self.gain)


def patch_powers(patches_a: FloatImage, patches_b: FloatImage, jacobian: FloatArray) -> PatchPowers:
    """Powers of registered patches (n, PATCH_PX, PATCH_PX); arguments as `detail_difference`."""
    power_a, corner_a = _band_power(patches_a, np.eye(2))
    power_b, corner_b = _band_power(patches_b, jacobian)
    # The less sharp patch's highest frequencies are the purest sight of the noise in both.
    purest = np.maximum(np.minimum(corner_a, corner_b), np.float32(_ROUNDING))
    gain = 2.0 * np.log(_level(patches_b) / _level(patches_a))
    return PatchPowers(power_a, power_b, purest, gain.astype(np.float32))


def joined(powers: Sequence[PatchPowers]) -> PatchPowers:
    """Powers of several overlaps one after the other."""
    return PatchPowers(
        np.concatenate([one.power_a for one in powers]),
        np.concatenate([one.power_b for one in powers]),
        np.concatenate([one.purest for one in powers]),
        np.concatenate([one.gain for one in powers]),
    )


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
    """
    powers = patch_powers(patches_a, patches_b, jacobian)
    return solve_detail(powers, np.zeros(powers.power_a.shape[1:]) if noise is None else noise)


def solve_detail(powers: PatchPowers, noise: FloatArray) -> DetailDifference:
    """Differences of blur of patches (n), of one or of many overlaps; `noise` ([n,] 4, bands).

    For each sector the difference is the one that makes the sharper patch's spectrum, blurred by
    it, agree best with the other's: a search over `_DIFFERENCES`, noise included, with the
    contrast free within what the mean brightness leaves open.
    """
    every = np.broadcast_to(noise.astype(np.float32), powers.power_a.shape)
    blur, evidence = np.empty((len(powers), 4)), np.empty((len(powers), 4))
    for first in range(0, len(powers), _TOGETHER):
        part = slice(first, first + _TOGETHER)
        blur[part], evidence[part] = _solve_part(
            PatchPowers(
                powers.power_a[part], powers.power_b[part], powers.purest[part], powers.gain[part]
            ),
            every[part],
        )
    return DetailDifference(blur, evidence)


def _solve_part(powers: PatchPowers, noise: FloatImage) -> tuple[FloatArray, FloatArray]:
    noise = np.maximum(powers.purest[:, None, None], noise)
    signal_a = np.maximum(powers.power_a - noise, np.float32(0.02) * noise)
    signal_b = np.maximum(powers.power_b - noise, np.float32(0.02) * noise)
    clearness = np.maximum(signal_a, signal_b) / noise
    excess = np.maximum(clearness - np.float32(_NOISE_MARGIN), np.float32(0.0))
    weight = np.square(excess / (excess + np.float32(3.0)))
    total = weight.sum(axis=-1) + np.float32(_BAND_SPREAD**2 / _GAIN_SPREAD**2)

    grow = np.exp(powers.gain)[:, None, None]
    ahead, back = signal_a * grow, signal_b / grow
    deepest = np.float32(_DEEPEST)
    seen_a = np.log(np.maximum(powers.power_a, back * deepest + noise))
    seen_b = np.log(np.maximum(powers.power_b, ahead * deepest + noise))
    cost = np.empty((len(_DIFFERENCES), *total.shape), dtype=np.float32)
    for index, difference in enumerate(_DIFFERENCES):
        fall = _fall()[index]
        if difference >= 0:
            misfit = seen_b - np.log(ahead * fall + noise)
        else:
            misfit = np.log(back * fall + noise) - seen_a
        cost[index] = _profiled(misfit, weight, total) + np.float32(_surprise(difference))
    fine = weight[..., 2:]
    evidence = fine.mean(axis=-1) * (fine.max(axis=-1) > 0.25)
    return _lowest(np.moveaxis(cost, 0, -1)), evidence.astype(np.float64)


@cache
def _fall() -> FloatImage:
    """What is left of the power in each band after each difference: (differences, bands).

    Nothing below `_DEEPEST`, beyond which blurs of one variance but other shapes differ.
    """
    square = np.abs(_DIFFERENCES)[:, None] * np.square(_band_frequency())
    fall: FloatImage = np.maximum(np.exp(-4.0 * np.pi**2 * square), _DEEPEST).astype(np.float32)
    return fall


def _surprise(difference: float) -> float:
    """Cost of believing in a difference at all: where nothing speaks, frames are alike."""
    return 0.1 * float(np.log1p(abs(difference) / 0.2))


def _profiled(misfit: FloatImage, weight: FloatImage, total: FloatImage) -> FloatImage:
    """Weighted squares of `misfit` (n, sectors, bands) less the best offset, held by a prior.

    The offset of one sector is free within `_GAIN_SPREAD`: contrast that brightness leaves open.
    `total` is the sum of the weights and the prior's.
    """
    weighed = weight * misfit
    squares: FloatImage = np.einsum("nsb,nsb->ns", weighed, misfit)
    squares -= np.square(weighed.sum(axis=-1)) / total
    return squares


def _lowest(cost: FloatImage) -> FloatArray:
    """The difference of least cost (n, sectors), by a parabola through three neighbours."""
    best = np.clip(cost.argmin(axis=-1), 1, cost.shape[-1] - 2)[..., None]
    x0, x1, x2 = (_DIFFERENCES[best[..., 0] + step] for step in (-1, 0, 1))
    y0, y1, y2 = (
        np.take_along_axis(cost, best + step, -1)[..., 0].astype(np.float64) for step in (-1, 0, 1)
    )
    left, right = (y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1)
    bend = (right - left) / (x2 - x0)
    vertex = (x0 + x1) / 2.0 - left / (2.0 * np.where(bend > 1e-12, bend, np.inf))
    lowest: FloatArray = np.where(bend > 1e-12, np.clip(vertex, x0, x2), x1)
    return lowest


def _level(patches: FloatImage) -> FloatArray:
    """Mean encoded brightness of each patch (n,), windowed, at least a few grey levels."""
    level: FloatArray = np.maximum(levels(patches), 4.0).astype(np.float64)
    return level


@cache
def _band_frequency() -> FloatArray:
    """The frequency that stands for each band (cycles/px): the root of its mean square."""
    low, high = np.array(_BANDS[:-1]), np.array(_BANDS[1:])
    middle: FloatArray = np.sqrt((low**2 + high**2) / 2.0)
    return middle


def _band_power(patches: FloatImage, jacobian: FloatArray) -> tuple[FloatImage, FloatImage]:
    """Power density in each sector and band (n, 4, bands), and in the corners (n,); float32."""
    transformed = spectra(patches).reshape(len(patches), -1)
    power = np.square(transformed.real)
    power += np.square(transformed.imag)
    identity = np.abs(jacobian - np.eye(2)).max() < 0.05
    masks = _upright_masks() if identity else _masks(jacobian)
    # In small portions: from some size on the library shares a product out among threads that wait
    # for each other, while all cores are busy with frames already.
    density = np.concatenate(
        [power[first : first + _PORTION] @ masks for first in range(0, len(power), _PORTION)]
    )
    bands = density[:, :-1].reshape(len(patches), len(SECTORS_DEG), len(_BANDS) - 1)
    return bands + np.float32(1e-9), density[:, -1]


@cache
def _upright_masks() -> FloatImage:
    return _masks(np.eye(2))


def _masks(jacobian: FloatArray) -> FloatImage:
    """Weights of squared values that give mean densities (values, 4 × bands + 1), corner last.

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
    columns.append(twice * (np.hypot(gx, gy) > _NOISE_FROM))
    masks = np.stack(columns, axis=1)
    masks /= np.maximum(masks.sum(axis=0), 1e-9) * float(np.square(window()).sum())
    return masks.astype(np.float32)


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
    "PatchPowers",
    "detail_difference",
    "disc_px",
    "ellipse",
    "joined",
    "motion_px",
    "noise_spectrum",
    "patch_powers",
    "solve_detail",
]
