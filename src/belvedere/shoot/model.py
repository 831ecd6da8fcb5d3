"""The plan as frozen types: camera, lens, grid, sweep, and what a frame says of itself.

A `Shoot` is what `shoot.toml` says; a `Plan` is what follows from it: the cells on the sphere in
the order of the sweep. A `Frame` is one file on the card as it describes itself (EXIF, size,
hash), without any opinion about it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from belvedere.shoot.conditions import Conditions

Order = Literal["rows", "columns"]
Corner = Literal["top-left", "top-right", "bottom-left", "bottom-right"]


@dataclass(frozen=True, slots=True)
class Camera:
    """A sensor as it is mounted: width and height of the upright frame."""

    sensor_width_mm: float
    sensor_height_mm: float
    image_width_px: int
    image_height_px: int


@dataclass(frozen=True, slots=True)
class Lens:
    """The lens as it is set for the shoot, and what it can be set to, where that is known."""

    focal_length_mm: float
    shortest_mm: float | None = None
    longest_mm: float | None = None
    widest_f_number: float | None = None
    narrowest_f_number: float | None = None


@dataclass(frozen=True, slots=True)
class GridWish:
    """The wanted picture: edges in degrees, or a full turn with top and bottom only.

    `rows` and `columns`, where given, fix the count as the head was told; the overlap then
    follows from the edges. With `equal_columns` every row has the same columns at the same
    bearings, as a head without knowledge of the sky sweeps them; without, each row has as many
    as it needs, fewer far from the horizon. `cap_zenith` and `cap_nadir` cover the pole of a full
    turn with one frame straight up, or down, in place of the rows that would close around it.
    """

    top_deg: float
    bottom_deg: float
    left_deg: float | None
    right_deg: float | None
    overlap_across: float
    overlap_down: float
    full_turn: bool = False
    rows: int | None = None
    columns: int | None = None
    equal_columns: bool = True
    cap_zenith: bool = False
    cap_nadir: bool = False

    @property
    def width_deg(self) -> float:
        """Bearings from edge to edge; 360 in a full turn."""
        if self.left_deg is None or self.right_deg is None:
            return 360.0
        return self.right_deg - self.left_deg

    @property
    def height_deg(self) -> float:
        """Elevations from edge to edge."""
        return self.top_deg - self.bottom_deg


@dataclass(frozen=True, slots=True)
class Sweep:
    """The order in which the head visits the cells, and its rhythm."""

    order: Order = "rows"
    start: Corner = "top-left"
    serpentine: bool = False
    interval_s: float | None = None


@dataclass(frozen=True, slots=True)
class Shoot:
    """One outing for one picture, as `shoot.toml` says it."""

    title: str
    camera: Camera
    lens: Lens
    grid: GridWish
    sweep: Sweep
    conditions: Conditions = field(default_factory=Conditions)


@dataclass(frozen=True, slots=True)
class Cell:
    """One planned direction; rows count from the top, columns from the left, both from 1."""

    row: int
    column: int
    bearing_deg: float
    elevation_deg: float


@dataclass(frozen=True, slots=True)
class Plan:
    """What follows from a shoot: the cells, and what the mosaic will be.

    `cells` are in the order of the sweep. `row_step_deg` and `column_steps_deg` (one per row) are
    the head's moves.
    """

    shoot: Shoot
    cells: tuple[Cell, ...]
    rows: int
    columns_per_row: tuple[int, ...]
    row_step_deg: float
    column_steps_deg: tuple[float, ...]
    horizontal_fov_deg: float
    vertical_fov_deg: float
    focal_length_px: float
    overlap_across: float
    overlap_down: float
    scale_px_per_deg: float
    mosaic_width_px: int
    mosaic_height_px: int
    _by_number: dict[tuple[int, int], Cell] | None = field(
        default=None, init=False, repr=False, compare=False
    )

    def row_elevations_deg(self) -> tuple[float, ...]:
        """Elevation of each row, from the top."""
        return tuple(self.cell(row, 1).elevation_deg for row in range(1, self.rows + 1))

    def cell(self, row: int, column: int) -> Cell:
        """The cell at `row`, `column`; KeyError where there is none."""
        numbered = self._by_number
        if numbered is None:
            numbered = {(cell.row, cell.column): cell for cell in self.cells}
            # Follows from `cells` alone: made once, when first asked for.
            object.__setattr__(self, "_by_number", numbered)
        return numbered[row, column]


@dataclass(frozen=True, slots=True)
class Settings:
    """The camera settings a file states; None where it is silent.

    `focus_distance_m` is 1,000,000 for infinity, which JSON has no number for. `jpeg_quality` is
    told from the file's quantisation, on the scale of 1 to 100 that most programs use.
    """

    exposure_time_s: float | None = None
    f_number: float | None = None
    iso: float | None = None
    focal_length_mm: float | None = None
    focal_length_35mm_mm: float | None = None
    white_balance: str | None = None
    flash_fired: bool | None = None
    exposure_mode: str | None = None
    focus_distance_m: float | None = None
    jpeg_quality: int | None = None


@dataclass(frozen=True, slots=True)
class Frame:
    """One exposure: one file on the card, as it describes itself.

    `file` is the path relative to the card's root, with forward slashes. `width_px` and
    `height_px` are those of the upright picture (orientation tag applied), 0 where the file
    cannot be read at all. `taken_at` is the camera's clock without a zone, with the sub-seconds
    where the file states them (`has_subsecond`). `damage` says in words what is wrong with the
    file ("ends in the middle of the picture"), "" where nothing is.
    """

    file: str
    content_hash: str
    size_bytes: int
    width_px: int
    height_px: int
    taken_at: datetime | None = None
    has_subsecond: bool = False
    settings: Settings = Settings()
    maker: str = ""
    model: str = ""
    damage: str = ""
