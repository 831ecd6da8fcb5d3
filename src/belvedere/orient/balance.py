"""The light the frames were taken in: gains per frame and channel, and the lens' falloff.

Where two frames overlap they saw the same light, so the logarithms of their values differ by
their gains and by the falloff at the two places; all overlaps together make one least-squares
graph (M. Brown and D. G. Lowe, IJCV 74(1), 2007, section 6, for the gains; D. B. Goldman and
J.-H. Chen, "Vignette and exposure calibration and compensation", ICCV 2005, for both together).
Outliers, such as moving subjects, are weighed down by the Cauchy function.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

from belvedere.foundation import CardError, Progress, Steps
from belvedere.measure import FrameSource, linear_table
from belvedere.optics import LensModel
from belvedere.orient.gather import longer_side_order, neighbours, sphere_map
from belvedere.orient.match import overlap_box, within
from belvedere.orient.walk import Pair, walk_pairs
from belvedere.shoot import Settings

FloatArray = NDArray[np.float64]
Pixels = NDArray[np.uint8]

_SMALL_PX = 400
_SAMPLES = 24
_SMOOTHED_PX = 5
_DARKEST, _BRIGHTEST = 12, 245
_TERMS = 3
_FALLOFF_SIGMA = np.array([1.0, 0.5, 0.5])
_GAIN_SIGMA = 0.1  # ln units, about the exposures that the frames state
_ANY_GAIN = 3.0
_PAIR_NOISE = 0.004  # what no overlap knows better; more where overlaps contradict each other
_LEAST_NOISE = 0.003
_CORNER_SIGMA = 0.1  # falloff in the corner must be known to this, or has fewer terms
_BRIGHTER_RIM = 1.03
_LEAST_SAMPLES = 30
_ROUNDS = 20

#: Linear light of 8-bit sRGB values.
_LINEAR = linear_table()


@dataclass(frozen=True, slots=True)
class Balance:
    """Gains (frames, 3) of linear RGB, and the falloff's coefficients (see `light_falloff`)."""

    gains: FloatArray
    falloff: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Samples:
    """The same light seen twice: `difference` (n, 3) is ln of first over second.

    `first`, `second` (n,) index frames; `r2_first`, `r2_second` (n,) as in `light_falloff`.
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    r2_first: FloatArray
    r2_second: FloatArray
    difference: FloatArray

    def pair_starts(self) -> NDArray[np.intp]:
        """Where each run of samples of one pair begins."""
        change = np.diff(self.first) | np.diff(self.second)
        return np.concatenate([[0], np.flatnonzero(change) + 1]).astype(np.intp)


def balance(
    settings: Sequence[Settings],
    files: Sequence[str],
    source: FrameSource,
    world_from_camera: FloatArray,
    lens: LensModel,
    threads: int = 2,
) -> Steps[Balance]:
    """Gains and falloff that make the overlaps agree.

    Parameters
    ----------
    settings, files
        Of each frame. Exposures that the frames state are where their gains begin; what the
        overlaps do not decide stays there.
    source
        Gives the pictures.
    world_from_camera
        (frames, 3, 3).
    lens
        The adjusted lens.
    """
    shrink = _shrink(max(lens.width_px, lens.height_px))
    order = longer_side_order(world_from_camera)

    def load(frame: int) -> _Seen | None:
        try:
            return _see(source.colour(files[frame], shrink))
        except CardError:
            return None

    def work(pair: Pair, first: _Seen | None, second: _Seen | None) -> Samples | None:
        if first is None or second is None:
            return None
        return _sample(pair, first, second, world_from_camera, lens)

    found: list[Samples] = []
    pairs = neighbours(world_from_camera, lens)
    for done, results in walk_pairs(order, pairs, load, work, threads):
        found += [samples for _, samples in results if samples is not None]
        yield Progress("balance", done + 1, len(order), "frames")
    stated = np.array([_stated_ln_gain(s) for s in settings])
    known = np.isfinite(stated)
    middle = float(np.median(stated[known])) if known.any() else 0.0
    begin = np.where(known, stated - middle, 0.0)
    return fit_balance(_joined(found), begin)


def fit_balance(samples: Samples, ln_gains: FloatArray) -> Balance:
    """Gains and falloff from samples, near `ln_gains` (frames,) where the samples are silent.

    Gauss–Newton, since the falloff is a polynomial in linear light. The mean of the ln gains is
    0 in each channel. The falloff has as many terms as the samples carry.
    """
    gains = np.repeat(ln_gains[:, None], 3, axis=1)
    if len(samples.first) < _LEAST_SAMPLES:
        return Balance(_centred(gains), ())
    for terms in (_TERMS, 1, 0):
        # the overlaps alone tell how far they contradict each other, and so how far to trust them
        alone = _fit(samples, ln_gains, terms, _Trust(_PAIR_NOISE, _ANY_GAIN))
        trust = _Trust(max(alone.contradiction, _PAIR_NOISE), _GAIN_SIGMA)
        fit = _fit(samples, ln_gains, terms, trust)
        if fit.corner_sigma <= _CORNER_SIGMA and _falls(fit.falloff):
            return Balance(_centred(fit.gains), tuple(float(c) for c in fit.falloff))
    return Balance(_centred(gains), ())


@dataclass(frozen=True, slots=True)
class _Fit:
    """The ln gains (frames, 3), the falloff (terms,) and what is known of them."""

    gains: FloatArray
    falloff: FloatArray
    corner_sigma: float
    contradiction: float


@dataclass(frozen=True, slots=True)
class _Trust:
    """Sigmas: of what an overlap as a whole says, and of the gains about where they begin."""

    pair: float
    gain: float


def _fit(samples: Samples, ln_gains: FloatArray, terms: int, trust: _Trust) -> _Fit:
    gains = np.repeat(ln_gains[:, None], 3, axis=1)
    falloff = np.zeros(terms)
    noise = 0.05
    for _ in range(_ROUNDS):
        ln_first, slope_first = _ln_falloff(samples.r2_first, falloff)
        ln_second, slope_second = _ln_falloff(samples.r2_second, falloff)
        expected = (ln_first - ln_second)[:, None] - gains[samples.first] + gains[samples.second]
        left = samples.difference - expected
        weight = 1.0 / (noise**2 + (left / 2.385) ** 2)
        step, falloff_step, covariance = _step(
            samples,
            left,
            weight,
            slope_first - slope_second,
            ln_gains[:, None] - gains,
            falloff,
            trust,
        )
        gains = gains + step
        falloff = _positive(falloff + falloff_step)
        noise = max(1.4826 * float(np.median(np.abs(left))), _LEAST_NOISE)
        if np.abs(step).max() < 1e-5:
            break
    corner = float(np.sqrt(max(covariance.sum(), 0.0)))
    return _Fit(gains, falloff, corner, _contradiction(samples, left, weight))


def _step(
    samples: Samples,
    left: FloatArray,
    weight: FloatArray,
    slopes: FloatArray,
    to_prior: FloatArray,
    falloff: FloatArray,
    trust: _Trust,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One Gauss–Newton step: of the ln gains, of the falloff; and the falloff's covariance."""
    frames, terms = len(to_prior), len(falloff)
    starts = samples.pair_starts()
    i, j = samples.first[starts], samples.second[starts]
    lens_precision = 1.0 / _FALLOFF_SIGMA[:terms] ** 2
    reduced = np.diag(lens_precision)
    reduced_right = -lens_precision * falloff
    solved: list[tuple[FloatArray, FloatArray]] = []
    for channel in range(3):
        w = weight[:, channel]
        total = np.add.reduceat(w, starts)
        # samples of one overlap share their errors: many of them are no better than a few
        w = w * np.repeat(
            np.minimum(1.0, 1.0 / (trust.pair**2 * total)), np.diff([*starts, len(w)])
        )
        pair = np.add.reduceat(w, starts)
        pull = np.add.reduceat(w * left[:, channel], starts)
        lens_pull = np.add.reduceat(w[:, None] * slopes, starts, axis=0)
        diagonal = np.full(frames, 1.0 / trust.gain**2)
        right = to_prior[:, channel] / trust.gain**2
        cross = np.zeros((frames, terms))
        for index, sign in ((i, -1.0), (j, 1.0)):
            np.add.at(diagonal, index, pair)
            np.add.at(right, index, sign * pull)
            np.add.at(cross, index, sign * lens_pull)
        graph = sparse.diags(diagonal, format="csc") - sparse.csc_matrix(
            (np.r_[pair, pair], (np.r_[i, j], np.r_[j, i])), shape=(frames, frames)
        )
        answer = splu(graph.tocsc()).solve(np.column_stack([right, cross]))
        solved.append((answer[:, 0], answer[:, 1:]))
        reduced += (slopes * w[:, None]).T @ slopes - cross.T @ answer[:, 1:]
        reduced_right += slopes.T @ (w * left[:, channel]) - cross.T @ answer[:, 0]
    covariance = np.asarray(np.linalg.inv(reduced), np.float64)
    lens_step = covariance @ reduced_right
    step = np.stack([alone - by_lens @ lens_step for alone, by_lens in solved], axis=1)
    return step, lens_step, covariance


