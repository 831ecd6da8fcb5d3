"""Market day in Saltmere: many more people, carts, boats and gulls than usual, and all on the move.

Everything here has keys of its own, so that what is there on other days stays as it is. Lists of
pairs have the distance in metres first, for those who sort what stands there already.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from .afloat import boat_under_way, gull_on_the_wing, hides, water_spot
from .dice import Dice
from .ground import EYE_M, deg_per_m, elevation_of, haze_at
from .hulls import HULLS, NAMES, Boat, Rig
from .items import Item, Spot, moving
from .motion import to_and_fro
from .palette import WOOD, lit
from .pen import Pen
from .people import Pose, draw_person
from .quay import draw_handcart
from .shore import quay_spot
from .walk import walk_spot

Placed = list[tuple[float, Item]]

#: What one more person among so many brings along: carts, boats, gulls.
_PEOPLE_A_CART, _PEOPLE_A_BOAT, _PEOPLE_A_GULL = 20, 12, 5
#: Of the people: on the quay, between the stalls, on the mole.
_ON_THE_QUAY, _AT_THE_STALLS, _ON_THE_MOLE = 0.60, 0.26, 0.14
#: How many go together, and how many that makes on average.
_COMPANY = (1, 1, 2, 2, 2, 3, 4)
_MEAN_COMPANY = sum(_COMPANY) / len(_COMPANY)
#: The square with the stalls: height above the water by distance, and where it lies.
_SQUARE_M, _SQUARE_HEIGHT_M, _SQUARE_DEG = (237.0, 248.0, 260.0), (2.7, 3.8, 5.0), (-4.4, 2.8)
_QUAY_DEG, _MOLE_DEG, _WATER_DEG = (-26.5, 45.5), (-62.0, 62.0), (-40.0, 43.0)


def on_the_quay(seed: int, crowd: int) -> Placed:
    """People and carts along the quay and between the stalls, far ones first."""
    dice = Dice(seed, 91)
    placed: Placed = []
    for i in range(_companies(_ON_THE_QUAY * crowd)):
        who = dice.child(1, i)
        back = who.between(1.5, 22.0, 1)
        placed += _company(quay_spot(_along_the_quay(who), back), who)
    for i in range(_companies(_AT_THE_STALLS * crowd)):
        who = dice.child(2, i)
        distance = who.between(_SQUARE_M[0], _SQUARE_M[-1], 1)
        placed += _company(_square_spot(who.between(*_SQUARE_DEG, 2), distance), who, 3.0)
    for i in range(crowd // _PEOPLE_A_CART):
        cart = dice.child(3, i)
        spot = quay_spot(_along_the_quay(cart), cart.between(3.0, 20.0, 1))
        draw = partial(_draw_cart, dice=cart)
        placed.append((spot.distance_m, _going(spot, draw, cart, 50.0)))
    placed.sort(key=lambda p: -p[0])
    return placed


def on_the_mole(seed: int, crowd: int) -> Placed:
    """People along the walk before us; in place of the distance stands the elevation."""
    dice = Dice(seed, 92)
    placed: Placed = []
    for i in range(_companies(_ON_THE_MOLE * crowd)):
        who = dice.child(i)
        elevation = who.between(-10.1, -9.0, 1)
        company = _company(walk_spot(who.between(*_MOLE_DEG, 2), elevation), who, 8.0)
        placed += [(elevation, item) for _, item in company]
    return placed


def on_the_roads(seed: int, crowd: int) -> Placed:
    """Boats under way across the harbour."""
    dice = Dice(seed, 93)
    placed: Placed = []
    for i in range(crowd // _PEOPLE_A_BOAT):
        one = dice.child(i)
        distance = one.between(92.0, 174.0, 1)
        rig = one.choice((Rig.ROWING, Rig.FISHING, Rig.SAILING, Rig.SAILING, Rig.ROWING), 2)
        length = one.between(4.0, 5.2, 3) if rig is Rig.ROWING else one.between(5.5, 8.5, 3)
        boat = Boat(length, rig, one.choice(HULLS, 4), one.choice(NAMES, 5), True)
        spot = water_spot(one.between(*_WATER_DEG, 6), distance)
        item = moving(partial(boat_under_way, one, boat, spot, one.chance(0.5, 7)))
        if not hides(item):
            placed.append((distance, item))
    return placed


def in_the_air(seed: int, crowd: int) -> tuple[Item, ...]:
    """Gulls, who know a fish market."""
    dice = Dice(seed, 94)
    items = []
    for i in range(crowd // _PEOPLE_A_GULL):
        gull = dice.child(i)
        distance = gull.between(55.0, 240.0, 1)
        height = gull.between(2.0, 10.0 + 0.1 * distance, 2)
        spot = Spot(
            gull.between(-46.0, 46.0, 3),
            elevation_of(height + EYE_M * 0.2, distance),
            deg_per_m(distance),
            haze_at(distance),
        )
        items.append(moving(partial(gull_on_the_wing, gull, spot)))
    return tuple(items)


def _companies(people: float) -> int:
    return round(people / _MEAN_COMPANY)


def _along_the_quay(dice: Dice) -> float:
    """A bearing on the quay; two in five are near the stalls."""
    if dice.chance(0.4, 61):
        return dice.between(-9.0, 9.0, 62)
    return dice.between(*_QUAY_DEG, 63)


def _square_spot(bearing_deg: float, distance_m: float) -> Spot:
    height_m = float(np.interp(distance_m, _SQUARE_M, _SQUARE_HEIGHT_M))
    return Spot(
        bearing_deg, elevation_of(height_m, distance_m), deg_per_m(distance_m), haze_at(distance_m)
    )


def _company(spot: Spot, dice: Dice, farthest_m: float = 30.0) -> Placed:
    """One to four people who stand together, or go the same way at the same pace."""
    stands = dice.chance(0.3, 11)
    placed: Placed = []
    for k in range(dice.choice(_COMPANY, 12)):
        one = dice.child(13, k)
        beside = spot.moved(0.75 * k + one.between(-0.15, 0.15, 101), one.between(-0.1, 0.1, 102))
        if stands:
            pose = Pose.STAND if k or not dice.chance(0.2, 14) else Pose.WAVE
            draw = partial(draw_person, dice=one, pose=pose)
            # Two and two look at each other.
            item = beside.item(draw, -1.6, -0.5, 1.6, 2.4, flip=_turns(one) != (k % 2 == 1))
        else:
            pose = Pose.CARRY if one.chance(0.25, 103) else Pose.WALK
            draw = partial(draw_person, dice=one, pose=pose)
            item = _going(beside, draw, dice, farthest_m, turned=_turns(one))
        placed.append((spot.distance_m + 0.01 * k, item))
    return placed


def _turns(dice: Dice) -> bool:
    """Whether `draw_person` turns this person about by itself."""
    return dice.chance(0.5, 3)


def _going(
    spot: Spot, draw: Callable[[Pen], None], dice: Dice, farthest_m: float, *, turned: bool = False
) -> Item:
    """Somebody who goes to and fro about a place, and is somewhere on the way at 0 s.

    ``turned`` says that what is drawn looks to the left.
    """
    reach_m = dice.between(farthest_m / 4.0, farthest_m, 21)
    speed_m_s = dice.between(0.7, 1.4, 22)
    before_s = dice.unit(23) * 2.0 * reach_m / speed_m_s

    def path(at_s: float) -> Item:
        way, back = to_and_fro(at_s + before_s, speed_m_s, reach_m)
        here = spot.moved(way - reach_m / 2.0)
        return here.item(draw, -2.6, -0.5, 2.6, 2.6, flip=back != turned)

    return moving(path)


def _draw_cart(pen: Pen, dice: Dice) -> None:
    """A handcart, and who pushes it to the right."""
    draw_handcart(pen, dice.child(31))
    pen.line([(-1.1, 0.62), (-0.98, 0.95)], 0.05, lit(WOOD))
    who = dice.child(32)
    draw_person(pen.moved(-1.36, 0.0, flip=_turns(who)), who, Pose.WALK)
