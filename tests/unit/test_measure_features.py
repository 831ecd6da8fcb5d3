"""Overlaps from the pictures alone."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binom

from belvedere.foundation import CardError, finish
from belvedere.measure import Overlap, find_overlaps
from belvedere.measure.features import overlap_probability

Grey = NDArray[np.uint8]
FloatArray = NDArray[np.float64]


def scene(width: int, height: int, seed: int) -> Grey:
    """Blots of all sizes."""
    random = np.random.default_rng(seed)
    total = np.zeros((height, width), np.float32)
    for octave in range(2, 8):
        size = (max(2, width >> octave), max(2, height >> octave))
        blots = random.normal(size=size[::-1]).astype(np.float32)
        total += cv2.resize(blots, (width, height), interpolation=cv2.INTER_CUBIC)
    levelled = (total - total.min()) / np.ptp(total) * 255
    return levelled.astype(np.uint8)


class Pictures:
    """Pictures in memory as a FrameSource; a missing one cannot be decoded."""

    def __init__(self, pictures: dict[str, Grey]) -> None:
        self.pictures = pictures

    def grey(self, file: str, shrink: int = 1) -> Grey:
        if file not in self.pictures:
            raise CardError(f"{file} is not a picture that can be decoded.")
        return self.pictures[file][::shrink, ::shrink]

    def colour(self, file: str, shrink: int = 1) -> Grey:
        return np.repeat(self.grey(file, shrink)[:, :, None], 3, axis=2)


def mapped(overlap: Overlap, points: FloatArray) -> FloatArray:
    seen = np.c_[points, np.ones(len(points))] @ overlap.b_from_a.T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def test_probability_is_bayes_rule_with_scipys_binomials() -> None:
    """scipy.stats.binom; the rates and the prior are those of the paper's section 3.2."""
    for inliers, matches in ((5, 5), (9, 14), (12, 60), (40, 70), (30, 200)):
        true = binom.pmf(inliers, matches, 0.6) * 1e-6
        false = binom.pmf(inliers, matches, 0.1) * (1 - 1e-6)
        assert overlap_probability(inliers, matches) == pytest.approx(true / (true + false))


def test_known_mappings_are_found_and_strangers_are_not() -> None:
    whole = scene(1500, 700, 1)
    turn = cv2.getRotationMatrix2D((300.0, 250.0), 7.0, 1.04)
    turned = cv2.warpAffine(whole[100:640, 500:1140], turn, (640, 540), flags=cv2.INTER_CUBIC)
    pictures = {
        "a.jpg": whole[100:640, 100:740],
        "b.jpg": turned.astype(np.uint8),
        "stranger.jpg": scene(640, 540, 9),
    }
    (found,) = finish(
        find_overlaps(["a.jpg", "gone.jpg", "b.jpg", "stranger.jpg"], Pictures(pictures))
    )
    assert (found.file_a, found.file_b) == ("a.jpg", "b.jpg")
    assert found.support > 0.999
    points = np.array([[450.0, 100.0], [600.0, 300.0], [500.0, 500.0]])
    expected = np.c_[points - [400.0, 0.0], np.ones(3)] @ turn.T
    assert mapped(found, points) == pytest.approx(expected, abs=1.0)


def test_a_large_picture_is_searched_small_and_answered_in_its_own_pixels() -> None:
    whole = scene(2600, 1200, 2)
    pictures = {"a.jpg": whole[:, :1600], "b.jpg": whole[:, 1000:]}
    (found,) = finish(find_overlaps(list(pictures), Pictures(pictures), long_side_px=600))
    points = np.array([[1100.0, 200.0], [1500.0, 900.0]])
    assert mapped(found, points) == pytest.approx(points - [1000.0, 0.0], abs=1.0)


@pytest.mark.parametrize("count", [45])
def test_among_many_frames_all_neighbours_are_found(count: int) -> None:
    """45 frames in 5 shuffled rows of 9: more than are tried each with each."""
    columns, rows = 9, count // 9
    whole = scene(columns * 140 + 100, rows * 140 + 100, 3)
    order = np.random.default_rng(0).permutation(count)
    cell = {f"{n:02d}.jpg": divmod(int(k), columns) for n, k in enumerate(order)}
    pictures = {
        file: whole[140 * r : 140 * r + 240, 140 * c : 140 * c + 240]
        for file, (r, c) in cell.items()
    }
    found = finish(find_overlaps(sorted(pictures), Pictures(pictures)))
    pairs = {frozenset((o.file_a, o.file_b)) for o in found}
    for o in found:
        (r1, c1), (r2, c2) = cell[o.file_a], cell[o.file_b]
        assert mapped(o, np.array([[120.0, 120.0]])) == pytest.approx(
            np.array([[120.0 + 140 * (c1 - c2), 120.0 + 140 * (r1 - r2)]]), abs=1.5
        )
    neighbours = [
        frozenset((a, b))
        for a, (r1, c1) in cell.items()
        for b, (r2, c2) in cell.items()
        if (r2 - r1, c2 - c1) in ((0, 1), (1, 0))
    ]
    missed = [pair for pair in neighbours if pair not in pairs]
    assert len(missed) <= 0.05 * len(neighbours)
