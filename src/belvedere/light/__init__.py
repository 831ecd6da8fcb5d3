"""Sun, moon, twilight, shadows: the light that a place has at a time."""

from belvedere.light.clock import zoned
from belvedere.light.daylight import brightness_drift_ev, daylight_ev100, daylight_lux
from belvedere.light.events import day_events, phase
from belvedere.light.facts import light_over
from belvedere.light.flare import FLARE_MARGIN_DEG, sun_and_frames, sun_in_cells
from belvedere.light.model import (
    LightEvent,
    LightFacts,
    Site,
    StartChoice,
    SunAt,
    SunInCell,
    SweptCells,
)
from belvedere.light.moon import MoonPath, moon_lit, moon_path, moonless
from belvedere.light.shadows import (
    shadow_azimuth_deg,
    shadow_length_m,
    shadow_move_deg,
    shadow_move_m,
)
from belvedere.light.starts import best_starts
from belvedere.light.sun import SunPath, sun_path, sun_positions

__all__ = [
    "FLARE_MARGIN_DEG",
    "LightEvent",
    "LightFacts",
    "MoonPath",
    "Site",
    "StartChoice",
    "SunAt",
    "SunInCell",
    "SunPath",
    "SweptCells",
    "best_starts",
    "brightness_drift_ev",
    "day_events",
    "daylight_ev100",
    "daylight_lux",
    "light_over",
    "moon_lit",
    "moon_path",
    "moonless",
    "phase",
    "shadow_azimuth_deg",
    "shadow_length_m",
    "shadow_move_deg",
    "shadow_move_m",
    "sun_and_frames",
    "sun_in_cells",
    "sun_path",
    "sun_positions",
    "zoned",
]
