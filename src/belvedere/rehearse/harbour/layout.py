"""Where everything in Saltmere stands, back to front."""

from __future__ import annotations

from functools import partial

from .dice import Dice
from .ground import deg_per_m, elevation_of, haze_at
from .houses import draw_house
from .items import Item, Spot


def before_water(seed: int) -> tuple[Item, ...]:
    items = []
    rows = [
        (220, 2.5, -26, 24),
        (245, 8, -23, 20),
        (270, 15, -19, 18),
        (300, 23, -15, 15),
        (335, 32, -12, 14),
        (375, 40, -9, 11),
    ]
    for r, (d, hgt, a, b) in reversed(list(enumerate(rows))):
        x = float(a)
        i = 0
        while x < b:
            dice = Dice(seed, 1, r, i)
            w, h = dice.between(5, 9, 10), dice.between(6, 11, 11)
            s = Spot(x, elevation_of(hgt, d), deg_per_m(d), haze_at(d))
            items.append(s.item(partial(draw_house, dice=dice, w=w, h=h), -1, -1, w + 1, h + 4))
            x += w * deg_per_m(d)
            i += 1
    return tuple(items)


def after_water(seed: int) -> tuple[Item, ...]:
    return ()
