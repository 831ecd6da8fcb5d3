"""Streaks of a known length, drawn at twelve times the size, and what is said of them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.measure import detail_difference, ellipse, motion_px

FINE = 12


def streaked(
    scene: NDArray[np.float32], length_px: float, direction_deg: float
) -> NDArray[np.float32]:
    """The scene seen by a camera that moves evenly while its shutter is open."""
    side = FINE * (int(length_px) + 3) | 1
    line = np.zeros((side, side), dtype=np.float32)
    turn = np.radians(direction_deg)
    along = np.linspace(-0.5, 0.5, 40 * side) * length_px * FINE
    x = np.round(side // 2 + along * np.cos(turn)).astype(int)
    y = np.round(side // 2 + along * np.sin(turn)).astype(int)
    np.add.at(line, (y, x), 1.0)
    # The mean over each pixel of the camera's.
    kernel = cv2.blur(line / line.sum(), (FINE, FINE), borderType=cv2.BORDER_CONSTANT)
    kernel = kernel[side // 2 % FINE :: FINE, side // 2 % FINE :: FINE]
    return np.asarray(cv2.filter2D(scene, cv2.CV_32F, kernel / kernel.sum()), dtype=np.float32)


@pytest.mark.parametrize("length_px", [4.0, 8.0, 12.0])
@pytest.mark.parametrize("direction_deg", [0.0, 20.0, 90.0, 135.0])
def test_a_streak_is_as_long_as_it_was_drawn(length_px: float, direction_deg: float) -> None:
    rng = np.random.default_rng(8)
    # Walls and roofs: edges of every size and direction, whose spectrum falls as 1 / f².
    scene = np.full((900, 900), 120.0, dtype=np.float32)
    for _ in range(2500):
        centre, size = rng.uniform(0, 900, 2), rng.uniform(4, 70, 2)
        box = cv2.boxPoints((tuple(centre), tuple(size), float(rng.uniform(0, 180))))
        cv2.fillPoly(scene, [np.round(box).astype(np.int32)], float(rng.uniform(40, 210)))
    scene = np.asarray(cv2.GaussianBlur(scene, (0, 0), 0.6), dtype=np.float32)
    a = scene + rng.normal(0.0, 0.7, scene.shape).astype(np.float32)
    b = streaked(scene, length_px, direction_deg)
    b += rng.normal(0.0, 0.7, scene.shape).astype(np.float32)
    places = [(y, x) for y in range(40, 820, 64) for x in range(40, 820, 64)]
    patches_a, patches_b = (
        np.stack([picture[y : y + 64, x : x + 64] for y, x in places]) for picture in (a, b)
    )
    noise = np.full((4, 6), 0.5)
    found = detail_difference(patches_a, patches_b, np.eye(2), noise)
    seen = [found.blur_px2[found.evidence[:, sector] > 0.1, sector] for sector in range(4)]
    greatest, least, direction = ellipse(np.array([np.median(values) for values in seen]))
    # An even motion of length L has the variance L² / 12 along its way (its second moment).
    assert motion_px(greatest - max(least, 0.0)) == pytest.approx(length_px, rel=0.15)
    off = (direction - direction_deg + 90.0) % 180.0 - 90.0
    assert abs(off) < 10.0
