"""What moves in the harbour moves as fast as it should, and only with the clock."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.rehearse.harbour import HarbourScene


@pytest.fixture(scope="module")
def scene() -> HarbourScene:
    return HarbourScene(7)


def _middle_of_deg(scene: HarbourScene, low_m: float, high_m: float, at_s: float) -> float:
    """Mean bearing of what is between two distances, from -62° to -25° above the water."""
    bearing, elevation = np.arange(-62.0, -25.0, 0.05), np.arange(-0.4, 1.2, 0.05)
    metres = scene.distance_m(bearing[None, :], elevation[:, None], at_s=at_s)
    hit = (metres > low_m) & (metres < high_m)
    assert hit.sum() > 100
    return float((bearing[None, :] * hit).sum() / hit.sum())


def test_the_ferry_makes_four_and_a_half_metres_a_second(scene: HarbourScene) -> None:
    # 45 m in 10 s at 590 m are 4.37° on the sky.
    moved = _middle_of_deg(scene, 585.0, 595.0, 10.0) - _middle_of_deg(scene, 585.0, 595.0, 0.0)
    assert moved == pytest.approx(-np.degrees(45.0 / 590.0), abs=0.3)


def test_clouds_go_with_the_wind(scene: HarbourScene) -> None:
    # 8 m/s at 10 km in 30 s: 1.375°. The hole in the clouds and the haze stay.
    window = (-100.0, 11.5, 12.0, 512, 60)
    before, after = (scene.patch(*window, at_s=t)[..., 0].astype(np.float64) for t in (0.0, 30.0))
    (right, down), share = cv2.phaseCorrelate(before, after, cv2.createHanningWindow((512, 60), 6))
    assert right / 12.0 == pytest.approx(np.degrees(240.0 / 10_000.0), rel=0.1)
    assert abs(down) < 1.0
    assert share > 0.3


def _ripples(scene: HarbourScene, at_s: float) -> NDArray[np.float64]:
    return scene.patch(100.0, -3.5, 60.0, 700, 180, at_s=at_s).mean(axis=2).astype(np.float64)


def test_ripples_change_within_seconds_and_stay_as_rough(scene: HarbourScene) -> None:
    # A wave of 1 m turns once in 0.8 s (deep water); nothing of it is known after some seconds.
    now, soon, later = (_ripples(scene, t) for t in (0.0, 0.04, 7.0))
    assert np.corrcoef(now.ravel(), soon.ravel())[0, 1] > 0.9
    detail = [p - cv2.GaussianBlur(p, (0, 0), 6.0) for p in (now, later)]
    assert abs(np.corrcoef(detail[0].ravel(), detail[1].ravel())[0, 1]) < 0.2
    assert detail[1].std() == pytest.approx(detail[0].std(), rel=0.25)


def test_houses_stand_still(scene: HarbourScene) -> None:
    window = (12.0, 4.2, 60.0, 120, 120)
    np.testing.assert_allclose(scene.patch(*window), scene.patch(*window, at_s=412.0), atol=1e-6)


def test_a_moment_is_the_same_whenever_it_is_asked_for(scene: HarbourScene) -> None:
    window = (-40.0, 4.0, 30.0, 900, 400)
    first = scene.patch(*window, at_s=33.3)
    assert np.abs(first - scene.patch(*window)).max() > 0.1
    np.testing.assert_array_equal(first, HarbourScene(7).patch(*window, at_s=33.3))


@pytest.mark.parametrize(("left", "top"), [(-30.0, 9.0), (-20.0, 0.5), (20.0, -2.0), (170.0, 8.0)])
def test_a_moment_has_no_seams(scene: HarbourScene, left: float, top: float) -> None:
    big = scene.patch(left, top, 90.0, 700, 400, at_s=95.0)
    small = scene.patch(left + 150 / 90.0, top - 70 / 90.0, 90.0, 300, 200, at_s=95.0)
    off = np.abs(big[70:270, 150:450] - small).max(axis=2)
    # As at rest: a line cut at the edge may differ by a step of coverage.
    assert np.mean(off >= 1.0 / 255) < 1 / 2000
