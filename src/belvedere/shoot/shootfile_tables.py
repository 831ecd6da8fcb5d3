"""The vocabulary of `shoot.toml`: its tables, their keys, what each key may hold.

docs/shoot-file.md explains them to the person who writes one.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from belvedere.shoot.model import Corner, Order

#: Largest overlap: above it a sweep hardly moves.
MOST_OVERLAP = 0.9

Length = Annotated[float, Field(gt=0.0, le=10_000.0)]
Elevation = Annotated[float, Field(ge=-90.0, le=90.0)]
Bearing = Annotated[float, Field(ge=-360.0, le=360.0)]


class TableModel(BaseModel):
    """Strict, and no key but the known ones."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


class ShootTable(TableModel):
    """The outing."""

    title: str = ""


class CameraTable(TableModel):
    """The camera as it stands on the head."""

    sensor_width_mm: Length
    sensor_height_mm: Length | None = None
    image_width_px: int = Field(ge=16, le=100_000)
    image_height_px: int = Field(ge=16, le=100_000)


class LensTable(TableModel):
    """The lens as it is set."""

    focal_length_mm: Length


class GridTable(TableModel):
    """The wanted picture."""

    left_deg: Bearing | None = None
    right_deg: Bearing | None = None
    top_deg: Elevation
    bottom_deg: Elevation
    full_turn: bool = False
    overlap: float = Field(gt=0.0, le=MOST_OVERLAP)
    rows: int | None = Field(default=None, ge=1, le=2000)
    columns: int | None = Field(default=None, ge=1, le=5000)
    equal_columns: bool | None = None


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
    lens: LensTable
    grid: GridTable
    sweep: SweepTable = SweepTable()


def table_models() -> dict[str, type[BaseModel]]:
    """Table name → its model."""
    return {
        name: field.annotation
        for name, field in ShootFile.model_fields.items()
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel)
    }
