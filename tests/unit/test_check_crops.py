"""The same place of two frames: cut out of one picture, so the truth is known to the pixel."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from belvedere.check import by_homography, laid_on, telling_crops
from belvedere.check.crops import Where

WIDTH, HEIGHT = 400, 300


def wide_scene(seed: int = 0) -> NDArray[np.uint8]:
    """Noise at several scales, like leaves, walls and windows."""
    rng = np.random.default_rng(seed)
    picture = np.zeros((700, 1000, 3))
    for size in (10, 40, 160, 500):
        small = rng.normal(0.0, 1.0, (size * 7 // 10, size, 3))
        picture += cv2.resize(small, (1000, 700), interpolation=cv2.INTER_CUBIC)
    return np.clip(128 + 30 * picture, 0, 255).astype(np.uint8)


def moved(dx: float, dy: float) -> Where:
    return by_homography(shift(dx, dy))


def shift(dx: float, dy: float) -> NDArray[np.float64]:
    return np.array([[1.0, 0.0, dx], [0.0, 1.0, dy], [0.0, 0.0, 1.0]])


def cut(scene: NDArray[np.uint8], x: int, y: int) -> NDArray[np.uint8]:
    return scene[y : y + HEIGHT, x : x + WIDTH].copy()


@given(
    st.integers(-280, 280), st.integers(-200, 200), st.integers(-9, 9), st.integers(-9, 9),
)  # fmt: skip
@settings(max_examples=40)
def test_crops_show_the_same_to_the_pixel(dx: int, dy: int, off_x: int, off_y: int) -> None:
    """The second frame is taken dx, dy further on; the mapping that is given is some pixels off."""
    scene = wide_scene()
    mine, other = cut(scene, 300, 200), cut(scene, 300 + dx, 200 + dy)
    crops = telling_crops(mine, other, moved(-dx + off_x, -dy + off_y), (160, 120))
    if crops is None:
        assert min(WIDTH - abs(dx) - 9, HEIGHT - abs(dy) - 9) < 48
        return
    assert crops.aligned
    assert (crops.mine == crops.neighbour).all()
    (x, y), (u, v) = crops.corner, crops.there
    assert (x - u, y - v) == (dx, dy)
    assert (crops.mine == mine[y : y + len(crops.mine), x : x + crops.mine.shape[1]]).all()


@pytest.mark.parametrize("sigma", [1.5, 3.0])
def test_a_soft_frame_is_still_laid_on_its_sharp_neighbour(sigma: float) -> None:
    scene = wide_scene(1)
    soft = cv2.GaussianBlur(cut(scene, 100, 100), (0, 0), sigma).astype(np.uint8)
    crops = telling_crops(soft, cut(scene, 320, 110), moved(-224.0, -6.0), (160, 120))
    assert crops is not None
    step = np.subtract(crops.corner, crops.there)
    assert np.abs(step - [220, 10]).max() <= 1


def test_the_place_is_where_there_is_something_to_see() -> None:
    scene = np.full((700, 1000, 3), 200, dtype=np.uint8)
    scene[330:400, 520:600] = wide_scene(2)[330:400, 520:600]
    crops = telling_crops(cut(scene, 300, 200), cut(scene, 400, 200), moved(-100.0, 0.0), (100, 90))
    assert crops is not None
    x, y = crops.corner
    assert x <= 520 - 300 <= 600 - 300 <= x + 100
    assert y <= 330 - 200 <= 400 - 200 <= y + 90


def test_too_little_in_common_is_not_shown() -> None:
    scene = wide_scene(3)
    far = telling_crops(cut(scene, 0, 0), cut(scene, 370, 0), moved(-370.0, 0.0), (160, 120))
    assert far is None


def test_frames_that_show_the_same_are_laid_on_each_other() -> None:
    scene = wide_scene(4)
    mine, other = cut(scene, 100, 100), cut(scene, 230, 112)
    laid = laid_on(mine, other, shift(-124.0, -9.0))
    assert laid is not None
    points = np.array([[200.0, 100.0], [300.0, 250.0]])
    assert np.abs(laid.where(points) - (points - [130.0, 12.0])).max() < 0.3
    assert len(laid.steady) >= 4
    assert laid_on(mine, wide_scene(5)[:HEIGHT, :WIDTH], shift(-124.0, -9.0)) is None


def test_only_places_that_hold_still_are_chosen_from() -> None:
    scene = wide_scene(6)
    mine, other = cut(scene, 300, 200), cut(scene, 360, 200)
    steady = np.array([[150.0, 150.0]])
    crops = telling_crops(mine, other, moved(-60.0, 0.0), (100, 90), steady)
    assert crops is not None
    assert np.abs(np.add(crops.corner, (50, 45)) - steady[0]).max() <= 1
