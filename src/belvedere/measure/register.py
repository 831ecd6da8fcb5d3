"""Register an overlap locally: where patches of one frame lie in the other, to a part of a pixel.

A coarse mapping (`Overlap.b_from_a`, good to a few per cent of a frame) is first corrected on
small copies, then patch by patch at full resolution. A smooth mapping is fitted to the patches
that agree; what disagrees with it is a moving subject, or parallax.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.measure.patches import (
    PATCH_PX,
    FloatArray,
    FloatImage,
    cut,
    displacements,
    jacobian_at,
    warp_cut,
)
from belvedere.measure.picture import Picture

BoolArray = NDArray[np.bool_]

#: Below this height of the correlation's peak (1 = identical patches) it may be chance; noise
#: alone stays below 0.16 in 999 of 1,000 patches (measured).
_FAITH = 0.2
#: Local rotation or scale beyond which patches are warped before they are compared.
_NEARLY_UPRIGHT = 0.03
_MOST_COARSE = 40
_FEWEST = 4
#: The centres to choose from lie at most so many to a side of the overlap, seen as a square.
_LATTICE_PX = 28 * (PATCH_PX // 2)
#: Without a look at the small copies so many of all patches must agree.
_SURE_SHARE = 0.5
#: Where so many of the faithful patches share one shift, no other agreement is sought.
_MOST_ALIKE = 0.75
_ROUNDS = 5
#: A correction that turns or scales by more than this is not believed.
_MOST_SLOPE = 0.12
_SLOPE_PRIOR = 1e-3
#: Patches of an unsharp frame are found less exactly: where few agree, they may differ by more.
_SLACKS = (1.0, 2.5)
#: A patch needs this much coarse detail (variance, grey levels squared) to be registered.
_LEAST_TEXTURE = 1.0


@dataclass(frozen=True, slots=True)
class Mapping:
    """`b = homography(a) + correction(a)`, the correction a polynomial of degree 0, 1 or 2.

    `coefficients` (terms, 2) in pixels; `origin` (2,) and `span_px` make the polynomial's
    variables small numbers.
    """

    b_from_a: FloatArray
    coefficients: FloatArray
    origin: FloatArray
    span_px: float

    def __call__(self, points_a: FloatArray) -> FloatArray:
        """Pixels of frame a (n, 2) to pixels of frame b (n, 2)."""
        terms = _terms(points_a, self.origin, self.span_px, len(self.coefficients))
        mapped: FloatArray = apply_homography(self.b_from_a, points_a) + terms @ self.coefficients
        return mapped


@dataclass(frozen=True, slots=True)
class Registration:
    """Patches of an overlap, registered.

    `centres_a`, `centres_b` (n, 2) are pixels of the full frames; `peak` (n,) is the height of
    the correlation's peak, 0 to 1; `residual_px` (n,) is the distance from the smooth mapping and
    `steady` (n,) says which patches follow it. `registered` is False where too few patches
    agreed: then the centres are those of the mapping that was given. `jacobian` (2, 2) is the
    mapping's derivative in the middle of the overlap. `overlap_px` is the width and height of the
    shared part in frame a. `textured` is the share of the overlap that has texture in a or b.
    """

    mapping: Mapping
    centres_a: FloatArray
    centres_b: FloatArray
    peak: FloatArray
    residual_px: FloatArray
    steady: BoolArray
    registered: bool
    jacobian: FloatArray
    overlap_px: tuple[float, float]
    textured: float


def apply_homography(homography: FloatArray, points: FloatArray) -> FloatArray:
    """Points (n, 2) through a 3 × 3 homography."""
    lifted = np.concatenate([points, np.ones((len(points), 1))], axis=1) @ homography.T
    mapped: FloatArray = lifted[:, :2] / lifted[:, 2:]
    return mapped


def register(
    a: Picture, b: Picture, b_from_a: FloatArray, most: int = 32, near: bool = False
) -> Registration:
    """Register the overlap of two frames.

    Parameters
    ----------
    a, b
        The frames.
    b_from_a
        (3, 3) homography between full-size pixels, off by up to about 20 pixels of the small
        copies (4 % of a frame's width) anywhere in the overlap.
    most
        At most so many patches at full resolution, the most textured ones of a spread.
    near
        The homography is good to some 15 pixels: the small copies are only looked at where the
        patches do not agree without.

    Returns
    -------
    Registration
        Method: phase correlation of windowed patches (Kuglin and Hines 1975) with a Gaussian
        weight on low frequencies, so that a sharp and an unsharp patch still match; the smooth
        mapping by iteratively reweighted least squares.
    """
    lattice = _lattice(a, b, b_from_a)
    texture = _pair_texture(a, b, lattice, b_from_a)
    textured = texture > _LEAST_TEXTURE
    extent = np.ptp(lattice, axis=0) if len(lattice) else np.zeros(2)
    origin = lattice.mean(axis=0) if len(lattice) else np.zeros(2)
    span = float(max(extent.max() / 2.0, PATCH_PX))
    plain = Mapping(b_from_a, np.zeros((1, 2)), origin, span)
    centres, strength = lattice[textured], texture[textured]
    chosen = centres[_spread(centres, strength, most)]
    fitted = _fit_fine(a, b, plain, chosen, _SURE_SHARE) if near else None
    if fitted is None:
        coarse = _fit_coarse(a, b, plain, centres[_spread(centres, strength, _MOST_COARSE)])
        fitted = None if coarse is None else _fit_fine(a, b, coarse, chosen)
    start = plain if fitted is None else fitted.start
    return Registration(
        plain if fitted is None else fitted.mapping,
        chosen,
        plain(chosen) if fitted is None else fitted.centres_b,
        np.zeros(len(chosen)) if fitted is None else fitted.peak,
        np.full(len(chosen), np.inf) if fitted is None else fitted.residual_px,
        np.zeros(len(chosen), dtype=bool) if fitted is None else fitted.steady,
        fitted is not None,
        jacobian_at(start, origin) if len(lattice) else np.eye(2),
        (float(extent[0]) + PATCH_PX, float(extent[1]) + PATCH_PX) if len(lattice) else (0.0, 0.0),
        float(textured.mean()) if len(lattice) else 0.0,
    )


@dataclass(frozen=True, slots=True)
class _Fitted:
    start: Mapping
    mapping: Mapping
    centres_b: FloatArray
    peak: FloatArray
    residual_px: FloatArray
    steady: BoolArray


def _fit_fine(
    a: Picture, b: Picture, start: Mapping, chosen: FloatArray, least_share: float = 0.0
) -> _Fitted | None:
    """Patches at full size found in b, and a smooth mapping through them.

    None where they do not agree, or fewer of the faithful ones than `least_share` do.
    """
    if len(chosen) < _FEWEST:
        return None
    jacobian = jacobian_at(start, start.origin)
    centres_b, peak = _find(
        _Sheet(a.grey, a.corner_px), _Sheet(b.grey, b.corner_px), start, chosen, jacobian
    )
    degree = 2 if len(chosen) >= 8 else 1
    tolerance_px = (1.5 if degree == 2 else 4.0) * (1 + a.shrink) / 2.0
    for slack in _SLACKS:
        mapping, residual, steady = _fit(
            start, chosen, centres_b, peak, degree, slack * tolerance_px
        )
        if mapping is not None:
            if steady.sum() < least_share * len(chosen):
                return None
            return _Fitted(start, mapping, centres_b, peak, residual, steady)
    return None


def _lattice(a: Picture, b: Picture, b_from_a: FloatArray) -> FloatArray:
    """Patch centres in a, half a patch apart or more, whose patch lies inside both; (n, 2)."""
    half = PATCH_PX // 2
    left, top, right, bottom = _shared(a, b, b_from_a)
    step = half * max(1.0, np.sqrt(max(0.0, right - left) * max(0.0, bottom - top)) / _LATTICE_PX)
    x = np.floor(np.arange(left, right, step))
    y = np.floor(np.arange(top, bottom, step))
    if not len(x) or not len(y):
        return np.zeros((0, 2))
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    in_b = apply_homography(b_from_a, points)
    inside = np.all((in_b >= _first(b)) & (in_b <= _last(b)), axis=1)
    chosen: FloatArray = points[inside]
    return chosen


def _first(picture: Picture) -> FloatArray:
    """The first place (2,) for a patch's centre: the patch lies inside the pixels at hand."""
    first: FloatArray = np.array(picture.corner_px, dtype=np.float64) + PATCH_PX // 2
    return first


def _last(picture: Picture) -> FloatArray:
    """The last place (2,) for a patch's centre."""
    height, width = picture.grey.shape
    size = np.array([width, height], dtype=np.float64)
    last: FloatArray = np.array(picture.corner_px) + size - PATCH_PX // 2
    return last


def _shared(a: Picture, b: Picture, b_from_a: FloatArray) -> tuple[float, float, float, float]:
    """Where in a patches may lie that b shows too: left, top, right, bottom, a little too large."""
    first, last = _first(b), _last(b)
    x, y = np.stack([first, last], axis=1)
    corners: FloatArray = np.stack([x[[0, 1, 1, 0]], y[[0, 0, 1, 1]]], axis=1)
    back: FloatArray = np.linalg.inv(b_from_a).astype(np.float64)
    in_a = apply_homography(back, corners)
    left, top = np.maximum(_first(a), in_a.min(axis=0))
    right, bottom = np.minimum(_last(a), in_a.max(axis=0))
    return float(np.ceil(left)), float(np.ceil(top)), float(right), float(bottom)


def _pair_texture(
    a: Picture, b: Picture, centres_a: FloatArray, b_from_a: FloatArray
) -> FloatArray:
    """The stronger texture of both frames at each centre: an unsharp frame hides nothing."""
    if not len(centres_a):
        return np.zeros(0)
    return np.maximum(
        _texture_at(a, centres_a), _texture_at(b, apply_homography(b_from_a, centres_a))
    )


def _texture_at(picture: Picture, centres: FloatArray) -> FloatArray:
    cells = np.floor(centres / picture.texture_step_px).astype(int)
    height, width = picture.texture.shape
    column = np.clip(cells[:, 0], 0, width - 1)
    row = np.clip(cells[:, 1], 0, height - 1)
    texture: FloatArray = picture.texture[row, column].astype(np.float64)
    return texture


def _spread(centres: FloatArray, texture: FloatArray, most: int) -> NDArray[np.intp]:
    """Indices of the most textured centres, at most `most`, from bins spread over all of them."""
    if len(centres) <= most:
        return np.arange(len(centres))
    low, extent = centres.min(axis=0), np.ptp(centres, axis=0) + 1.0
    bin_px = float(np.sqrt(extent[0] * extent[1] / most)) * 1.15
    bins = np.floor((centres - low) / bin_px)
    key = bins[:, 0] * 10_000 + bins[:, 1]
    order = np.lexsort((-texture, key))
    first = np.concatenate([[True], np.diff(key[order]) != 0])
    place = np.arange(len(key))
    rank = np.empty(len(key), dtype=np.intp)
    rank[order] = place - np.maximum.accumulate(np.where(first, place, 0))
    best: NDArray[np.intp] = np.sort(np.lexsort((-texture, rank))[:most])
    return best


def _fit_coarse(a: Picture, b: Picture, plain: Mapping, centres: FloatArray) -> Mapping | None:
    """Correct the mapping on the small copies; None where the patches do not agree."""
    half = PATCH_PX // 2 * a.shrink
    room_a = [a.width_px - half, a.height_px - half]
    room_b = [b.width_px - half, b.height_px - half]
    mapping: Mapping | None = plain
    for _ in range(2):
        if mapping is None:
            return None
        in_b = mapping(centres)
        fits = np.all((centres >= half) & (centres <= room_a), axis=1)
        fits &= np.all((in_b >= half) & (in_b <= room_b), axis=1)
        use = centres[fits] if fits.sum() >= 4 else centres
        found, peak = _find(
            _Sheet(a.small),
            _Sheet(b.small),
            mapping,
            use,
            jacobian_at(mapping, plain.origin),
            a.shrink,
        )
        mapping, _, _ = _fit(mapping, use, found, peak, 1, tolerance_px=3.0 * a.shrink)
    return mapping


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Pixels, and where their corner lies in the picture that centres are given in."""

    pixels: NDArray[np.uint8]
    corner_px: tuple[int, int] = (0, 0)

    def cut(self, centres: FloatArray) -> FloatImage:
        return cut(self.pixels, centres - np.array(self.corner_px))

    def warp_cut(self, centres: FloatArray, jacobian: FloatArray) -> FloatImage:
        return warp_cut(self.pixels, centres - np.array(self.corner_px), jacobian)


def _find(
    sheet_a: _Sheet,
    sheet_b: _Sheet,
    mapping: Mapping,
    centres: FloatArray,
    jacobian: FloatArray,
    shrink: int = 1,
) -> tuple[FloatArray, FloatArray]:
    """Where the patches around `centres` lie in b, and the height of each peak."""
    if not len(centres):
        return np.zeros((0, 2)), np.zeros(0)
    expected = mapping(centres)
    # Averaging `shrink` pixels moves pixel centres: full = shrink * small + (shrink - 1) / 2.
    middle = (shrink - 1) / 2.0
    small_a = np.round((centres - middle) / shrink)
    wanted_b = (mapping(small_a * shrink + middle) - middle) / shrink
    patches_a = sheet_a.cut(small_a)
    if np.abs(jacobian - np.eye(2)).max() > _NEARLY_UPRIGHT:
        moved, peak = displacements(patches_a, sheet_b.warp_cut(wanted_b, jacobian))
        step = moved @ jacobian.T
    else:
        small_b = np.round(wanted_b)
        moved, peak = displacements(patches_a, sheet_b.cut(small_b))
        step = moved + small_b - wanted_b
    return expected + step * shrink, peak


def _terms(points: FloatArray, origin: FloatArray, span_px: float, terms: int) -> FloatArray:
    x, y = ((points - origin) / span_px).T
    columns = [np.ones_like(x), x, y, x * x, x * y, y * y][:terms]
    return np.stack(columns, axis=1)


def _fit(
    mapping: Mapping,
    centres_a: FloatArray,
    centres_b: FloatArray,
    peak: FloatArray,
    degree: int,
    tolerance_px: float,
) -> tuple[Mapping | None, FloatArray, BoolArray]:
    """A smooth correction of `mapping` through the patches that agree; residuals; who agrees.

    The start is the affine correction, or the shift, that most patches share; then reweighting
    with Cauchy's weight.
    """
    faithful = peak > _FAITH
    nobody = np.zeros(len(peak), dtype=bool)
    far = np.full(len(peak), np.inf)
    if faithful.sum() < 4:
        return None, far, nobody
    offset = centres_b - mapping(centres_a)
    agree = _first_agreement(centres_a, offset, faithful, tolerance_px)
    if agree is None:
        return None, far, nobody
    terms = _terms(centres_a, mapping.origin, mapping.span_px, (1, 3, 6)[degree])
    # Where no patches hold them the slopes stay small: some ten pixels, against a third of one.
    ridge = np.diag([1e-9] + [_SLOPE_PRIOR] * (terms.shape[1] - 1))
    trust = faithful * peak
    weight = agree * peak
    for _ in range(_ROUNDS):
        weighed = terms.T * weight
        coefficients = np.linalg.solve(weighed @ terms + ridge, weighed @ offset)
        missed = offset - terms @ coefficients
        residual = np.hypot(missed[:, 0], missed[:, 1])
        near = np.sort(residual[faithful & (residual < 4.0 * tolerance_px)])
        scale = max(0.1, float(near[len(near) // 2])) if near.size else tolerance_px
        weight = trust / (1.0 + np.square(residual / (3.0 * scale)))
    steady: BoolArray = faithful & (residual < tolerance_px)
    if steady.sum() < max(4, 0.25 * faithful.sum()):
        return None, residual, nobody
    full = np.zeros((6, 2))
    full[: len(mapping.coefficients)] = mapping.coefficients
    full[: len(coefficients)] += coefficients
    return Mapping(mapping.b_from_a, full, mapping.origin, mapping.span_px), residual, steady


def _first_agreement(
    centres: FloatArray, offset: FloatArray, faithful: BoolArray, tolerance_px: float
) -> BoolArray | None:
    """Patches that share one affine correction, or one shift where they are few; None if none."""
    count = int(faithful.sum())
    least = max(4, 0.35 * count)
    usual = offset[faithful]
    middle = np.sort(usual, axis=0)[count // 2]
    alike: BoolArray = faithful & (np.abs(offset - middle).max(axis=1) < 2.0 * tolerance_px)
    if alike.sum() >= _MOST_ALIKE * count:
        return alike
    if count >= 8:
        affine, inside = cv2.estimateAffine2D(
            centres[faithful],
            (centres + offset)[faithful],
            method=cv2.RANSAC,
            ransacReprojThreshold=2.0 * tolerance_px,
            maxIters=500,
        )
        if affine is not None and np.abs(affine[:, :2] - np.eye(2)).max() < _MOST_SLOPE:
            agree = np.zeros(len(offset), dtype=bool)
            agree[faithful] = inside[:, 0] > 0
            if agree.sum() >= least:
                return agree
    apart = np.linalg.norm(usual[:, None] - usual[None], axis=-1)
    votes = (apart < 4.0 * tolerance_px).sum(axis=1)
    if votes.max() < least:
        return None
    anchor = usual[votes.argmax()]
    near: BoolArray = np.linalg.norm(offset - anchor, axis=1) < 4.0 * tolerance_px
    return faithful & near
