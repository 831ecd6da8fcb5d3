"""What floats and what flies: ferry, moored boats, boats in the roads, buoys, gulls."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from .animals import draw_flying_gull, draw_seal
from .boats import draw_boat
from .dice import Dice
from .gear import draw_buoy
from .ground import EYE_M, deg_per_m, elevation_of, haze_at
from .hulls import HULLS, NAMES, Boat, Rig
from .items import Item, Spot, moving
from .motion import swing, to_and_fro
from .shipyard import draw_ferry

_PORTRAITS = ("HALCYON", "TWO BROTHERS", "SEA PINK", "PATIENCE", "FIRST LIGHT", "LIMPET")
_OTHERS = tuple(name for name in NAMES if name not in _PORTRAITS)


_UNDER_WAY = 0.35  # of the manned boats that could
_ROADS_DEG = (-42.0, 45.0)  # where there is water enough
_FERRY_M_S, _FERRY_REACH_M = 4.5, 400.0

# Small things on the water that no boat may hide: bearing, elevation.
_CLEAR = ((12.3, -2.62), (33.0, -3.0), (3.4, -5.95), (-43.6, -0.8))


def water_spot(bearing: float, distance_m: float) -> Spot:
    """A place on the water."""
    return Spot(bearing, elevation_of(0.0, distance_m), deg_per_m(distance_m), haze_at(distance_m))


def boat_item(dice: Dice, boat: Boat, bearing: float, distance: float, *, bow_left: bool) -> Item:
    """A boat afloat; lettering stays readable when the bow points left."""
    spot = water_spot(bearing, distance)
    if boat.rig is not Rig.ROWING and boat.manned and dice.chance(_UNDER_WAY, 101):
        return moving(partial(boat_under_way, dice, boat, spot, bow_left))
    return moving(partial(_boat_at_rest, dice, boat, spot, bow_left))


def _boat_at_rest(dice: Dice, boat: Boat, spot: Spot, bow_left: bool, at_s: float) -> Item:
    """A moored boat: it heaves, and it swings on its line."""
    heave = 0.05 * swing(at_s, dice.between(2.6, 4.6, 102), dice.unit(103))
    sway = 0.35 * swing(at_s, dice.between(24.0, 60.0, 104), dice.unit(105))
    return _boat(dice, boat, spot.moved(sway, heave), bow_left)


def boat_under_way(dice: Dice, boat: Boat, spot: Spot, bow_left: bool, at_s: float) -> Item:
    """A boat that makes way across the harbour, goes about before its end, and comes back."""
    ahead = -1.0 if bow_left else 1.0
    end = _ROADS_DEG[0] if bow_left else _ROADS_DEG[1]
    reach = max(6.0, (end - spot.bearing_deg) * ahead / spot.deg_per_m)
    way, back = to_and_fro(at_s, dice.between(0.8, 2.2, 106), reach)
    heave = 0.06 * swing(at_s, dice.between(2.2, 3.8, 102), dice.unit(103))
    return _boat(dice, boat, spot.moved(ahead * way, heave), bow_left != back)


def _boat(dice: Dice, boat: Boat, spot: Spot, bow_left: bool) -> Item:
    n = boat.length
    return spot.item(
        partial(draw_boat, dice=dice, boat=boat, bow_left=bow_left),
        -0.62 * n, -0.95 * n, 0.62 * n, 1.45 * n,
    )  # fmt: skip


def ferry(seed: int) -> tuple[Item, ...]:
    """The ferry rounds the headland, out to sea and back."""

    def path(at_s: float) -> Item:
        way, back = to_and_fro(at_s, _FERRY_M_S, _FERRY_REACH_M)
        return (
            water_spot(-34.2, 590)
            .moved(-way)
            .item(partial(draw_ferry, dice=Dice(seed, 31)), -22, -8, 24, 18, flip=back)
        )

    return (moving(path),)


def boats_on_the_roads(seed: int, more: Sequence[tuple[float, Item]] = ()) -> tuple[Item, ...]:
    """Along the quay and out to the middle of the harbour, far to near.

    ``more`` floats there as well, each with its distance in metres.
    """
    dice = Dice(seed, 32)
    placed: list[tuple[float, Item]] = [*more]
    x, i = -27.0, 0
    while x < 46.0:
        d = dice.between(176, 190, 1, i)
        length = dice.between(5.5, 10.5, 2, i)
        rig = dice.choice((Rig.FISHING, Rig.FISHING, Rig.SLOOP, Rig.ROWING), 3, i)
        boat = Boat(
            length, rig, dice.choice(HULLS, 4, i), _OTHERS[i % len(_OTHERS)], dice.chance(0.4, 5, i)
        )
        placed.append((d, boat_item(dice.child(i), boat, x, d, bow_left=dice.chance(0.5, 6, i))))
        x += length * deg_per_m(d) * dice.between(0.9, 1.9, 7, i)
        i += 1
    for j in range(26):
        d = dice.between(88, 165, 11, j)
        b = -44 + 89 * (j + dice.unit(12, j)) / 26
        if dice.chance(0.3, 13, j):
            placed.append(
                (d, water_spot(b, d).item(partial(draw_buoy, dice=dice.child(20, j)), -1, -1, 1, 1))
            )
            continue
        rig = dice.choice((Rig.FISHING, Rig.SLOOP, Rig.SLOOP, Rig.ROWING), 14, j)
        boat = Boat(
            dice.between(5.0, 8.5, 15, j),
            rig,
            dice.choice(HULLS, 16, j),
            _OTHERS[-1 - j % len(_OTHERS)],
            dice.chance(0.5, 17, j),
        )
        placed.append(
            (d, boat_item(dice.child(21, j), boat, b, d, bow_left=dice.chance(0.5, 18, j)))
        )
    placed.sort(key=lambda p: -p[0])
    return tuple(item for _, item in placed if not hides(item))


def hides(item: Item) -> bool:
    """Whether the hull or its reflection lies over one of the small things."""
    reach = 0.34 * (item.top - item.bottom)
    return any(
        item.left - 0.3 < b < item.right + 0.3 and item.bottom < e < item.bottom + 1.8 * reach
        for b, e in _CLEAR
    )


def boats_near(seed: int) -> tuple[Item, ...]:
    """The portraits: boats close to the mole; a seal; gulls on the wing."""
    dice = Dice(seed, 33)
    fleet = (
        (-23.5, 76.0, Boat(8.6, Rig.SAILING, HULLS[0], "HALCYON", True), False),
        (27.0, 80.0, Boat(10.0, Rig.FISHING, HULLS[2], "TWO BROTHERS", True), True),
        (-38.5, 84.0, Boat(7.4, Rig.FISHING, HULLS[5], "SEA PINK", True), False),
        (15.8, 72.0, Boat(7.2, Rig.SLOOP, HULLS[1], "PATIENCE", True), True),
        (40.5, 70.0, Boat(6.8, Rig.SAILING, HULLS[8], "FIRST LIGHT", True), True),
        (-8.0, 63.0, Boat(4.6, Rig.ROWING, HULLS[4], "LIMPET", True), False),
    )
    items = [
        boat_item(dice.child(i), boat, bearing, distance, bow_left=bow_left)
        for i, (bearing, distance, boat, bow_left) in enumerate(fleet)
    ]
    items.append(water_spot(3.4, 66.0).item(partial(draw_seal, dice=dice), -2, -0.4, 2, 0.6))
    for i in range(30):
        d = dice.between(60, 260, 1, i)
        height = dice.between(8, 14 + 0.1 * d, 2, i)
        spot = Spot(
            dice.between(-46, 46, 3, i),
            elevation_of(height + EYE_M * 0.2, d),
            deg_per_m(d),
            haze_at(d),
        )
        items.append(moving(partial(gull_on_the_wing, dice.child(40, i), spot)))
    return tuple(items)


def gull_on_the_wing(dice: Dice, spot: Spot, at_s: float) -> Item:
    """A gull that circles, some 20 m to each side, at about 9 m/s."""
    period, phase = dice.between(11.0, 17.0, 101), dice.unit(102)
    radius = 9.0 * period / (2.0 * np.pi)
    up = 1.5 * swing(at_s, dice.between(7.0, 13.0, 103), dice.unit(104))
    here = spot.moved(radius * swing(at_s, period, phase), up)
    return here.item(partial(draw_flying_gull, dice=dice), -1, -1, 1, 1)
