"""Market day in the built-in scene: more is there, it moves at a walk, and the rest stays."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.rehearse.harbour import HarbourScene
from belvedere.rehearse.harbour.items import Item
from belvedere.rehearse.harbour.layout import after_water, before_water
from belvedere.rehearse.harbour.market_day import in_the_air, on_the_mole, on_the_quay, on_the_roads

SEED, CROWD = 7, 300


@pytest.fixture(scope="module")
def scene() -> HarbourScene:
    return HarbourScene(SEED, CROWD)


def ways(items: list[Item], seconds: float) -> NDArray[np.float64]:
    """How far each went in a time, metres."""
    gone = []
    for item in items:
        now, then = (item.path(t) if item.path else item for t in (50.0, 50.0 + seconds))
        moved_deg = (then.left + then.right - now.left - now.right) / 2.0
        gone.append(abs(np.radians(moved_deg)) * item.distance_m)
    return np.array(gone)


def boxes(items: tuple[Item, ...]) -> list[tuple[float, float, float, float]]:
    return [(item.left, item.bottom, item.right, item.top) for item in items]


def test_what_is_there_on_other_days_stays_where_it_is() -> None:
    for layer in (before_water, after_water):
        usual, crowded = boxes(layer(SEED)), boxes(layer(SEED, CROWD))
        left = iter(crowded)
        assert all(box in left for box in usual)  # in the same order, with others in between
        assert len(crowded) > len(usual)


def test_away_from_the_harbour_a_market_day_changes_nothing(scene: HarbourScene) -> None:
    window = (-104.0, -3.0, 40.0, 200, 160)  # the printed wall, behind our back
    np.testing.assert_array_equal(scene.patch(*window), HarbourScene(SEED).patch(*window))


def test_people_carts_boats_and_gulls_come_in_proportion() -> None:
    people = len(on_the_quay(SEED, CROWD)) - CROWD // 20 + len(on_the_mole(SEED, CROWD))
    # 140 companies of 1 to 4: the mean of their sizes has a standard error of a twentieth.
    assert people == pytest.approx(CROWD, rel=0.15)
    assert len(in_the_air(SEED, CROWD)) == CROWD // 5
    # Some are left out that would hide one of the small things on the water.
    assert 0.6 * CROWD / 12 < len(on_the_roads(SEED, CROWD)) <= CROWD / 12


def test_most_people_walk_and_nobody_runs() -> None:
    # A person walks at 0.7 to 1.4 m/s (common practice, no source); a turn within the second
    # takes some of the way back.
    gone = ways([item for _, item in on_the_quay(SEED, CROWD)], 1.0)
    assert gone.max() <= 1.4 * 1.02
    assert (gone > 0.5).mean() == pytest.approx(0.7, abs=0.15)


def test_boats_make_way_and_stay_in_the_harbour() -> None:
    boats = [item for _, item in on_the_roads(SEED, CROWD)]
    gone = ways(boats, 2.0)
    assert (gone < 2.0 * 2.2 * 1.02).all()
    assert np.median(gone) > 1.6
    for boat in boats:
        assert boat.path is not None
        bearings = [(at.left + at.right) / 2.0 for at in map(boat.path, range(0, 600, 20))]
        assert min(bearings) > -50.0
        assert max(bearings) < 52.0


def test_people_are_as_tall_as_people() -> None:
    # 1.7 m upright at 200 m are 0.487°. A box is as wide as two who walk, and up to 2.6 m high.
    for metres, item in on_the_quay(SEED, CROWD):
        high_m = np.radians(item.top - item.bottom) * metres
        assert 1.7 < high_m < 3.5


def test_a_moment_of_a_market_day_is_the_same_whenever_it_is_asked_for(
    scene: HarbourScene,
) -> None:
    window = (-6.0, 0.5, 60.0, 400, 200)
    first = scene.patch(*window, at_s=20.0)
    later = scene.patch(*window, at_s=26.0)
    # In six seconds most people are where others were; walls and stalls are not.
    changed = (np.abs(later - first).max(axis=2) > 0.1).mean()
    assert 0.03 < changed < 0.6
    np.testing.assert_array_equal(first, HarbourScene(SEED, CROWD).patch(*window, at_s=20.0))


def test_the_crowd_is_nearer_than_the_houses_behind_it(scene: HarbourScene) -> None:
    bearing, elevation = np.arange(-8.0, 8.0, 0.02), np.arange(-1.3, -0.6, 0.02)
    usual, crowded = (
        one.distance_m(bearing[None, :], elevation[:, None], at_s=20.0)
        for one in (HarbourScene(SEED), scene)
    )
    nearer = crowded < usual - 1.0
    assert 0.02 < nearer.mean() < 0.6
    assert (crowded <= usual + 1e-6).mean() > 0.9


def test_less_than_nobody_is_refused() -> None:
    with pytest.raises(ValueError, match="crowd of -1"):
        HarbourScene(1, -1)
