"""Light over the shoot: the sun's way, clouds, a passing shadow, dusk; all against the start.

What a photographer who set everything by hand at the first frame gets at a later one: so many EV
more or less, and another colour. The sun is the planner's (`belvedere.light`). How colour goes
with the sun's elevation is common practice, no source; the colour of a temperature is that of
CIE daylight (CIE 15:2004, section 3.1).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError
from belvedere.light import Site, daylight_ev100, sun_path

FloatArray = NDArray[np.float64]

#: Where the tripod stands when the shoot file does not say: an invented harbour in the north.
USUAL_SITE = Site(54.0, 8.0)
#: When it begins when nobody says: a morning in May, the sun well up.
USUAL_START = datetime(2031, 5, 17, 8, 20, tzinfo=UTC)

# Elevation of the sun, and the colour temperature of sun and sky together: warm as the sun gets
# low, blue when the sky alone is left.
_ELEVATIONS_DEG = (-12.0, -8.0, -5.0, -2.0, -0.5, 1.0, 4.0, 10.0, 20.0, 40.0, 90.0)
_TEMPERATURES_K = (
    12_000.0, 12_000.0, 10_000.0, 6_000.0, 4_400.0, 4_000.0, 4_200.0, 4_700.0, 5_200.0, 5_600.0,
    5_800.0,
)  # fmt: skip
#: Where a cloud stands before the sun, the sky lights the ground.
_SHADE_K = 7_000.0
# Cloud drift is a sum of so many waves of these periods.
_WAVES, _PERIODS_S = 5, (240.0, 900.0)
#: A sharp-edged cloud's shadow has the sun's half-shadow as its edge; clouds have none so sharp.
_LEAST_EDGE_DEG = 0.5

_RGB_FROM_XYZ = np.array(  # IEC 61966-2-1
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
)


@dataclass(frozen=True, slots=True)
class CloudShadow:
    """The shadow of one cloud, as it crosses the picture from one side to the other.

    Attributes
    ----------
    begins_s
        Seconds after the first release at which its front edge comes into the picture.
    lasts_s
        Seconds from there until its rear edge has left.
    from_deg, to_deg
        Bearings of the side of the picture where it comes in and of that where it goes out.
    width_deg
        Width between the middles of its edges.
    edge_deg
        How wide an edge is, from full light to full shadow.
    depth_ev
        What it takes from the light, negative.
    sky_from_deg
        Below this elevation lies the land it falls on; `edge_deg` above, nothing of it is left:
        the sky behind is not in the shadow.

    Raises
    ------
    PlanError
        If it would not last, would brighten, or has no width.
    """

    begins_s: float
    lasts_s: float
    from_deg: float
    to_deg: float
    width_deg: float
    edge_deg: float
    depth_ev: float = -1.25
    sky_from_deg: float = 6.0

    def __post_init__(self) -> None:
        if not (self.lasts_s > 0.0 and self.width_deg > 0.0 and self.depth_ev <= 0.0):
            raise PlanError(
                f"A shadow of {self.depth_ev:+g} EV, {self.width_deg:g}° wide, for "
                f"{self.lasts_s:g} s cannot be.",
                "Give it a width, a time to pass, and an EV below nought.",
            )
        if self.edge_deg < _LEAST_EDGE_DEG:
            raise PlanError(
                f"A cloud's shadow has no edge of {self.edge_deg:g}°.",
                f"Give it {_LEAST_EDGE_DEG:g}° or more.",
            )


@dataclass(frozen=True, slots=True)
class Daylight:
    """What the light of a shoot is like.

    Attributes
    ----------
    site, start
        Where the tripod stands, and the moment of the first release, with its offset from UTC.
    clouds_ev
        Thin cloud takes and gives up to so much, over minutes; 0 for a clear sky.
    shadows
        Clouds that pass before the sun.
    seed
        Decides how the clouds drift.
    """

    site: Site = USUAL_SITE
    start: datetime = USUAL_START
    clouds_ev: float = 0.0
    shadows: tuple[CloudShadow, ...] = ()
    seed: int = 1

    def __post_init__(self) -> None:
        if self.start.utcoffset() is None:
            raise PlanError(
                f"The start {self.start.isoformat()} has no offset from UTC, so the light of the "
                "shoot cannot be told.",
                "Write the time with its offset (+02:00).",
            )


def illumination(
    daylight: Daylight,
    at_s: NDArray[np.float64] | float,
    bearing_deg: NDArray[np.float64] | float = 0.0,
    elevation_deg: NDArray[np.float64] | float = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Light at moments and in directions, against the light at the start.

    The arguments are broadcast against each other to one shape.

    Returns
    -------
    EV of that shape, negative where it has become darker; and the gains of red, green and blue in
    linear light, (..., 3), green always 1.
    """
    times, bearings, elevations = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (at_s, bearing_deg, elevation_deg))
    )
    sun_deg = sun_elevations_deg(daylight, np.append(times.ravel(), 0.0))
    sun_ev = daylight_ev100(sun_deg)
    drift_ev = (sun_ev[:-1] - sun_ev[-1]).reshape(times.shape)
    shade_ev = np.zeros(times.shape)
    for shadow in daylight.shadows:
        # Where two overlap, the darker counts: one cloud has taken the sun already.
        shade_ev = np.minimum(shade_ev, shadow_ev(shadow, times, bearings, elevations))
    temperature_k = sky_temperature_k(sun_deg)
    start_rgb = daylight_rgb(temperature_k[-1])
    sunny_rgb = daylight_rgb(temperature_k[:-1]).reshape(*times.shape, 3) / start_rgb
    shade_rgb = daylight_rgb(np.maximum(temperature_k[:-1], _SHADE_K)).reshape(*times.shape, 3)
    sunlit = np.exp2(shade_ev)[..., None]
    # A shadow's light is that of the sky, to the share of the light that was the sun's.
    gains = sunlit * sunny_rgb + (1.0 - sunlit) * shade_rgb / start_rgb
    return drift_ev + cloud_ev(daylight, times) + shade_ev, gains / gains[..., 1:2]


