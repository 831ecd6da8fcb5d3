"""Where everything in Saltmere stands, back to front."""

from __future__ import annotations

from .afloat import boats_near, boats_on_the_roads, ferry
from .far_side import far_side
from .items import Item
from .market_day import in_the_air, on_the_mole, on_the_quay, on_the_roads
from .shore import harbour_side, headland
from .stories import in_the_sky, in_the_town, on_the_water
from .town import hillside
from .walk import mole


def before_water(seed: int, crowd: int = 0) -> tuple[Item, ...]:
    """What the water will cover the feet of, and mirror; ``crowd`` as `HarbourScene` has it."""
    return (
        *in_the_sky(),
        *headland(seed),
        *hillside(seed),
        *harbour_side(seed, on_the_quay(seed, crowd)),
        *in_the_town(seed),
    )


def after_water(seed: int, crowd: int = 0) -> tuple[Item, ...]:
    """What floats, flies, or stands on the mole before us; ``crowd`` as `HarbourScene` has it."""
    return (
        *on_the_water(seed),
        *ferry(seed),
        *boats_on_the_roads(seed, on_the_roads(seed, crowd)),
        *boats_near(seed),
        *in_the_air(seed, crowd),
        *mole(seed, on_the_mole(seed, crowd)),
        *far_side(seed),
    )
