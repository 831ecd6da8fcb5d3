"""Sun, moon and daylight over a shoot, as frozen types."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError


@dataclass(frozen=True, slots=True)
class Site:
    """A point on the earth: geodetic latitude (north) and longitude (east), metres above the sea.

    Raises
    ------
    PlanError
        If a value lies outside what the earth has.
    """

    latitude_deg: float
    longitude_deg: float
    altitude_m: float = 0.0

    def __post_init__(self) -> None:
        _within("latitude", self.latitude_deg, -90.0, 90.0, "°")
        _within("longitude", self.longitude_deg, -360.0, 360.0, "°")
        _within("altitude", self.altitude_m, -500.0, 10_000.0, " m")


def _within(name: str, value: float, lowest: float, highest: float, unit: str) -> None:
    if not lowest <= value <= highest:
        raise PlanError(
            f"The {name} of the place is {value:g}{unit}, outside {lowest:g} to {highest:g}{unit}.",
            f"Correct the {name}.",
        )


@dataclass(frozen=True, slots=True)
class SweptCells:
    """The cells of a sweep as arrays, all in sweep order.

    - `release_s`: (n,) seconds from the first release to that of each cell;
    - `azimuth_deg`: (n,) true azimuths of the frames' axes, from north eastward; None where the
      bearing of the shoot's zero is not known;
    - `elevation_deg`: (n,) elevations of the axes;
    - `hfov_deg`, `vfov_deg`: field of view of one frame of a rectilinear lens held level;
    - `touching`: two (m,) integer arrays of indices, the i-th pair being two cells that touch.
    """

    release_s: NDArray[np.float64]
    azimuth_deg: NDArray[np.float64] | None
    elevation_deg: NDArray[np.float64]
    hfov_deg: float
    vfov_deg: float
    touching: tuple[NDArray[np.intp], NDArray[np.intp]]


@dataclass(frozen=True, slots=True)
class SunAt:
    """Where the sun stands: true bearing from north eastward; elevation with refraction."""

    at: datetime
    azimuth_deg: float
    elevation_deg: float


@dataclass(frozen=True, slots=True)
class LightEvent:
    """Something the day brings: sunrise, the end of the golden hour, moonset and so on."""

    at: datetime
    name: str


@dataclass(frozen=True, slots=True)
class SunInCell:
    """A cell that the sun is in, or near enough to for flare, at the moment of its frame.

    `cell` is the index in sweep order; `separation_deg` is measured from the frame's axis.
    """

    cell: int
    separation_deg: float
    in_frame: bool


@dataclass(frozen=True, slots=True)
class StartChoice:
    """One time to start, its quality (higher is better, 0 to 1) and why."""

    at: datetime
    score: float
    says: str


@dataclass(frozen=True, slots=True)
class LightFacts:
    """The light over the shoot.

    - `sun`: samples from the first release to the last;
    - `events` of the day and the night after it, in order;
    - `phase` at the start in words ("day", "golden hour", "blue hour", "night", …);
    - `sun_cells`: where the sun gets into the picture or near it; empty without a zero bearing;
    - `shadow_move_deg`: how far shadows turn between two touching cells of the greatest age
      difference, and `shadow_move_m` what that moves the tip of the shadow of a mast of 10 m
      (None while the sun is below the horizon);
    - `brightness_drift_ev`: change of daylight from the first release to the last, and
      `touching_drift_ev`: the largest between two touching cells;
    - `best_starts`: the best times to begin on this day, best first;
    - `moonless`: from–to of the hours of the night after the start with sun below −18° and moon
      down, None where there are none; `moon_lit` the lit share of the moon's disc (0 to 1).
    """

    sun: tuple[SunAt, ...]
    events: tuple[LightEvent, ...]
    phase: str
    sun_cells: tuple[SunInCell, ...]
    shadow_move_deg: float | None
    shadow_move_m: float | None
    brightness_drift_ev: float
    touching_drift_ev: float
    best_starts: tuple[StartChoice, ...]
    moonless: tuple[datetime, datetime] | None
    moon_lit: float
