"""The vocabulary of `shoot.toml`: its tables, their keys, what each key may hold.

docs/shoot-file.md explains them to the person who writes one.
"""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import BaseModel, Field

from belvedere.shoot.model import Corner, Order
from belvedere.shoot.shootfile_conditions import (
    Bearing,
    CardTable,
    CycleTable,
    Elevation,
    ExposureTable,
    FNumber,
    FocusTable,
    HeadTable,
    PlaceTable,
    PowerTable,
    RegionTable,
    ShootTable,
    SteadinessTable,
    TableModel,
    WishTable,
)

#: Largest overlap: above it a sweep hardly moves.
MOST_OVERLAP = 0.9

Length = Annotated[float, Field(gt=0.0, le=10_000.0)]
Overlap = Annotated[float, Field(gt=0.0, le=MOST_OVERLAP)]


class CameraTable(TableModel):
    """The camera as it stands on the head, or as `mounting` turns it."""

    sensor_width_mm: Length
    sensor_height_mm: Length | None = None
    image_width_px: int = Field(ge=16, le=100_000)
    image_height_px: int = Field(ge=16, le=100_000)
    mounting: Literal["landscape", "portrait"] | None = None


class LensTable(TableModel):
    """The lens as it is set, and what it can be set to."""

    focal_length_mm: Length | None = None
    shortest_mm: Length | None = None
    longest_mm: Length | None = None
    widest_f_number: FNumber | None = None
    narrowest_f_number: FNumber | None = None


class GridTable(TableModel):
    """The wanted picture."""

    left_deg: Bearing | None = None
    right_deg: Bearing | None = None
    top_deg: Elevation | None = None
    bottom_deg: Elevation | None = None
    corners_deg: list[list[float]] | None = None
    full_turn: bool = False
    overlap: Overlap | None = None
    overlap_across: Overlap | None = None
    overlap_down: Overlap | None = None
    rows: int | None = Field(default=None, ge=1, le=2000)
    columns: int | None = Field(default=None, ge=1, le=5000)
    equal_columns: bool | None = None
    cap_zenith: bool = False
    cap_nadir: bool = False


class SweepTable(TableModel):
    """How the head goes over the cells."""

    order: Order = "rows"
    start: Corner = "top-left"
    serpentine: bool = False
    interval_s: float | None = Field(default=None, gt=0.0, le=86_400.0)


class ShootFile(TableModel):
    """The whole file."""

    shoot: ShootTable = ShootTable()
    camera: CameraTable
    lens: LensTable = LensTable()
    wish: WishTable | None = None
    grid: GridTable
    sweep: SweepTable = SweepTable()
    head: HeadTable = HeadTable()
    regions: list[RegionTable] = Field(default_factory=list)
    focus: FocusTable = FocusTable()
    exposure: ExposureTable = ExposureTable()
    steadiness: SteadinessTable = SteadinessTable()
    cycle: CycleTable = CycleTable()
    card: CardTable = CardTable()
    power: PowerTable = PowerTable()
    place: PlaceTable | None = None


#: Tables that may stand more than once, as [[name]].
REPEATED = frozenset({"regions"})


def table_models() -> dict[str, type[BaseModel]]:
    """Table name → its model."""
    found = {}
    for name, field in ShootFile.model_fields.items():
        kinds = [field.annotation, *get_args(field.annotation)]
        found[name] = next(k for k in kinds if isinstance(k, type) and issubclass(k, BaseModel))
    return found
