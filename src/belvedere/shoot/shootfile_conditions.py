"""The tables of `shoot.toml` beside the grid: wish, head, regions, light, time, supplies.

Keys are named like the fields of `conditions`; docs/shoot-file.md explains them.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from belvedere.shoot.conditions import CircleRule, LitFrom, RegionKind

Positive = Annotated[float, Field(gt=0.0, le=1e9)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Seconds = Annotated[float, Field(ge=0.0, le=86_400.0)]
FNumber = Annotated[float, Field(ge=0.5, le=256.0)]
Iso = Annotated[float, Field(ge=1.0, le=10_000_000.0)]
LightValue = Annotated[float, Field(ge=-20.0, le=30.0)]
Elevation = Annotated[float, Field(ge=-90.0, le=90.0)]
Bearing = Annotated[float, Field(ge=-360.0, le=360.0)]
Spread = Annotated[float, Field(ge=0.0, le=2.0)]


class TableModel(BaseModel):
    """Strict, and no key but the known ones."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


class WishTable(TableModel):
    """What the picture shall show."""

    mm_per_px: Positive | None = None
    smallest_mm: Positive | None = None
    pixels_on_it: float = Field(default=8.0, ge=1.0, le=10_000.0)
    distance_m: Positive | None = None
    print_width_mm: Positive | None = None
    dpi: Positive | None = None
    viewing_distance_m: Positive | None = None
    gigapixels: Positive | None = None


class HeadTable(TableModel):
    """The head and the tripod."""

    pan_step_deg: float = Field(default=0.0, ge=0.0, le=90.0)
    tilt_step_deg: float = Field(default=0.0, ge=0.0, le=90.0)
    lowest_deg: Elevation = -90.0
    highest_deg: Elevation = 90.0
    pan_speed_deg_s: Positive | None = None
    tilt_speed_deg_s: Positive | None = None
    settle_s: Seconds | None = None
    tripod_height_m: Positive | None = None
    tripod_spread_m: Positive | None = None


class RegionTable(TableModel):
    """A part of the scene."""

    name: str = Field(min_length=1)
    nearest_m: Positive | None = None
    farthest_m: Positive | None = None
    left_deg: Bearing | None = None
    right_deg: Bearing | None = None
    top_deg: Elevation | None = None
    bottom_deg: Elevation | None = None
    kind: RegionKind = "detail"
    speed_m_s: float = Field(default=0.0, ge=0.0, le=1000.0)
    ev100: LightValue | None = None


class FocusTable(TableModel):
    """Where to focus and what counts as sharp."""

    distance_m: Positive | None = None
    circle: CircleRule = "pixel"
    circle_mm: Positive | None = None


class ExposureTable(TableModel):
    """Light and exposure."""

    f_number: FNumber | None = None
    shutter_s: Annotated[float, Field(gt=0.0, le=86_400.0)] | None = None
    iso: Iso | None = None
    ev100: LightValue | None = None
    light: str | None = None
    lit_from: LitFrom = "front"
    metered_f_number: FNumber | None = None
    metered_shutter_s: Annotated[float, Field(gt=0.0, le=86_400.0)] | None = None
    metered_iso: Iso | None = None
    brightest_ev100: LightValue | None = None
    darkest_ev100: LightValue | None = None
    dynamic_range_ev: Annotated[float, Field(gt=0.0, le=30.0)] | None = None


class SteadinessTable(TableModel):
    """What moves during an exposure."""

    shake_arcsec: Annotated[float, Field(ge=0.0, le=100_000.0)] | None = None
    shake_hz: Annotated[float, Field(gt=0.0, le=10_000.0)] | None = None
    stars: bool = False


class CycleTable(TableModel):
    """What the camera does with one frame beside exposing it."""

    self_timer_s: Seconds = 0.0
    shutter_lag_s: Seconds | None = None
    dark_frame_from_s: Seconds | None = None
    processing_s: Seconds | None = None
    processing_spread: Spread | None = None
    review_s: Seconds = 0.0
    buffer_frames: int = Field(default=0, ge=0, le=10_000)


class CardTable(TableModel):
    """The memory card and the files."""

    capacity_gb: Positive | None = None
    free_gb: Annotated[float, Field(ge=0.0, le=1e6)] | None = None
    write_mb_s: Positive | None = None
    speed_class: str | None = None
    file_mb: Positive | None = None
    file_spread: Spread | None = None
    stall_probability: Share = 0.0
    stall_s: Seconds = 0.0
    next_file_number: int | None = Field(default=None, ge=1, le=9999)


class PowerTable(TableModel):
    """Batteries of head and camera."""

    head_pack_v: Positive | None = None
    head_pack_ah: Positive | None = None
    head_cells: int | None = Field(default=None, ge=1, le=100)
    head_rest_v: Positive | None = None
    head_load_v: Positive | None = None
    head_idle_w: Positive | None = None
    head_moving_w: Positive | None = None
    camera_pack_wh: Positive | None = None
    camera_on_w: Positive | None = None
    camera_frame_j: Positive | None = None
    temperature_c: float = Field(default=20.0, ge=-60.0, le=60.0)


class PlaceTable(TableModel):
    """Where the tripod stands."""

    latitude_deg: float = Field(ge=-90.0, le=90.0)
    longitude_deg: float = Field(ge=-180.0, le=180.0)
    altitude_m: float = Field(default=0.0, ge=-500.0, le=9000.0)
    zero_bearing_deg: Bearing | None = None
    time_zone: str | None = None


class ShootTable(TableModel):
    """The outing."""

    title: str = ""
    start: datetime | None = None
