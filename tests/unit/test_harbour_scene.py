"""The built-in scene: the same everywhere, at any scale, and seamless."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.rehearse.harbour import FINDS, Find, HarbourScene

Picture = NDArray[np.float32]


@pytest.fixture(scope="module")
def scene() -> HarbourScene:
    return HarbourScene(7)


def coded(patch: Picture) -> Picture:
    """Linear light to sRGB (IEC 61966-2-1), as a viewer would see it."""
    return np.where(
        patch <= 0.0031308, patch * 12.92, 1.055 * np.maximum(patch, 1e-6) ** (1 / 2.4) - 0.055
    ).astype(np.float32)


def test_shape_type_and_range(scene: HarbourScene) -> None:
    patch = scene.patch(-5.0, 3.0, 40.0, 300, 200)
    assert patch.shape == (200, 300, 3)
    assert patch.dtype == np.float32
    assert float(patch.min()) >= 0.0
    assert float(patch.max()) <= 1.0


def test_same_seed_same_picture(scene: HarbourScene) -> None:
    window = (-12.3, 2.1, 120.0, 320, 240)
    again = HarbourScene(7).patch(*window)
    np.testing.assert_array_equal(scene.patch(*window), again)


def test_another_seed_another_picture(scene: HarbourScene) -> None:
    window = (-12.3, 2.1, 60.0, 320, 240)
    other = HarbourScene(8).patch(*window)
    assert float(np.abs(coded(scene.patch(*window)) - coded(other)).mean()) > 0.01


@pytest.mark.parametrize(
    ("left", "top", "scale"),
    [
        (-44.0, 4.0, 90.0),
        (-10.0, 9.5, 150.0),
        (1.7, 1.3, 233.3),
        (8.123, -4.2, 400.0),
        (30.0, 3.0, 150.0),
        (-3.0, -6.5, 150.0),
        (174.0, 2.0, 60.0),
    ],
)
def test_a_window_equals_the_same_window_of_a_bigger_one(
    scene: HarbourScene, left: float, top: float, scale: float
) -> None:
    big = scene.patch(left, top, scale, 900, 640)
    x, y, w, h = 217, 149, 420, 333
    small = scene.patch(left + x / scale, top - y / scale, scale, w, h)
    off = np.abs(coded(big[y : y + h, x : x + w]) - coded(small)).max(axis=2)
    # OpenCV cuts a line at the picture's edge and then rounds its slope: along such a line one
    # pixel in some hundreds falls into the next of 32 steps of coverage.
    assert np.mean(off >= 0.5 / 255) < 1 / 2000
    assert off.max() < 8 / 255


def test_a_full_turn_comes_back(scene: HarbourScene) -> None:
    near = scene.patch(-20.0, 2.0, 30.0, 200, 100)
    around = scene.patch(340.0, 2.0, 30.0, 200, 100)
    assert np.abs(coded(near) - coded(around)).max() < 0.5 / 255


@pytest.mark.parametrize(("left", "top"), [(-20.0, 4.0), (2.0, 2.0), (-38.0, 6.0), (0.0, -2.5)])
def test_half_the_scale_looks_like_the_average_of_four_pixels(
    scene: HarbourScene, left: float, top: float
) -> None:
    fine = scene.patch(left, top, 160.0, 800, 600)
    coarse = scene.patch(left, top, 80.0, 400, 300)
    averaged = cv2.resize(fine, (400, 300), interpolation=cv2.INTER_AREA)
    assert float(np.abs(averaged - coarse).mean()) < 0.03


def test_every_direction_can_be_asked_for(scene: HarbourScene) -> None:
    all_around = scene.patch(-180.0, 90.0, 3.0, 1080, 540)
    assert np.isfinite(all_around).all()


def test_nothing_to_draw_is_an_error(scene: HarbourScene) -> None:
    with pytest.raises(ValueError, match="no pixels"):
        scene.patch(0.0, 0.0, 10.0, 0, 5)


def _fine_detail(patch: Picture) -> float:
    """Standard deviation, in sRGB grey levels 0..255, of what is finer than about 5 px."""
    grey = cv2.cvtColor(coded(patch), cv2.COLOR_RGB2GRAY) * 255.0
    return float((grey - cv2.GaussianBlur(grey, (0, 0), 2.0)).std())


def test_nearly_every_cell_of_the_demo_has_detail_to_match(scene: HarbourScene) -> None:
    whole = scene.patch(-45.0, 11.0, 36.0, 12 * 270, 5 * 158)
    detail = [
        [_fine_detail(whole[158 * r : 158 * (r + 1), 270 * c : 270 * (c + 1)]) for c in range(12)]
        for r in range(5)
    ]
    assert np.mean(np.array(detail[2:]) > 2.0) == 1.0
    assert np.mean(np.array(detail) > 1.0) > 0.6


def test_part_of_the_sky_is_plain(scene: HarbourScene) -> None:
    assert _fine_detail(scene.patch(26.0, 12.0, 100.0, 600, 300)) < 0.15


def test_the_page_about_saltmere_lists_every_find_where_it_is() -> None:
    page = (Path(__file__).parents[2] / "docs" / "saltmere.md").read_text(encoding="utf-8")
    for find in FINDS:
        place = f"| {find.bearing_deg:+.2f}° | {find.elevation_deg:+.2f}° |".replace("-", "−")
        assert f"{place} {find.says} |" in page


@pytest.mark.parametrize("find", FINDS, ids=lambda find: find.says[:24])
def test_there_is_something_to_see_at_every_find(scene: HarbourScene, find: Find) -> None:
    scale = 160.0 / find.width_deg
    half = find.width_deg / 2
    seen = scene.patch(find.bearing_deg - half, find.elevation_deg + half, scale, 160, 160)
    middle = coded(seen)[40:120, 40:120] * 255.0
    assert float(middle.std(axis=(0, 1)).max()) > 6.0
