"""Matching small pictures at any displacement."""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.measure import Matching, prepare
from check_synthetic import texture

SCENE = texture(11, 400, 500)


def cut(x: int, y: int) -> np.ndarray:
    return SCENE[y : y + 144, x : x + 192]


def ratio(pair: Matching, dx: float, dy: float, spread: float) -> float:
    return float(pair.ratios(np.array([[dx, dy]]), np.array([spread]))[0])


@pytest.mark.parametrize(
    ("dx", "dy"), [(0, 0), (-134, 0), (134, 3), (2, -101), (-130, -95), (57, -31)]
)
def test_finds_the_displacement(dx: int, dy: int) -> None:
    """The truth is how the two pictures were cut."""
    found = Matching(prepare(cut(150, 120)), prepare(cut(150 - dx, 120 - dy))).best()
    assert (found.dx_px, found.dy_px) == pytest.approx((dx, dy), abs=0.5)
    assert found.support > 15.0


def test_brightness_does_not_matter() -> None:
    other = (cut(20, 100).astype(float) * 0.45 + 60.0).astype(np.uint8)
    found = Matching(prepare(cut(150, 100)), prepare(other)).best()
    assert (found.dx_px, found.dy_px) == pytest.approx((130, 0), abs=0.5)


def test_unrelated_pictures_support_nothing() -> None:
    """At most 1 of 40 unrelated pairs may look like a match, by chance of the seeds here."""
    pairs = [
        Matching(prepare(texture(s, 144, 192)), prepare(texture(s + 500, 144, 192)))
        for s in range(40)
    ]
    assert sum(pair.best().support > 12.0 for pair in pairs) <= 1
    ratios = [ratio(pair, -134.0, 0.0, 8.0) for pair in pairs]
    assert np.mean(ratios) < -1.0


def test_right_move_is_told_from_wrong_ones() -> None:
    pair = Matching(prepare(cut(150, 120)), prepare(cut(284, 120)))
    assert ratio(pair, -134.0, 0.0, 8.0) > 10.0
    assert ratio(pair, 0.0, 0.0, 3.0) < -1.0


def test_plain_pictures_say_nothing() -> None:
    rng = np.random.default_rng(2)
    plain = [np.clip(rng.normal(180, 0.4, (144, 192)), 0, 255).astype(np.uint8) for _ in range(2)]
    pair = Matching(prepare(plain[0]), prepare(plain[1]))
    for dx in (0.0, -134.0):
        assert abs(ratio(pair, dx, 0.0, 8.0)) < 1.0


def test_lone_horizon_does_not_fix_a_frame_along_itself() -> None:
    rng = np.random.default_rng(3)
    sea = []
    for _ in range(2):
        picture = np.full((144, 192), 190.0)
        picture[80:] = 90.0
        sea.append(np.clip(picture + rng.normal(0, 0.5, picture.shape), 0, 255).astype(np.uint8))
    pair = Matching(prepare(sea[0]), prepare(sea[1]))
    along = [ratio(pair, dx, 0.0, 6.0) for dx in (0.0, -60.0, -134.0)]
    assert max(along) - min(along) < 3.0


def test_filler_below_a_torn_picture_is_not_matched() -> None:
    torn = cut(150, 100).copy()
    torn[60:] = 128
    other = cut(20, 100).copy()
    other[60:] = 128
    found = Matching(prepare(torn, 56), prepare(other, 56)).best()
    assert (found.dx_px, found.dy_px) == pytest.approx((130, 0), abs=0.5)
