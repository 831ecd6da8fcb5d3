"""Tie points of a whole shoot: between the neighbours that the head promises, or that are found."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import CardError, Progress, Steps
from belvedere.measure import (
    FeatureMatch,
    Features,
    FrameSource,
    find_features,
    match_features,
    match_pair,
)
from belvedere.optics import LensModel
from belvedere.orient.match import (
    PairMatch,
    PixelMap,
    align_patches,
    coarse_shift,
    fine_ties,
    nothing_matched,
    overlap_box,
)
from belvedere.orient.moves import rotations_and_bends
from belvedere.orient.relative import agreeing
from belvedere.orient.ties import Ties
from belvedere.orient.walk import Pair, walk_pairs

FloatArray = NDArray[np.float64]
Grey = NDArray[np.uint8]

_SMALL_PX = 640
_LEAST_SHARE = 0.04
_TIES_AT_LEAST = 6
_TIES_PER_PAIR = 40
_LEAST_RESPONSE = 0.03
_AGREE_PX = 3.0
_LEAST_DETAIL = 0.8  # grey levels of fine detail in the small picture: plain sky has half of it


def neighbours(world_from_camera: FloatArray, lens: LensModel) -> list[Pair]:
    """Pairs of frames of which one shows at least a twenty-fifth of the other."""
    size = np.array([lens.width_px, lens.height_px])
    steps = (np.arange(12) + 0.5) / 12
    lattice = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2) * size - 0.5
    rays = lens.unproject(lattice)
    from_world = np.linalg.inv(world_from_camera)
    axes = rotations_and_bends(world_from_camera)[0][:, :, 2]
    corner = lens.unproject(np.array([[-0.5, -0.5]]))[0, 2]
    reach = 2.0 * float(np.arccos(np.clip(corner, -1.0, 1.0)))
    pairs = []
    for i in range(len(axes)):
        close = np.flatnonzero(axes[i + 1 :] @ axes[i] > np.cos(min(reach, np.pi))) + i + 1
        for j in close.tolist():
            seen = lens.project(rays @ (from_world[j] @ world_from_camera[i]).T)
            with np.errstate(invalid="ignore"):
                inside = ((seen > -0.5) & (seen < size - 0.5)).all(axis=1)
            if inside.mean() >= _LEAST_SHARE:
                pairs.append((i, j))
    return pairs


def sphere_map(first_world: FloatArray, second_world: FloatArray, lens: LensModel) -> PixelMap:
    """Pixels of the first frame to those of the second, by their place on the sphere."""
    second_from_first = np.linalg.inv(second_world) @ first_world

    def mapped(pixels: FloatArray) -> FloatArray:
        return lens.project(lens.unproject(pixels) @ second_from_first.T)

    return mapped


def planned_matches(
    files: Sequence[str],
    source: FrameSource,
    world_from_camera: FloatArray,
    sigma_rad: FloatArray,
    lens: LensModel,
    threads: int = 2,
) -> Steps[dict[Pair, PairMatch]]:
    """Ties of every pair that overlaps by the head's pointings.

    A pair whose pictures say nothing, or contradict the head by more than six sigmas, has none.
    """
    pairs = neighbours(world_from_camera, lens)
    size = (lens.width_px, lens.height_px)

    def work(pair: Pair, first: _Seen, second: _Seen) -> PairMatch:
        if first.full is None or second.full is None:
            return nothing_matched()
        i, j = pair
        predicted = sphere_map(world_from_camera[i], world_from_camera[j], lens)
        apart = float(
            np.arccos(np.clip(world_from_camera[i, :, 2] @ world_from_camera[j, :, 2], -1, 1))
        )
        # a head that steps 5 % too far is still believed
        allowed = 6.0 * float(np.hypot(sigma_rad[i], sigma_rad[j])) + 0.05 * apart
        allowed_px = allowed * lens.focal_length_px + 10.0
        shift, response = coarse_shift(first.small, second.small, predicted, size)
        match = nothing_matched(response)
        if response > _LEAST_RESPONSE and np.abs(shift).max() < allowed_px:
            match = _agreed(
                fine_ties(first.full, second.full, lambda p: predicted(p + shift)), lens
            )
        if len(match.first_px) < _TIES_AT_LEAST and _has_detail(first.small, predicted, size):
            alike = match_pair("", first.features(first.full), "", second.features(second.full))
            match = _by_features(alike, first.full, second.full, predicted, allowed_px, lens)
        return PairMatch(match.first_px, match.second_px, response)

    found: dict[Pair, PairMatch] = {}
    order = longer_side_order(world_from_camera)
    for done, results in walk_pairs(
        order, pairs, lambda i: _see(source, files[i], size), work, threads
    ):
        found.update({p: match for p, match in results if len(match.first_px) >= _TIES_AT_LEAST})
        yield Progress("tie points", done + 1, len(order), "frames", files[order[done]])
    return found


def free_matches(
    files: Sequence[str], source: FrameSource, size_px: tuple[int, int], threads: int = 2
) -> Steps[dict[Pair, PairMatch]]:
    """Ties of every pair whose features say that it overlaps."""
    matches = yield from match_features(files, source)
    index = {file: n for n, file in enumerate(files)}
    by_pair = {(index[m.overlap.file_a], index[m.overlap.file_b]): m for m in matches}
    order = sorted({frame for pair in by_pair for frame in pair})

    def work(pair: Pair, first: _Seen, second: _Seen) -> PairMatch:
        if first.full is None or second.full is None:
            return nothing_matched()
        return _refined(by_pair[pair], first.full, second.full)

    found: dict[Pair, PairMatch] = {}
    for done, results in walk_pairs(
        order, sorted(by_pair), lambda i: _see(source, files[i], size_px), work, threads
    ):
        found.update(results)
        yield Progress("tie points", done + 1, len(order), "frames", files[order[done]])
    return found


def as_ties(matches: dict[Pair, PairMatch]) -> Ties:
    """All ties in one table, sorted by pair."""
    pairs = sorted(pair for pair, match in matches.items() if len(match.first_px))
    counts = [len(matches[pair].first_px) for pair in pairs]
    first, second = np.array(pairs, np.intp).reshape(-1, 2).T
    empty = [np.empty((0, 2))]
    return Ties(
        np.repeat(first, counts),
        np.repeat(second, counts),
        np.concatenate([matches[pair].first_px for pair in pairs] + empty),
        np.concatenate([matches[pair].second_px for pair in pairs] + empty),
    )


class _Seen:
    """One decoded frame, full and small; `full` is None where nothing could be decoded."""

    __slots__ = ("_features", "full", "small")

    def __init__(self, full: Grey | None, small: Grey) -> None:
        self.full = full
        self.small = small
        self._features: Features | None = None

    def features(self, full: Grey) -> Features:
        """Found when first asked for: most pairs never need them."""
        if self._features is None:
            self._features = find_features(full, 1200)
        return self._features


def _see(source: FrameSource, file: str, size_px: tuple[int, int]) -> _Seen:
    try:
        full = source.grey(file)
    except CardError:
        return _Seen(None, np.zeros((1, 1), np.uint8))
    if full.shape != (size_px[1], size_px[0]):
        return _Seen(None, np.zeros((1, 1), np.uint8))
    factor = min(1.0, _SMALL_PX / max(size_px))
    small = cv2.resize(full, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return _Seen(full, small.astype(np.uint8, copy=False))


def longer_side_order(world_from_camera: FloatArray) -> list[int]:
    """Frames by columns where there are more of them than rows: few wait for their neighbour."""
    axes = world_from_camera[:, :, 2]
    bearing = np.arctan2(axes[:, 0], axes[:, 2])
    elevation = np.arcsin(np.clip(-axes[:, 1], -1.0, 1.0))
    along = bearing if np.ptp(bearing) >= np.ptp(elevation) else elevation
    across = elevation if along is bearing else bearing
    order: list[int] = np.lexsort((across, np.round(along, 3))).tolist()
    return order


def _has_detail(small: Grey, predicted: PixelMap, size_px: tuple[int, int]) -> bool:
    """Whether the overlap shows anything at all: features are costly to look for."""
    box = overlap_box(predicted, size_px)
    if box is None:
        return False
    scale = small.shape[1] / size_px[0]
    left, top, right, bottom = (int(edge * scale) for edge in box)
    part = small[top : bottom + 1, left : right + 1].astype(np.float32)
    fine = part - cv2.GaussianBlur(part, (0, 0), 3.0)
    return float(fine.std()) > _LEAST_DETAIL


def _agreed(match: PairMatch, lens: LensModel) -> PairMatch:
    if len(match.first_px) < _TIES_AT_LEAST:
        return nothing_matched(match.response)
    _, keep = agreeing(match.first_px, match.second_px, lens, _AGREE_PX)
    if keep.sum() < max(_TIES_AT_LEAST, 0.4 * len(keep)):
        return nothing_matched(match.response)
    return PairMatch(match.first_px[keep], match.second_px[keep], match.response)


def _by_features(
    found: FeatureMatch | None,
    first: Grey,
    second: Grey,
    predicted: PixelMap,
    allowed_px: float,
    lens: LensModel,
) -> PairMatch:
    """Ties from features, where phase correlation found none; they must obey the head."""
    if found is None:
        return nothing_matched()
    away = np.linalg.norm(predicted(found.points_a_px) - found.points_b_px, axis=1)
    if not np.nanmedian(away) < allowed_px * 2.0:
        return nothing_matched()
    return _agreed(_refined(found, first, second), lens)


def _refined(match: FeatureMatch, first: Grey, second: Grey) -> PairMatch:
    """Ties at full size around a homography, and at the features where it does not reach."""
    homography = match.overlap.b_from_a

    def mapped(pixels: FloatArray) -> FloatArray:
        homogeneous = np.c_[pixels, np.ones(len(pixels))] @ homography.T
        depth = np.where(homogeneous[:, 2:] > 1e-9, homogeneous[:, 2:], np.nan)
        return np.asarray(homogeneous[:, :2] / depth, np.float64)

    even = fine_ties(first, second, mapped, _TIES_PER_PAIR)
    pick = np.linspace(0, len(match.points_a_px) - 1, _TIES_PER_PAIR).astype(int)
    pick = np.unique(pick)
    corners = np.round(match.points_a_px[pick])
    seen = match.points_b_px[pick] + (corners - match.points_a_px[pick])
    slopes = _homography_slopes(homography, corners)
    at_features = align_patches(first, second, corners, seen, slopes)
    return PairMatch(
        np.concatenate([even.first_px, at_features.first_px]),
        np.concatenate([even.second_px, at_features.second_px]),
    )


def _homography_slopes(homography: FloatArray, points: FloatArray) -> FloatArray:
    """Derivatives (n, 2, 2) of a homography at points (n, 2)."""
    homogeneous = np.c_[points, np.ones(len(points))] @ homography.T
    mapped = homogeneous[:, :2] / homogeneous[:, 2:]
    slopes: FloatArray = (
        homography[None, :2, :2] - mapped[:, :, None] * homography[None, 2:, :2]
    ) / homogeneous[:, 2:, None]
    return slopes
