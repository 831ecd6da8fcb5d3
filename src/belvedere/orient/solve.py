"""From ties to an orientation: adjust, doubt pairs and parameters, adjust again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.orient.adjust import Adjustment, LensPrior, RotationPrior, adjust
from belvedere.orient.ties import Ties
from belvedere.orient.transfer import LENS_PARAMETERS, lens_vector, with_lens_vector

FloatArray = NDArray[np.float64]

#: A pair is believed while this share of its ties fits the whole.
_LEAST_SHARE = 0.3
#: A lens parameter is left alone where its ties say less than this much about it.
_LEAST_LEARNT = 0.3
#: What is believed of a photographic lens: distortion in the corner, as a share of the radius.
_CORNER_K1 = 0.03
_CORNER_K2 = 0.015
#: … and its principal point, off the middle as a share of the long side.
_CENTRE = 0.01


@dataclass(frozen=True, slots=True)
class Solution:
    """An adjustment, the ties that were kept for it, and the lens parameters that were held."""

    adjustment: Adjustment
    ties: Ties
    held: tuple[str, ...]


def lens_prior(lens: LensModel, focal_sigma: float) -> LensPrior:
    """Prior of a lens believed to have `lens`' focal length within the share `focal_sigma`.

    Nothing is known of its distortion but that lenses for photographs bend the corner by a few
    per cent (common practice, no source).
    """
    corner2 = (lens.width_px**2 + lens.height_px**2) / (4.0 * lens.focal_length_px**2)
    centre = _CENTRE * max(lens.width_px, lens.height_px)
    middle = LensModel.ideal(lens.width_px, lens.height_px, lens.focal_length_px)
    return LensPrior(
        lens_vector(middle),
        np.array([focal_sigma, centre, centre, _CORNER_K1 / corner2, _CORNER_K2 / corner2**2]),
    )


def solve(
    ties: Ties, start: FloatArray, lens: LensModel, rotation_prior: RotationPrior, prior: LensPrior
) -> Solution:
    """The most probable rotations and lens, without pairs that contradict the rest.

    Lens parameters about which the ties say hardly more than was believed before are held at
    their prior mean, the least known first.
    """
    kept = ties
    result = _staged(kept, start, lens, rotation_prior, prior)
    for _ in range(3):
        good = _trusted(kept, result)
        if good.all():
            break
        kept = kept.only(good)
        result = _staged(kept, result.world_from_camera, lens, rotation_prior, prior)
    held: list[str] = []
    while True:
        free = prior.sigma > 0
        learnt = np.divide(result.lens_sigma, prior.sigma, out=np.zeros(len(free)), where=free)
        least = int(learnt.argmax())
        if learnt[least] <= _LEAST_LEARNT:
            break
        if LENS_PARAMETERS[least] == "k1" and free[-1]:
            least = len(free) - 1  # k2 means nothing without k1
        held.append(LENS_PARAMETERS[least])
        prior = _holding(prior, least)
        lens = with_lens_vector(
            lens, np.where(prior.sigma > 0, lens_vector(result.lens), prior.mean)
        )
        result = adjust(kept, result.world_from_camera, lens, rotation_prior, prior)
    return Solution(result, kept, tuple(name for name in LENS_PARAMETERS if name in held))


def _staged(
    ties: Ties, start: FloatArray, lens: LensModel, rotation_prior: RotationPrior, prior: LensPrior
) -> Adjustment:
    """Rotations and focal length first, then the rest: far starts stay on the road."""
    plain = LensPrior(prior.mean, prior.sigma * np.array([1.0, 0.0, 0.0, 0.0, 0.0]))
    first = adjust(ties, start, lens, rotation_prior, plain)
    return adjust(ties, first.world_from_camera, first.lens, rotation_prior, prior)


def _holding(prior: LensPrior, parameter: int) -> LensPrior:
    sigma = prior.sigma.copy()
    sigma[parameter] = 0.0
    return LensPrior(prior.mean, sigma)


def _trusted(ties: Ties, result: Adjustment) -> NDArray[np.bool_]:
    """Ties of pairs that fit in a good part: a false overlap fits nowhere."""
    inlier = result.sound()
    starts = ties.pair_starts()
    if len(starts) == 0:
        return inlier
    counts = np.diff([*starts, len(ties)])
    share = np.add.reduceat(inlier.astype(np.float64), starts) / counts
    return np.repeat(share >= _LEAST_SHARE, counts)
