"""Where everything in Saltmere stands, back to front."""

from __future__ import annotations

from .afloat import boats_near, boats_on_the_roads, ferry
from .far_side import far_side
from .items import Item
from .shore import harbour_side, headland
from .stories import in_the_sky, in_the_town, on_the_water
from .town import hillside
from .walk import mole


def before_water(seed: int) -> tuple[Item, ...]:
    """What the water will cover the feet of, and mirror."""
    return (
        *in_the_sky(),
        *headland(seed),
        *hillside(seed),
        *harbour_side(seed),
        *in_the_town(seed),
    )


def after_water(seed: int) -> tuple[Item, ...]:
    """What floats, flies, or stands on the mole before us."""
    return (
        *on_the_water(seed),
        *ferry(seed),
        *boats_on_the_roads(seed),
        *boats_near(seed),
        *mole(seed),
        *far_side(seed),
    )