def sun_elevations_deg(daylight: Daylight, at_s: FloatArray) -> FloatArray:
    """Elevation of the sun's centre without refraction, of the shape of `at_s`."""
    return sun_path(daylight.start.timestamp() + at_s, daylight.site).elevation_deg


def cloud_ev(daylight: Daylight, at_s: FloatArray) -> FloatArray:
    """What thin cloud takes or gives against the start, within ±`clouds_ev`; 0 at the start."""
    if daylight.clouds_ev == 0.0:
        return np.zeros_like(at_s)
    rng = np.random.default_rng([daylight.seed, 0xC10D])
    periods_s = np.exp(rng.uniform(np.log(_PERIODS_S[0]), np.log(_PERIODS_S[1]), _WAVES))
    phases = rng.uniform(0.0, 2.0 * np.pi, _WAVES)
    turns = 2.0 * np.pi * at_s[..., None] / periods_s + phases
    waves = (np.sin(turns) - np.sin(phases)).mean(axis=-1)  # within ±2
    drift: FloatArray = daylight.clouds_ev * waves / 2.0
    return drift


def shadow_ev(
    shadow: CloudShadow, at_s: FloatArray, bearing_deg: FloatArray, elevation_deg: FloatArray
) -> FloatArray:
    """What one shadow takes from the light, 0 to `depth_ev`; all arguments of one shape."""
    reach_deg = (shadow.width_deg + shadow.edge_deg) / 2.0
    way_deg = shadow.to_deg - shadow.from_deg
    ahead = 1.0 if way_deg >= 0.0 else -1.0
    gone = (at_s - shadow.begins_s) / shadow.lasts_s
    middle_deg = shadow.from_deg - ahead * reach_deg + gone * (way_deg + 2.0 * ahead * reach_deg)
    # Bearings within half a turn of the middle of its way: in a full turn, too, it comes in at
    # the edge of the picture and not out of nowhere.
    centre_deg = (shadow.from_deg + shadow.to_deg) / 2.0
    bearings_deg = centre_deg + (bearing_deg - centre_deg + 180.0) % 360.0 - 180.0
    off_deg = np.abs(bearings_deg - middle_deg)
    across = _soft_step((reach_deg - off_deg) / shadow.edge_deg)
    land = _soft_step((shadow.sky_from_deg + shadow.edge_deg - elevation_deg) / shadow.edge_deg)
    here = (gone >= 0.0) & (gone <= 1.0)
    return np.where(here, shadow.depth_ev * across * land, 0.0)


def passing_shadow(seed: int, left_deg: float, right_deg: float, sweep_s: float) -> CloudShadow:
    """A shadow that crosses the picture at some time of the sweep, in one to two minutes.

    It takes 1 to 1.5 EV, is a quarter to three quarters of the picture wide and comes from either
    side, all by the seed. Depth and time: common practice, no source.
    """
    rng = np.random.default_rng([seed, 0x5AD0])
    span_deg = right_deg - left_deg
    lasts_s = float(rng.uniform(60.0, 120.0))
    width_deg = min(float(rng.uniform(0.25, 0.75)) * span_deg, 90.0)
    sides = (left_deg, right_deg) if rng.random() < 0.5 else (right_deg, left_deg)
    return CloudShadow(
        begins_s=float(rng.uniform(0.1, 0.6)) * max(sweep_s - lasts_s, 0.0),
        lasts_s=lasts_s,
        from_deg=sides[0],
        to_deg=sides[1],
        width_deg=width_deg,
        edge_deg=max(_LEAST_EDGE_DEG, 0.2 * width_deg),
        depth_ev=-float(rng.uniform(1.0, 1.5)),
    )


def sky_temperature_k(sun_elevation_deg: FloatArray | float) -> FloatArray:
    """Correlated colour temperature of sun and clear sky together, of the shape given."""
    return np.asarray(
        np.interp(sun_elevation_deg, _ELEVATIONS_DEG, _TEMPERATURES_K), dtype=np.float64
    )


def daylight_rgb(temperature_k: FloatArray | float) -> FloatArray:
    """CIE daylight of 4,000 to 25,000 K in linear sRGB, (..., 3), green 1 (CIE 15:2004, 3.1)."""
    t = np.asarray(temperature_k, dtype=np.float64)
    x = np.where(
        t <= 7000.0,
        0.244063 + 0.09911e3 / t + 2.9678e6 / t**2 - 4.6070e9 / t**3,
        0.237040 + 0.24748e3 / t + 1.9018e6 / t**2 - 2.0064e9 / t**3,
    )
    y = -3.000 * x**2 + 2.870 * x - 0.275
    rgb = np.stack([x, y, 1.0 - x - y], axis=-1) @ _RGB_FROM_XYZ.T
    return np.asarray(rgb / rgb[..., 1:2], dtype=np.float64)


def _soft_step(share: FloatArray) -> FloatArray:
    """0 below 0, 1 above 1, without a kink between."""
    t = np.clip(share, 0.0, 1.0)
    step: FloatArray = t * t * (3.0 - 2.0 * t)
    return step
