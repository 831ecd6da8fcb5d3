"""The mole before our feet, laid out from the water's edge towards us."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from .animals import draw_cat, draw_dog, draw_gull, draw_heron
from .dice import Dice
from .gear import draw_crate, draw_net_heap
from .ground import EYE_M
from .items import UNDERFOOT_M, Item, Spot
from .mole import (
    EDGE_DEG,
    WALK_FOOT_DEG,
    WALK_TOP_DEG,
    draw_base,
    draw_bottle,
    draw_boulder,
    draw_crab,
    draw_mooring,
    draw_rope_coil,
    draw_telescope,
    draw_walk,
)
from .notice import draw_notice_board
from .palette import rgb
from .pen import Pen
from .people import Pose, draw_child_with_balloon, draw_person, strolling
from .quay import draw_bench, draw_lamp_post, draw_pots

_SIDE = 180.0  # boulders and slabs are laid all around


def mole(seed: int, more: Sequence[tuple[float, Item]] = ()) -> tuple[Item, ...]:
    """Base, boulders, walk, and everything on it; ``more`` are people, each with its elevation."""
    origin = Spot(0.0, 0.0, 1.0)
    items = [origin.item(draw_base, -181, -91, 181, EDGE_DEG, distance_m=UNDERFOOT_M)]
    items += _boulders(seed, EDGE_DEG - 0.55, WALK_TOP_DEG - 0.5, 0, wet_rows=2)
    for x in np.arange(-_SIDE, _SIDE, 6.0):
        walk = partial(draw_walk, dice=Dice(seed, 43), left=float(x), right=float(x) + 6.0)
        items.append(
            origin.item(
                walk,
                float(x) - 0.1,
                WALK_FOOT_DEG - 0.1,
                float(x) + 6.1,
                WALK_TOP_DEG + 0.3,
                distance_m=UNDERFOOT_M,
            )
        )
    items += _company(seed, more)
    items += _boulders(seed, WALK_FOOT_DEG - 0.95, -52.0, 20, wet_rows=0)
    return tuple(items)


def _boulders(seed: int, top: float, bottom: float, key: int, *, wet_rows: int) -> list[Item]:
    items = []
    y, row = top, 0
    while y > bottom:
        size = 0.17 * -y
        x, i = -_SIDE + Dice(seed, 41, key + row).unit(), 0
        while x < _SIDE:
            dice = Dice(seed, 42, key + row, i)
            w = size * dice.between(0.8, 1.7, 1)
            h = size * dice.between(0.55, 0.85, 2)
            spot = Spot(x, y + dice.between(-0.12, 0.12, 3) * size, 1.0)
            draw = partial(draw_boulder, dice=dice, w=w, h=h, wet=row < wet_rows)
            items.append(
                spot.item(draw, -0.7 * w, -0.2 * h, 0.75 * w, 1.2 * h, distance_m=UNDERFOOT_M)
            )
            x += w * 0.86
            i += 1
        y -= size * 0.36
        row += 1
    return items


def walk_spot(bearing: float, elevation: float = -9.35) -> Spot:
    """A place on the walk (elevations -8.9 … -10.8)."""
    return Spot(bearing, elevation, float(-elevation / EYE_M), 0.0)


def _company(seed: int, more: Sequence[tuple[float, Item]]) -> list[Item]:
    dice = Dice(seed, 44)
    placed: list[tuple[float, Item]] = [*more]

    def put(
        x: float, y: float, draw: Callable[[Pen], None], size: float, flip: bool = False
    ) -> None:
        placed.append((y, walk_spot(x, y).item(draw, -size, -0.5, size, size, flip=flip)))

    def stroll(x: float, y: float, draw: Callable[[Pen], None], size: float) -> None:
        placed.append((y, strolling(walk_spot(x, y), draw, (size, 0.5), 1.1, 3.0)))

    def person(i: int, pose: Pose, coat: int) -> Callable[[Pen], None]:
        return partial(draw_person, dice=dice.child(i), pose=pose, coat=rgb(coat))

    put(-41.0, -9.2, partial(draw_net_heap, dice=dice.child(1), width=2.2), 3)
    put(-39.0, -9.3, partial(draw_cat, dice=dice.child(2), coat=rgb(0xC4803F)), 1)
    put(-35.5, -9.0, person(3, Pose.FISH, 0x4F6F57), 4)
    put(-33.6, -9.25, partial(draw_crate, dice=dice.child(4), size=0.55), 1.5)
    put(-30.0, -9.0, draw_mooring, 2.5)
    put(-26.0, -9.3, partial(draw_pots, dice=dice.child(5), columns=3, rows=3), 3)
    put(-19.5, -9.5, person(6, Pose.PHOTOGRAPH, 0x2F4A6B), 3)
    put(-14.0, -9.15, draw_bench, 2.5)
    put(-13.4, -9.2, person(7, Pose.SIT, 0x9C2F47), 2.5)
    put(-12.6, -9.2, person(8, Pose.SIT, 0xD9C7A0), 2.5)
    stroll(-6.6, -9.6, person(9, Pose.WALK, 0xC79A3B), 3)
    stroll(-5.3, -9.7, partial(draw_dog, dice=dice.child(10)), 1.5)
    put(-2.2, -9.05, draw_mooring, 2.5)
    put(-0.6, -9.3, draw_rope_coil, 1.5)
    put(1.0, -9.2, partial(draw_gull, dice=dice.child(11)), 1)
    put(4.0, -9.4, partial(draw_child_with_balloon, dice=dice.child(12)), 3.5)
    put(9.0, -9.35, partial(draw_notice_board, dice=dice.child(13)), 4)
    put(14.4, -9.5, person(14, Pose.PAINT, 0xE6DFCF), 3)
    put(19.0, -8.95, partial(draw_heron, dice=dice.child(15)), 1.5)
    put(22.6, -9.0, person(16, Pose.FISH, 0xB5402F), 4)
    put(25.0, -9.35, partial(draw_pots, dice=dice.child(17), columns=4, rows=2), 3.5)
    stroll(30.5, -9.55, person(18, Pose.WALK, 0x1F6F78), 3)
    put(31.4, -9.6, person(19, Pose.STAND, 0xD98E73), 3)
    put(35.0, -9.2, draw_telescope, 2)
    put(36.0, -9.25, person(20, Pose.LEAN, 0x7A4F6D), 3)
    put(40.8, -9.1, draw_lamp_post, 5)
    put(43.5, -9.4, partial(draw_net_heap, dice=dice.child(21), width=2.0), 3)
    put(-22.0, -8.95, draw_bottle, 1)
    put(17.2, -9.8, draw_crab, 1)
    placed.sort(key=lambda p: -p[0])
    return [item for _, item in placed]
