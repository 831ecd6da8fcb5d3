"""The town on its hill: terraces of houses, gardens, stairs, the church."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from .dice import Dice
from .ground import deg_per_m, elevation_of, haze_at
from .houses import choose_house, draw_house
from .items import Item, Spot
from .landmarks import draw_church, draw_stairs
from .trees import draw_bush, draw_cypress, draw_palm, draw_pine, draw_tree


@dataclass(frozen=True, slots=True)
class Terrace:
    """A street along the slope: distance and height in metres, its ends and gaps in bearing."""

    distance_m: float
    height_m: float
    left_deg: float
    right_deg: float
    gaps: tuple[tuple[float, float], ...]
    trees: float


SQUARE = (-5.2, 3.6)
TERRACES = (
    Terrace(232, 2.4, -25.2, 24.8, (SQUARE, (13.4, 14.8)), 0.1),
    Terrace(262, 5.4, -23.5, 23.0, ((1.2, 3.4), (13.0, 14.2)), 0.25),
    Terrace(290, 13.0, -21.0, 20.5, ((1.6, 3.4), (12.4, 13.4), (-13.0, -11.4)), 0.35),
    Terrace(318, 21.0, -17.5, 18.5, ((2.0, 3.2), (-5.0, -3.6), (10.5, 12.0)), 0.45),
    Terrace(346, 29.0, -14.5, 17.5, ((-1.7, 4.6), (-9.4, -8.0)), 0.55),
    Terrace(380, 37.5, -11.5, 14.5, ((-1.2, 5.4),), 0.7),
    Terrace(420, 45.5, -8.0, 11.5, ((-2.2, 5.6),), 0.9),
)


def hillside(seed: int) -> tuple[Item, ...]:
    """All terraces, far to near."""
    items: list[Item] = []
    for r in range(len(TERRACES) - 1, -1, -1):
        terrace = TERRACES[r]
        items += _trees(seed, r, terrace, behind=True)
        if r == 4:
            items.append(_church())
        items += _houses(seed, r, terrace)
        items += _stairs(seed, r, terrace)
        items += _trees(seed, r, terrace, behind=False)
    return tuple(items)


def spot_on(terrace: Terrace, bearing: float) -> Spot:
    """A place on a terrace."""
    d = terrace.distance_m
    return Spot(bearing, elevation_of(terrace.height_m, d), deg_per_m(d), haze_at(d))


def _in_gap(terrace: Terrace, left: float, right: float) -> float | None:
    """Where to go on when a house would stand in a gap."""
    for a, b in terrace.gaps:
        if left < b and right > a:
            return b
    return None


def _houses(seed: int, row: int, terrace: Terrace) -> list[Item]:
    k = deg_per_m(terrace.distance_m)
    left_part: list[tuple[float, Item]] = []
    right_part: list[tuple[float, Item]] = []
    x, i = terrace.left_deg, 0
    while x < terrace.right_deg:
        dice = Dice(seed, 11, row, i)
        i += 1
        house = choose_house(dice, i, turned=x > 0.5, front_row=row == 0)
        width = house.width * k
        after = _in_gap(terrace, x, x + width)
        if after is not None:
            x = after
            continue
        hop = dice.between(-0.6, 0.9, 77) if row else 0.0
        spot = Spot(
            x,
            elevation_of(terrace.height_m + hop, terrace.distance_m),
            k,
            haze_at(terrace.distance_m),
        )
        item = spot.item(
            partial(draw_house, dice=dice, house=house),
            -house.side - 1.5,
            -house.cellar - 0.2,
            house.width + house.side + 1.5,
            house.height + house.rise + 4.5,
        )
        (left_part if x <= 0.5 else right_part).append((x, item))
        x += width
        if row and dice.chance(terrace.trees * 0.45, 78):
            x += dice.between(0.2, 0.9, 79)
    # The walls that turn towards us overlap the neighbour that is farther from the axis.
    left_part.sort(key=lambda p: p[0])
    right_part.sort(key=lambda p: -p[0])
    return [item for _, item in left_part + right_part]


def _trees(seed: int, row: int, terrace: Terrace, *, behind: bool) -> list[Item]:
    dice = Dice(seed, 12, row, int(behind))
    span = terrace.right_deg - terrace.left_deg + 1.6
    count = int(span * terrace.trees * (2.2 if behind else 0.5))
    items = []
    for i in range(count):
        x = terrace.left_deg - 0.8 + span * (i + dice.unit(1, i)) / count
        if not behind and row == 0:
            continue
        spot = spot_on(terrace, x)
        down = -2.8 if not behind else 0.6
        spot = Spot(x, spot.elevation_deg + down * spot.deg_per_m, spot.deg_per_m, spot.haze)
        h = dice.between(6, 11, 2, i) if behind else dice.between(3.0, 5.0, 2, i)
        kind = dice.unit(3, i)
        child = dice.child(i)
        if kind < 0.5:
            items.append(spot.item(partial(draw_tree, dice=child, height=h), -h, -1, h, 1.4 * h))
        elif kind < 0.72:
            items.append(
                spot.item(partial(draw_cypress, dice=child, height=h * 1.25), -h, -1, h, 1.6 * h)
            )
        elif kind < 0.86:
            items.append(
                spot.item(partial(draw_pine, dice=child, height=h * 1.15), -h, -1, h, 1.5 * h)
            )
        else:
            items.append(spot.item(partial(draw_bush, dice=child, width=h * 0.5), -h, -1, h, h))
    items.sort(key=lambda item: -item.bottom)
    return items


def _church() -> Item:
    terrace = TERRACES[4]
    spot = spot_on(terrace, -0.9)
    return spot.item(partial(draw_church, dice=Dice(3)), -2, -6, 24, 38)


def _stairs(seed: int, row: int, terrace: Terrace) -> list[Item]:
    items: list[Item] = []
    if row == 0:
        return items
    for i, (a, b) in enumerate(terrace.gaps):
        below = TERRACES[row - 1]
        k = deg_per_m(below.distance_m)
        base = elevation_of(below.height_m, below.distance_m)
        top = elevation_of(terrace.height_m, terrace.distance_m) + 0.25
        steps = max(4, int((top - base) / (0.32 * k)))
        width = min((b - a) / k * 0.5, 3.4)
        spot = Spot((a + b) / 2, base, k, haze_at(below.distance_m))
        dice = Dice(seed, 13, row, i)
        lean = dice.between(-1.2, 1.2, 9)
        items.append(
            spot.item(
                partial(draw_stairs, dice=dice, width=width, steps=steps, lean=lean),
                -width,
                -1,
                width,
                steps * 0.33 + 3,
            )
        )
        for s in (-1, 1):
            off = s * (width * 0.5 + 1.3)
            side = Spot(spot.bearing_deg + off * k, base, k, spot.haze)
            child = dice.child(20 + s)
            h = child.between(3.5, 6.5, 1)
            draw = draw_palm if child.chance(0.3, 2) else draw_tree
            items.append(side.item(partial(draw, dice=child, height=h), -h, -1, h, 1.4 * h))
    return items
