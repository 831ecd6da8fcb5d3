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
from belvedere.shoot.shootfile_writer import (
    FileValue,
    FileValues,
    commented_shoot_file,
    commented_tables,
)
from belvedere.shoot.wishes import (
    focal_length_for,
    mm_per_px,
    out_of_reach,
    print_sizes,
    settable_focal_length,
    wish_facts,
)

__all__ = [
    "CAUTIONS",
    "Camera",
    "Cell",
    "Corner",
    "FileValue",
    "FileValues",
    "Frame",
    "GridWish",
    "Lens",
    "Order",
    "Plan",
    "Settings",
    "Shoot",
    "Sweep",
    "commented_shoot_file",
    "commented_tables",
    "edit_shoot",
    "focal_length_for",
    "make_plan",
    "mm_per_px",
    "notes",
    "out_of_reach",
    "parse_shoot",
    "print_sizes",
    "settable_focal_length",
    "sweep_duration_s",
    "wish_facts",
]
