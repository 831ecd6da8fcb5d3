"""The plan: camera, lens, grid, sweep, and the frames that come of it."""

from belvedere.shoot.model import (
    Camera,
    Cell,
    Corner,
    Frame,
    GridWish,
    Lens,
    Order,
    Plan,
    Settings,
    Shoot,
    Sweep,
)

__all__ = [
    "Camera",
    "Cell",
    "Corner",
    "Frame",
    "GridWish",
    "Lens",
    "Order",
    "Plan",
    "Settings",
    "Shoot",
    "Sweep",
]
