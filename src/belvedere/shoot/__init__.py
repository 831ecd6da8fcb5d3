"""The plan: camera, lens, grid, sweep, and the frames that come of it."""

from belvedere.shoot.advice import CAUTIONS, notes, sweep_duration_s
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
from belvedere.shoot.plan import make_plan
from belvedere.shoot.shootfile import edit_shoot, parse_shoot

__all__ = [
    "CAUTIONS",
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
    "edit_shoot",
    "make_plan",
    "notes",
    "parse_shoot",
    "sweep_duration_s",
]
