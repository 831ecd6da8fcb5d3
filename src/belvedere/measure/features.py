"""Which frames overlap, found from the pictures alone: unknown order, no plan.

Features: D. G. Lowe, "Distinctive image features from scale-invariant keypoints", IJCV 60(2),
2004, with the square-rooted descriptors of R. Arandjelović and A. Zisserman, "Three things
everyone should know to improve object retrieval", CVPR 2012. Homography: D. Barath et al.,
"MAGSAC++, a fast, reliable and accurate robust estimator", CVPR 2020, as OpenCV has it. Whether
two frames truly overlap: M. Brown and D. G. Lowe, IJCV 74(1), 2007, section 3.2. Candidates
among many frames: H. Jégou et al., "Aggregating local descriptors into a compact image
representation", CVPR 2010.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import CardError, Progress, Steps
from belvedere.measure.overlap import Overlap
from belvedere.measure.source import FrameSource, Pixels

FloatArray = NDArray[np.float64]
Pair = tuple[int, int]

_FEATURES = 2000
_RATIO = 0.8  # Lowe 2004, section 7.1
_INLIER_PX = 3.0
_ALL_PAIRS_UP_TO = 40
_NEIGHBOURS = 3
_RETRIEVED = 10
_WORDS = 32

# Brown and Lowe 2007: chance that a matched feature is an inlier where the frames do overlap so
# and where they do not, the prior, and the certainty asked for.
_INLIER_IF_TRUE = 0.6
_INLIER_IF_FALSE = 0.1
_PRIOR = 1e-6
_SUPPORT = 0.999


@dataclass(frozen=True, slots=True)
class Features:
    """Features of one frame: `points_px` (n, 2) in full-size pixels, `descriptors` (n, 128).

    `grain_px` is the size of a pixel of the picture they were found in, in full-size pixels.
    """

    width_px: int
    height_px: int
    grain_px: float
    points_px: FloatArray
    descriptors: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class FeatureMatch:
    """An overlap with the matched features that support it, (n, 2) full-size pixels each."""

    overlap: Overlap
    points_a_px: FloatArray
    points_b_px: FloatArray


def find_overlaps(
    files: Sequence[str], source: FrameSource, *, long_side_px: int = 1200
) -> Steps[tuple[Overlap, ...]]:
    """Overlaps among frames of unknown order.

    Every pair is tried among up to 40 frames; among more, the neighbours in the order given
    (pass the shutter's), the frames that look alike, and what the overlaps found so far imply.
    A frame that cannot be decoded takes part in no overlap.

    Parameters
    ----------
    files
        In the order of the shutter, where it is known.
    source
        Gives the pictures.
    long_side_px
        Features are looked for in pictures shrunk to this long side.
    """
    matches = yield from match_features(files, source, long_side_px=long_side_px)
    return tuple(match.overlap for match in matches)


def match_features(
    files: Sequence[str], source: FrameSource, *, long_side_px: int = 1200
) -> Steps[tuple[FeatureMatch, ...]]:
    """As `find_overlaps`, with the matched features that agree with each homography."""
    frames: list[Features | None] = []
    for done, file in enumerate(files, start=1):
        try:
            frames.append(find_features(source.grey(file), long_side_px))
        except CardError:
            frames.append(None)
        yield Progress("features", done, len(files), "frames", file)
    usable = [i for i, frame in enumerate(frames) if frame and len(frame.points_px) >= 8]
    tried: set[Pair] = set()
    found: dict[Pair, FeatureMatch] = {}
    todo = _candidates(usable, frames)
    while todo:
        for done, (i, j) in enumerate(todo, start=1):
            a, b = frames[i], frames[j]
            if a is not None and b is not None:
                match = match_pair(files[i], a, files[j], b)
                if match is not None:
                    found[i, j] = match
            yield Progress("overlaps", done, len(todo), "pairs")
        tried.update(todo)
        todo = sorted(_implied(found, frames) - tried)
    return tuple(found[pair] for pair in sorted(found))


def find_features(grey: Pixels, long_side_px: int) -> Features:
    """SIFT features of an upright picture (height, width), found at `long_side_px`."""
    height, width = grey.shape
    small, scale = shrunk(grey, long_side_px)
    keypoints, descriptors = cv2.SIFT.create(nfeatures=_FEATURES).detectAndCompute(small, None)
    if descriptors is None or len(keypoints) == 0:
        return Features(
            width, height, float(scale.max()), np.empty((0, 2)), np.empty((0, 128), np.float32)
        )
    points = np.array([keypoint.pt for keypoint in keypoints], np.float64)
    rooted = np.sqrt(descriptors / np.maximum(descriptors.sum(axis=1, keepdims=True), 1e-9))
    return Features(
        width,
        height,
        float(scale.max()),
        (points + 0.5) * scale - 0.5,
        rooted.astype(np.float32),
    )


def shrunk(grey: Pixels, long_side_px: int) -> tuple[Pixels, FloatArray]:
    """The picture at `long_side_px` or its own size, and full-size pixels per small one (x, y)."""
    height, width = grey.shape
    factor = min(1.0, long_side_px / max(height, width))
    size = max(1, round(width * factor)), max(1, round(height * factor))
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA) if factor < 1.0 else grey
    return small.astype(np.uint8, copy=False), np.array([width / size[0], height / size[1]])


def match_pair(file_a: str, a: Features, file_b: str, b: Features) -> FeatureMatch | None:
    """The overlap of two frames, or None where the features do not bear one out."""
    index_a, index_b = _putative(a.descriptors, b.descriptors)
    if len(index_a) < 8:
        return None
    points_a, points_b = a.points_px[index_a], b.points_px[index_b]
    homography, mask = cv2.findHomography(
        points_a,
        points_b,
        cv2.USAC_MAGSAC,
        _INLIER_PX * max(a.grain_px, b.grain_px),
        maxIters=5000,
        confidence=0.9999,
    )
    if homography is None or not _believable(np.asarray(homography, np.float64), a, b):
        return None
    inlier = mask.ravel().astype(bool)
    b_from_a: FloatArray = np.asarray(homography / homography[2, 2], np.float64)
    in_overlap = _inside(_apply(b_from_a, points_a), b) & _inside(
        _apply(_inverse(b_from_a), points_b), a
    )
    support = overlap_probability(int(inlier.sum()), int((in_overlap | inlier).sum()))
    if support < _SUPPORT:
        return None
    overlap = Overlap(file_a, file_b, b_from_a, support)
    return FeatureMatch(overlap, points_a[inlier], points_b[inlier])


def overlap_probability(inliers: int, matches: int) -> float:
    """How sure it is that two frames overlap, 0 to 1.

    Bayes' rule on the count of `inliers` among the `matches` that lie in the supposed overlap:
    binomial with one rate where the frames do overlap so, with another where they do not (Brown
    and Lowe 2007, equations 5 to 9).
    """
    log_odds = (
        inliers * np.log(_INLIER_IF_TRUE / _INLIER_IF_FALSE)
        + (matches - inliers) * np.log((1 - _INLIER_IF_TRUE) / (1 - _INLIER_IF_FALSE))
        + np.log(_PRIOR / (1 - _PRIOR))
    )
    return float(1.0 / (1.0 + np.exp(-np.clip(log_odds, -500.0, 500.0))))


def _putative(
    a: NDArray[np.float32], b: NDArray[np.float32]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Indices of features that are each other's nearest and clearly nearer than the second."""
    if len(a) < 2 or len(b) < 2:
        return np.empty(0, np.intp), np.empty(0, np.intp)
    likeness = a @ b.T
    rows = np.arange(len(a))
    best = likeness.argmax(axis=1)
    # along rows of a copy: the same down columns is five times slower
    mutual = np.ascontiguousarray(likeness.T).argmax(axis=1)[best] == rows
    first = likeness[rows, best].copy()
    likeness[rows, best] = -1.0
    second = likeness.max(axis=1)
    # unit vectors: squared distance = 2 - 2 * likeness
    distinct = 1.0 - first < _RATIO**2 * (1.0 - second)
    keep = np.flatnonzero(mutual & distinct)
    return keep, best[keep]


def _believable(homography: FloatArray, a: Features, b: Features) -> bool:
    """Whether a turned camera can have made it: nothing mirrored, folded or blown up."""
    if abs(homography[2, 2]) < 1e-9 or abs(np.linalg.det(homography)) < 1e-12:
        return False
    corners = np.array(
        [[0, 0], [a.width_px, 0], [a.width_px, a.height_px], [0, a.height_px]], np.float64
    )
    homogeneous = np.c_[corners, np.ones(4)] @ (homography / homography[2, 2]).T
    if (homogeneous[:, 2] <= 0.1).any():
        return False
    quad = homogeneous[:, :2] / homogeneous[:, 2:]
    sides = np.roll(quad, -1, axis=0) - quad
    turns = sides[:, 0] * np.roll(sides[:, 1], -1) - sides[:, 1] * np.roll(sides[:, 0], -1)
    diagonals = quad[2] - quad[0], quad[3] - quad[1]
    area = 0.5 * (diagonals[0][0] * diagonals[1][1] - diagonals[0][1] * diagonals[1][0])
    ratio = float(area) / (b.width_px * b.height_px)
    return bool((turns > 0).all() and 0.2 < ratio < 5.0)


def _apply(homography: FloatArray, points: FloatArray) -> FloatArray:
    """Points (n, 2) through a homography; far away where they fall behind it."""
    homogeneous = np.c_[points, np.ones(len(points))] @ homography.T
    depth = np.where(homogeneous[:, 2:] > 1e-9, homogeneous[:, 2:], 1e-9)
    mapped: FloatArray = homogeneous[:, :2] / depth
    return mapped


def _inverse(homography: FloatArray) -> FloatArray:
    return np.asarray(np.linalg.inv(homography), np.float64)


def _inside(points: FloatArray, frame: Features) -> NDArray[np.bool_]:
    size = np.array([frame.width_px, frame.height_px])
    return np.asarray(((points > -0.5) & (points < size - 0.5)).all(axis=1), np.bool_)


def _candidates(usable: Sequence[int], frames: Sequence[Features | None]) -> list[Pair]:
    """Pairs worth trying first."""
    if len(usable) <= _ALL_PAIRS_UP_TO:
        return [(i, j) for n, i in enumerate(usable) for j in usable[n + 1 :]]
    near = {(i, j) for n, i in enumerate(usable) for j in usable[n + 1 : n + 1 + _NEIGHBOURS]}
    return sorted(near | _alike(usable, frames))


def _alike(usable: Sequence[int], frames: Sequence[Features | None]) -> set[Pair]:
    """Each frame with those whose summed word residuals are most like its own."""
    described = [frame.descriptors for frame in (frames[i] for i in usable) if frame is not None]
    sample = np.concatenate([d[:: max(1, len(d) // 100)] for d in described])
    words = _words(sample)
    signatures = np.stack([_signature(d, words) for d in described])
    likeness = signatures @ signatures.T
    np.fill_diagonal(likeness, -np.inf)
    nearest = np.argsort(-likeness, axis=1)[:, :_RETRIEVED]
    return {
        (min(usable[i], usable[j]), max(usable[i], usable[j]))
        for i, row in enumerate(nearest.tolist())
        for j in row
    }


def _words(sample: NDArray[np.float32]) -> NDArray[np.float32]:
    """Typical descriptors by Lloyd's algorithm, begun at evenly spaced samples."""
    words: NDArray[np.float32] = sample[np.linspace(0, len(sample) - 1, _WORDS).astype(int)].copy()
    for _ in range(8):
        nearest = (sample @ words.T - 0.5 * (words**2).sum(axis=1)).argmax(axis=1)
        for word in range(_WORDS):
            members = sample[nearest == word]
            if len(members):
                words[word] = members.mean(axis=0)
    return words


def _signature(descriptors: NDArray[np.float32], words: NDArray[np.float32]) -> FloatArray:
    nearest = (descriptors @ words.T - 0.5 * (words**2).sum(axis=1)).argmax(axis=1)
    residuals = np.zeros(words.shape, np.float64)
    np.add.at(residuals, nearest, descriptors - words[nearest])
    flat = np.sign(residuals) * np.sqrt(np.abs(residuals))
    unit: FloatArray = flat.ravel() / max(float(np.linalg.norm(flat)), 1e-9)
    return unit


def _implied(found: dict[Pair, FeatureMatch], frames: Sequence[Features | None]) -> set[Pair]:
    """Pairs that overlap if the overlaps found so far are chained by two."""
    maps: dict[int, list[tuple[int, FloatArray]]] = {}
    for (i, j), match in found.items():
        maps.setdefault(i, []).append((j, match.overlap.b_from_a))
        maps.setdefault(j, []).append((i, _inverse(match.overlap.b_from_a)))
    pairs: set[Pair] = set()
    for middle, ends in maps.items():
        for n, (i, i_from_middle) in enumerate(ends):
            for j, j_from_middle in ends[n + 1 :]:
                pair = (min(i, j), max(i, j))
                if pair in pairs or middle in pair:
                    continue
                if _share(j_from_middle @ _inverse(i_from_middle), frames[i], frames[j]):
                    pairs.add(pair)
    return pairs


def _share(b_from_a: FloatArray, a: Features | None, b: Features | None) -> bool:
    """Whether at least a twentieth of `a` falls into `b`."""
    if a is None or b is None:
        return False
    steps = (np.arange(10) + 0.5) / 10
    grid = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    points = grid * np.array([a.width_px, a.height_px])
    return bool(_inside(_apply(b_from_a, points), b).mean() >= 0.05)