def _falls(falloff: FloatArray) -> bool:
    """Whether the light nowhere grows to the rim by more than a hair: no lens does that."""
    r2 = np.linspace(0.0, 1.0, 21)
    light = 1.0 + r2[:, None] ** np.arange(1, len(falloff) + 1) @ falloff
    return bool(light.max() <= _BRIGHTER_RIM)


def _contradiction(samples: Samples, left: FloatArray, weight: FloatArray) -> float:
    """Robust spread of what whole overlaps leave unexplained: glitter, haze, parallax."""
    starts = samples.pair_starts()
    means = np.add.reduceat(weight * left, starts) / np.add.reduceat(weight, starts)
    return 1.4826 * float(np.median(np.abs(means)))


def _ln_falloff(r2: FloatArray, falloff: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The logarithm (n,) of the light left at `r2`, and its slopes (n, terms)."""
    powers = r2[:, None] ** np.arange(1, len(falloff) + 1)
    light = 1.0 + powers @ falloff
    return np.log(light), powers / light[:, None]


def _positive(falloff: FloatArray) -> FloatArray:
    """The falloff drawn in until a tenth of the light is left everywhere."""
    r2 = np.linspace(0.0, 1.2, 25)
    least = float((r2[:, None] ** np.arange(1, len(falloff) + 1) @ falloff).min())
    return falloff * min(1.0, -0.9 / least) if least < 0 else falloff


def _centred(ln_gains: FloatArray) -> FloatArray:
    gains: FloatArray = np.exp(ln_gains - ln_gains.mean(axis=0))
    return gains


def _shrink(long_side_px: int) -> int:
    return max((s for s in (1, 2, 4, 8) if long_side_px / s >= _SMALL_PX), default=1)


def _stated_ln_gain(settings: Settings) -> float:
    """What would bring the frame to the light of all, by its exposure; nan where unstated."""
    if not (settings.exposure_time_s and settings.f_number):
        return float("nan")
    iso = settings.iso or 100.0
    return -float(np.log(settings.exposure_time_s * iso / settings.f_number**2))


@dataclass(frozen=True, slots=True)
class _Seen:
    """Smoothed linear light (height, width, 3) and where it is neither dark nor clipped."""

    light: NDArray[np.float32]
    usable: NDArray[np.uint8]


def _see(colour: Pixels) -> _Seen:
    kernel = np.ones((_SMOOTHED_PX, _SMOOTHED_PX), np.uint8)
    outside = (colour.min(axis=2) < _DARKEST) | (colour.max(axis=2) > _BRIGHTEST)
    spoilt = cv2.dilate(outside.astype(np.uint8), kernel)
    light = cv2.blur(_LINEAR[colour], (_SMOOTHED_PX, _SMOOTHED_PX))
    return _Seen(light.astype(np.float32, copy=False), (1 - spoilt).astype(np.uint8))


def _sample(
    pair: Pair, first: _Seen, second: _Seen, world_from_camera: FloatArray, lens: LensModel
) -> Samples | None:
    i, j = pair
    size = (lens.width_px, lens.height_px)
    second_from_first = sphere_map(world_from_camera[i], world_from_camera[j], lens)
    box = overlap_box(second_from_first, size)
    if box is None:
        return None
    x = np.linspace(box[0], box[2], _SAMPLES)
    y = np.linspace(box[1], box[3], _SAMPLES)
    here = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    there = second_from_first(here)
    margin = 0.5 * _SMOOTHED_PX * max(size) / max(first.light.shape)
    keep = within(here, size, margin) & within(there, size, margin)
    here, there = here[keep], there[keep]
    values, usable = zip(
        *(_look_up(seen, at, size) for seen, at in ((first, here), (second, there))), strict=True
    )
    good = usable[0] & usable[1]
    if not good.any():
        return None
    count = int(good.sum())
    return Samples(
        np.full(count, i, np.intp),
        np.full(count, j, np.intp),
        _r2(here[good], lens),
        _r2(there[good], lens),
        np.log(values[0][good]) - np.log(values[1][good]),
    )


def _look_up(
    seen: _Seen, pixels: FloatArray, size_px: tuple[int, int]
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Light (n, 3) at full-size pixels (n, 2), and whether it can be used."""
    height, width = seen.usable.shape
    small = ((pixels + 0.5) * [width / size_px[0], height / size_px[1]] - 0.5).astype(np.float32)
    x, y = small[:, :1], small[:, 1:]
    light = cv2.remap(seen.light, x, y, cv2.INTER_LINEAR).reshape(-1, 3).astype(np.float64)
    usable = cv2.remap(seen.usable, x, y, cv2.INTER_NEAREST).ravel().astype(np.bool_)
    return np.maximum(light, 1e-4), usable & (light.min(axis=1) > 1e-3)


def _r2(pixels: FloatArray, lens: LensModel) -> FloatArray:
    half_diagonal = 0.5 * float(np.hypot(lens.width_px, lens.height_px))
    centre = np.array([lens.centre_x_px, lens.centre_y_px])
    squared: FloatArray = (((pixels - centre) / half_diagonal) ** 2).sum(axis=1)
    return squared


def _joined(found: Sequence[Samples]) -> Samples:
    if not found:
        none = np.empty(0, np.intp)
        return Samples(none, none, np.empty(0), np.empty(0), np.empty((0, 3)))
    ordered = sorted(found, key=lambda samples: (samples.first[0], samples.second[0]))
    return Samples(
        np.concatenate([s.first for s in ordered]),
        np.concatenate([s.second for s in ordered]),
        np.concatenate([s.r2_first for s in ordered]),
        np.concatenate([s.r2_second for s in ordered]),
        np.concatenate([s.difference for s in ordered]),
    )
