"""What a shoot file says beside the grid: the wish, the head, the light, the time, the supplies.

Every field is optional for the photographer; what is left out is either derived, or assumed and
said to be assumed (see `Briefing.assumed`), or, where nothing sensible can be assumed, None.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

CircleRule = Literal["pixel", "diagonal/1500"]
RegionKind = Literal["detail", "sky", "water", "haze", "dark"]
LitFrom = Literal["front", "side", "back"]


@dataclass(frozen=True, slots=True)
class Wish:
    """What the picture shall show; the focal length follows from it. One kind of wish at a time.

    - `mm_per_px` at `distance_m`;
    - `smallest_mm` at `distance_m`, to lie on `pixels_on_it` pixels;
    - `print_width_mm` with `dpi`, or with `viewing_distance_m`;
    - `gigapixels`.
    """

    mm_per_px: float | None = None
    smallest_mm: float | None = None
    pixels_on_it: float = 8.0
    distance_m: float | None = None
    print_width_mm: float | None = None
    dpi: float | None = None
    viewing_distance_m: float | None = None
    gigapixels: float | None = None


@dataclass(frozen=True, slots=True)
class Head:
    """The motorised head and what it stands on.

    A step of 0 means that the head can stop anywhere. Speeds are those of a move at full rate.
    `tripod_height_m` is the height of the lens above the feet, `tripod_spread_m` the distance of
    a foot from the plumb line.
    """

    pan_step_deg: float = 0.0
    tilt_step_deg: float = 0.0
    lowest_deg: float = -90.0
    highest_deg: float = 90.0
    pan_speed_deg_s: float | None = None
    tilt_speed_deg_s: float | None = None
    settle_s: float | None = None
    tripod_height_m: float | None = None
    tripod_spread_m: float | None = None


@dataclass(frozen=True, slots=True)
class Region:
    """A part of the scene and how far away it is; edges left out are those of the picture.

    Sky without a distance is at infinity; without `farthest_m` a region reaches there too. `kind`
    says what an autofocus would meet there, `speed_m_s` how fast its subjects move across the
    view, `ev100` how bright it is.
    """

    name: str
    nearest_m: float
    farthest_m: float | None = None
    left_deg: float | None = None
    right_deg: float | None = None
    top_deg: float | None = None
    bottom_deg: float | None = None
    kind: RegionKind = "detail"
    speed_m_s: float = 0.0
    ev100: float | None = None


@dataclass(frozen=True, slots=True)
class FocusWish:
    """Where to focus and what counts as sharp; the distance follows from the regions if None."""

    distance_m: float | None = None
    circle: CircleRule = "pixel"
    circle_mm: float | None = None


@dataclass(frozen=True, slots=True)
class ExposureWish:
    """What is known of exposure and light.

    The light: `ev100`, or a `light` condition of the table (with `lit_from`), or a metered sample.
    The camera: any of aperture, time, ISO; what is missing follows. `brightest_ev100` and
    `darkest_ev100` are those of the scene, `dynamic_range_ev` what the camera holds.
    """

    f_number: float | None = None
    shutter_s: float | None = None
    iso: float | None = None
    ev100: float | None = None
    light: str | None = None
    lit_from: LitFrom = "front"
    metered_f_number: float | None = None
    metered_shutter_s: float | None = None
    metered_iso: float | None = None
    brightest_ev100: float | None = None
    darkest_ev100: float | None = None
    dynamic_range_ev: float | None = None


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How the camera moves during an exposure: amplitude and rate of what is left of vibration.

    `stars` asks for the sharpness of a sky that turns by 15 seconds of arc a second.
    """

    shake_arcsec: float | None = None
    shake_hz: float | None = None
    stars: bool = False


@dataclass(frozen=True, slots=True)
class Cycle:
    """What the camera does with one frame beside exposing it.

    `dark_frame_from_s`: from this exposure on, a dark frame as long follows; None for never.
    `processing_spread` is the standard deviation of the logarithm of the processing time.
    `buffer_frames`: how many unwritten frames the camera takes before it is busy; 0 for none.
    """

    self_timer_s: float = 0.0
    shutter_lag_s: float | None = None
    dark_frame_from_s: float | None = None
    processing_s: float | None = None
    processing_spread: float | None = None
    review_s: float = 0.0
    buffer_frames: int = 0


@dataclass(frozen=True, slots=True)
class CardWish:
    """The memory card, and how large the files are.

    `file_spread` is the standard deviation of the logarithm of the file size. `stall_probability`
    is the chance, per frame, that the card pauses for `stall_s`.
    """

    capacity_gb: float | None = None
    free_gb: float | None = None
    write_mb_s: float | None = None
    speed_class: str | None = None
    file_mb: float | None = None
    file_spread: float | None = None
    stall_probability: float = 0.0
    stall_s: float = 0.0
    next_file_number: int | None = None


@dataclass(frozen=True, slots=True)
class Power:
    """Batteries of head and camera."""

    head_pack_v: float | None = None
    head_pack_ah: float | None = None
    head_cells: int | None = None
    head_rest_v: float | None = None
    head_load_v: float | None = None
    head_idle_w: float | None = None
    head_moving_w: float | None = None
    camera_pack_wh: float | None = None
    camera_on_w: float | None = None
    camera_frame_j: float | None = None
    temperature_c: float = 20.0


@dataclass(frozen=True, slots=True)
class Place:
    """Where the tripod stands. `zero_bearing_deg`: true bearing of the shoot's bearing 0."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0
    zero_bearing_deg: float | None = None
    time_zone: str | None = None


@dataclass(frozen=True, slots=True)
class Conditions:
    """Everything of the shoot file beside camera, lens, grid and sweep.

    `start` is the moment of the first release, with its offset from UTC.
    """

    wish: Wish | None = None
    head: Head = Head()
    regions: tuple[Region, ...] = ()
    focus: FocusWish = FocusWish()
    exposure: ExposureWish = ExposureWish()
    steadiness: Steadiness = Steadiness()
    cycle: Cycle = Cycle()
    card: CardWish = CardWish()
    power: Power = Power()
    place: Place | None = None
    start: datetime | None = None
