"""Where everything in Saltmere stands, back to front."""

from __future__ import annotations

from .afloat import boats_near, boats_on_the_roads, ferry
from .items import Item
from .shore import harbour_side, headland
from .town import hillside
from .walk import mole


def before_water(seed: int) -> tuple[Item, ...]:
    """What the water will cover the feet of, and mirror."""
    return (*headland(seed), *hillside(seed), *harbour_side(seed))


def after_water(seed: int) -> tuple[Item, ...]:
    """What floats, flies, or stands on the mole before us."""
    return (*ferry(seed), *boats_on_the_roads(seed), *boats_near(seed), *mole(seed))
