"""How far away the harbour is, in every direction, and that it fits what one sees there."""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.rehearse.harbour import HarbourScene


@pytest.fixture(scope="module")
def scene() -> HarbourScene:
    return HarbourScene(7)


def _at(scene: HarbourScene, bearing: float, elevation: float, at_s: float = 0.0) -> float:
    return float(scene.distance_m(np.array(bearing), np.array(elevation), at_s=at_s))


@pytest.mark.parametrize(("elevation", "on_foot_m"), [(-1.0, 401.03), (-3.0, 133.57), (-6.0, 66.6)])
def test_water_is_a_plane_seven_metres_below(
    scene: HarbourScene, elevation: float, on_foot_m: float
) -> None:
    # By a table of cotangents (7 m times 57.290, 19.081, 9.514) along the water, then Pythagoras.
    assert _at(scene, 70.0, elevation) == pytest.approx(np.hypot(7.0, on_foot_m), rel=2e-3)


def test_straight_down_is_the_ground(scene: HarbourScene) -> None:
    assert _at(scene, 0.0, -90.0) == pytest.approx(7.0)


@pytest.mark.parametrize(
    ("what", "bearing", "elevation", "metres"),
    [
        ("sky", -60.0, 11.0, np.inf),
        ("zenith", 0.0, 90.0, np.inf),
        ("the moon by day", 31.35, 8.6, np.inf),
        ("far hills in haze", -28.6, 1.2, 3096.0),
        ("headland", -36.0, 0.3, 590.0),
        ("lighthouse", -39.5, 2.5, 520.0),
        ("church tower", -0.44, 6.6, 346.0),
        ("quay wall", 8.0, -1.45, 200.0),
        ("the sail of Halcyon", -24.6, -0.5, 76.0),
        ("a person on the mole", -6.6, -8.5, 42.6),
        ("the notice board", 9.0, -7.7, 42.9),
    ],
)
def test_things_are_as_far_away_as_they_stand(
    scene: HarbourScene, what: str, bearing: float, elevation: float, metres: float
) -> None:
    assert _at(scene, bearing, elevation) == pytest.approx(metres, rel=0.06), what


def test_depth_and_picture_have_one_skyline(scene: HarbourScene) -> None:
    # The spire against the sky: lead is darker than any cloud.
    scale, width, height = 60.0, 200, 240
    bearing = -1.6 + (np.arange(width) + 0.5) / scale
    elevation = 10.0 - (np.arange(height) + 0.5) / scale
    near = np.isfinite(scene.distance_m(bearing[None, :], elevation[:, None]))
    dark = scene.patch(-1.6, 10.0, scale, width, height)[..., 0] < 0.35
    spire = elevation[:, None] > 7.6
    both, either = (near & dark & spire).sum(), ((near | dark) & spire).sum()
    assert both > 600
    assert both / either > 0.9


def test_a_lattice_and_single_directions_agree(scene: HarbourScene) -> None:
    bearing, elevation = np.linspace(-7.0, 7.0, 48), np.linspace(7.0, -3.0, 36)
    lattice = scene.distance_m(bearing[None, :], elevation[:, None])
    assert lattice.shape == (36, 48)
    rng = np.random.default_rng(5)
    same = [
        _at(scene, bearing[c], elevation[r]) == pytest.approx(lattice[r, c], rel=0.02)
        for r, c in zip(rng.integers(36, size=60), rng.integers(48, size=60), strict=True)
    ]
    # At an edge a finer look may fall on its other side.
    assert np.mean(same) > 0.85


def test_a_full_turn_away_is_as_far(scene: HarbourScene) -> None:
    bearing, elevation = np.linspace(170.0, 190.0, 30), np.full(30, -5.0)
    there = scene.distance_m(bearing - 360.0, elevation)
    np.testing.assert_allclose(scene.distance_m(bearing, elevation), there)


def test_every_direction_has_a_distance(scene: HarbourScene) -> None:
    bearing, elevation = np.meshgrid(np.arange(-180.0, 180.0, 5.0), np.arange(-90.0, 91.0, 5.0))
    metres = scene.distance_m(bearing, elevation, at_s=20.0)
    assert np.all(metres > 0.0)
    assert np.isfinite(metres[elevation < -0.5]).all()
    assert scene.distance_m(np.zeros((0,)), np.zeros((0,))).shape == (0,)
