"""The water's edge, left to right: headland and light, quay, market, boatyard."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from .animals import draw_cat, draw_dog, draw_goat, draw_gull
from .dice import Dice
from .ground import deg_per_m, elevation_of, haze_at
from .hills import headland_hill, wooded_hill
from .items import Item, Spot
from .landmarks import draw_harbour_office, draw_lighthouse
from .palette import darker, lit, rgb
from .pen import Pen
from .people import (
    Pose,
    draw_child_with_balloon,
    draw_person,
    draw_someone,
    is_walking,
    strolling,
)
from .quay import (
    APRON_M,
    WALL_M,
    draw_bench,
    draw_bollard,
    draw_gear,
    draw_lamp_post,
    draw_notice_pillar,
    draw_quay,
    draw_stall,
)
from .rocks import draw_rocky_shore
from .shipyard import draw_crane, draw_shed, draw_slip
from .trees import draw_bush, draw_palm, draw_pine, draw_tree

QUAY_M = 200.0
QUAY_LEFT, QUAY_RIGHT = -28.0, 47.0
#: Beyond this, people are on the square and no longer on the quay.
_SQUARE_M = 230.0
_GOODS = ("FISH", "LEMONS", "FLOWERS", "APPLES", "BREAD", "CHEESE", "POTS", "HONEY")


def quay_spot(bearing: float, back_m: float = 0.0) -> Spot:
    """A place on the quay, so many metres behind its edge (0 … 32)."""
    d = QUAY_M + back_m
    return Spot(bearing, elevation_of(2.2 + 0.006 * back_m, d), deg_per_m(d), haze_at(d))


def headland(seed: int) -> tuple[Item, ...]:
    """The light and what grazes around it."""
    dice = Dice(seed, 21)
    items: list[Item] = []
    scrub: list[Item] = []
    for i in range(170):
        x = -45.4 + 16.6 * (i + dice.unit(1, i)) / 170
        crest = float(headland_hill(np.array([x]))[0])
        level = dice.unit(2, i)
        spot = Spot(x, -0.5 + (crest + 0.45) * level, 0.1, haze_at(700 + 260 * level))
        h = dice.between(1.2, 3.4, 3, i) if dice.chance(0.86, 4, i) else dice.between(4, 8, 5, i)
        if h > 4:
            scrub.append(
                spot.item(partial(draw_pine, dice=dice.child(i), height=h), -h, -1, h, 1.4 * h)
            )
        else:
            scrub.append(
                spot.item(partial(draw_bush, dice=dice.child(i), width=h * 1.3), -h, -1, h, 1.4 * h)
            )
    scrub.sort(key=lambda item: -item.bottom)
    items += scrub
    for i in range(5):
        items.append(
            Spot(-46.2 + 3.3 * i, -0.66, 0.1, haze_at(560)).item(
                partial(draw_rocky_shore, dice=dice.child(90 + i), length=33.0), -2, -3, 36, 5
            )
        )
    items.append(
        Spot(-39.5, 1.28, 0.11, haze_at(520)).item(
            partial(draw_lighthouse, dice=Dice(4)), -4, -3, 18, 28
        )
    )
    for i in range(6):
        spot = Spot(
            dice.between(-38.6, -36.8, 5, i), dice.between(0.1, 0.75, 6, i), 0.105, haze_at(540)
        )
        items.append(spot.item(partial(draw_goat, dice=dice.child(50 + i)), -1, -0.2, 1, 1.2))
    return tuple(items)


def harbour_side(seed: int, more: Sequence[tuple[float, Item]] = ()) -> tuple[Item, ...]:
    """Quay, market square, harbour office, boatyard.

    ``more`` is about there as well, each with its distance in metres.
    """
    dice = Dice(seed, 22)
    items: list[Item] = []
    k = deg_per_m(QUAY_M)
    items += _right_bank(seed)
    office = quay_spot(-27.4, 20)
    step = 4.0
    for i, x in enumerate(np.arange(QUAY_LEFT, QUAY_RIGHT - 0.01, step)):
        x1 = min(x + step, QUAY_RIGHT)
        length = (x1 - x) / k
        items.append(
            quay_spot(float(x)).item(
                partial(draw_quay, dice=Dice(seed, 23, i), length=length),
                -0.5,
                -WALL_M - 0.3,
                length + 0.5,
                APRON_M + 0.4,
            )
        )
    items.append(office.item(partial(draw_harbour_office, dice=Dice(5)), -2, -2, 10, 28))
    items += _market(dice.child(1), [one for one in more if one[0] > _SQUARE_M])
    items += _promenade(dice.child(2), [one for one in more if one[0] <= _SQUARE_M])
    return tuple(items)


def _market(dice: Dice, more: Sequence[tuple[float, Item]]) -> list[Item]:
    """The square between the houses: stalls in three rows, people, a pillar, trees."""
    items: list[Item] = []
    floor = quay_spot(-5.3, 30)
    items.append(floor.item(_square, -1, -1, 40, 6))
    behind = np.inf
    for row, (distance, height) in enumerate(((258.0, 4.9), (248.0, 3.8), (239.0, 2.9))):
        items += [item for metres, item in more if distance <= metres < behind]
        behind = distance
        for i in range(5):
            x = -4.7 + 1.72 * i + 0.4 * (row % 2)
            spot = Spot(x, elevation_of(height, distance), deg_per_m(distance), haze_at(distance))
            goods = _GOODS[(i + 3 * row) % len(_GOODS)]
            if (row + i) % 3 != 2:
                items.append(
                    spot.item(
                        partial(draw_stall, dice=dice.child(row, i), goods=goods), -1, -0.2, 5, 3
                    )
                )
            for j in range(3):
                at = Spot(
                    x + dice.between(0.0, 1.6, 1, row, i, j),
                    spot.elevation_deg - 0.05 * dice.unit(2, row, i, j),
                    spot.deg_per_m,
                    spot.haze,
                )
                items.append(someone(at, dice.child(9, row, i, j)))
    items += [item for metres, item in more if metres < behind]
    for x in (-5.0, 3.3):
        spot = Spot(x, elevation_of(2.8, 236), deg_per_m(236), haze_at(236))
        items.append(
            spot.item(partial(draw_tree, dice=dice.child(int(x * 10)), height=6.0), -6, -1, 6, 8)
        )
    items.append(
        quay_spot(-1.2, 26).item(
            partial(draw_child_with_balloon, dice=dice.child(4)), -1, -0.2, 2, 3
        )
    )
    return items


def someone(spot: Spot, dice: Dice) -> Item:
    """A passer-by who walks a few metres, or stands."""
    draw = partial(draw_someone, dice=dice)
    if not is_walking(dice):
        return spot.item(draw, -3.2, -0.5, 3.2, 2.8)
    speed, reach = dice.between(0.7, 1.4, 101), dice.between(2.0, 7.0, 102)
    return strolling(spot, draw, (3.2, 0.5), speed, reach)


def _square(pen: Pen) -> None:
    ground = lit(rgb(0xBFB095), 0.95)
    pen.fill([(0, -0.4), (36.5, -0.4), (34, 3.4), (1.5, 3.4)], ground, grain=0.2)
    for i in range(9):
        y = 3.4 * (1 - 0.82**i) * 1.2
        pen.line([(0, y), (36, y)], 0.04, darker(ground, 0.75), 0.6)
    for i in range(24):
        x = 36.0 * i / 24
        pen.line([(x, -0.4), (18 + (x - 18) * 0.9, 3.4)], 0.04, darker(ground, 0.75), 0.5)


def _promenade(dice: Dice, more: Sequence[tuple[float, Item]]) -> list[Item]:
    """Lamps, bollards, benches, gear and strollers along the quay, far ones first."""
    placed = [(metres - QUAY_M, item) for metres, item in more]

    def put(x: float, back: float, draw: Callable[[Pen], None], size: float) -> None:
        placed.append((back, quay_spot(x, back).item(draw, -size, -0.4, size + 1, size * 1.2)))

    for i, x in enumerate(np.arange(-26.0, 46.0, 3.6)):
        put(float(x), 14, draw_lamp_post, 4)
        put(float(x) + 1.7, 1.2, draw_bollard, 1.5)
        if i % 3 == 1:
            put(float(x) + 1.1, 17, draw_bench, 3)
        if i % 4 == 2 and x < 26:
            put(float(x) + 0.6, 18, partial(draw_palm, dice=dice.child(70 + i), height=7.0), 7)
    for i in range(62):
        x = dice.between(-27.0, 46.0, 1, i)
        back = dice.between(2.0, 22.0, 2, i)
        kind = dice.unit(3, i)
        child = dice.child(4, i)
        if kind < 0.34:
            put(x, back, partial(draw_gear, dice=child), 3.5)
        elif kind < 0.40:
            put(x, back, partial(draw_cat, dice=child), 1)
        elif kind < 0.45:
            put(x, back, partial(draw_dog, dice=child), 1)
        elif kind < 0.52:
            put(x, 0.6, partial(draw_gull, dice=child), 1)
        else:
            placed.append((back, someone(quay_spot(x, back), child)))
            if kind > 0.8:
                friend = someone(quay_spot(x + 0.2, back - 0.1), child.child(1))
                placed.append((back - 0.1, friend))
    put(2.4, 2.6, partial(draw_notice_pillar, dice=dice.child(8)), 3.5)
    for i, x in enumerate((-20.3, 10.2, 24.6)):
        put(x, 0.4, partial(draw_person, dice=dice.child(5, i), pose=Pose.SIT), 2.2)
    for i, x in enumerate((-15.6, 17.5)):
        put(x, 0.6, partial(draw_person, dice=dice.child(6, i), pose=Pose.FISH), 3.5)
    placed.sort(key=lambda p: -p[0])
    return [item for _, item in placed]


def _right_bank(seed: int) -> list[Item]:
    """The wood behind the yard, the cranes, the shed and the slip."""
    dice = Dice(seed, 24)
    items: list[Item] = []
    for i in range(110):
        x = 24.0 + 28 * (i + dice.unit(1, i)) / 110
        level = dice.unit(2, i) ** 0.8
        d = 255 + 80 * level
        crest = float(wooded_hill(np.array([x]))[0])
        spot = Spot(x, -1.0 + (crest + 0.85) * level, deg_per_m(d), haze_at(d))
        h = dice.between(6, 11, 3, i)
        draw = draw_pine if dice.chance(0.3, 4, i) else draw_tree
        items.append(spot.item(partial(draw, dice=dice.child(i), height=h), -h, -1, h, 1.4 * h))
    items.sort(key=lambda item: -item.bottom)
    items.append(
        quay_spot(36.2, 40).item(
            partial(draw_crane, dice=Dice(6), height=22.0, reach=17.0), -8, -1, 20, 28
        )
    )
    items.append(quay_spot(26.0, 30).item(partial(draw_shed, dice=dice.child(7)), -1, -2, 44, 13))
    items.append(quay_spot(42.4, 24).item(partial(draw_slip, dice=dice.child(8)), -10, -1, 10, 7))
    items.append(
        quay_spot(45.6, 28).item(
            partial(draw_crane, dice=Dice(7), height=15.0, reach=9.0), -5, -1, 12, 21
        )
    )
    return items
