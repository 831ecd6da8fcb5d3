"""How a camera moves while its shutter is open: what a move of the head leaves, and the wind.

A motion is a path of the picture over the sensor, in pixels at even times over the exposure. Its
mean belongs to where the camera points and is left out: a kernel moves nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]

_LEAST_POINTS, _MOST_POINTS = 64, 4096
_POINTS_PER_SWING = 32
_GUST_PARTIALS = 24


@dataclass(frozen=True, slots=True)
class Oscillation:
    """A damped swing that is left after a move of the head.

    Attributes
    ----------
    amplitude_arcsec
        From the middle to one side, at the moment the head stops.
    rate_hz
        Swings a second.
    damping
        Damping ratio, 0 to below 1: the amplitude falls as ``exp(-2π · damping · rate · t)``.
    since_stop_s
        From the stop to the opening of the shutter.
    direction_deg
        0 along the rows, 90 along the columns.
    phase
        In turns: 0 swings through the middle at the stop.
    """

    amplitude_arcsec: float
    rate_hz: float = 6.0
    damping: float = 0.04
    since_stop_s: float = 0.0
    direction_deg: float = 0.0
    phase: float = 0.0

    def __post_init__(self) -> None:
        if not (self.rate_hz > 0.0 and 0.0 <= self.damping < 1.0 and self.since_stop_s >= 0.0):
            raise PlanError(
                f"A swing of {self.rate_hz:g} Hz with a damping of {self.damping:g}, "
                f"{self.since_stop_s:g} s after the stop, is not to be had.",
                "Give a rate above 0, a damping from 0 to below 1, and no negative time.",
            )


@dataclass(frozen=True, slots=True)
class Gusts:
    """Wind that pushes the camera about: a random sway, slow for the most part.

    Attributes
    ----------
    deviation_arcsec
        Standard deviation of the sway, along each axis.
    rate_hz
        Where the sway's power has fallen to a half: the tripod's own stiffness decides it.
    """

    deviation_arcsec: float
    rate_hz: float = 1.5

    def __post_init__(self) -> None:
        if not (self.rate_hz > 0.0 and self.deviation_arcsec >= 0.0):
            raise PlanError(
                f"Gusts of {self.deviation_arcsec:g} arcsec at {self.rate_hz:g} Hz "
                "are not to be had.",
                "Give a rate above 0 and a deviation of 0 or more.",
            )


def oscillation_path_px(
    swing: Oscillation, exposure_s: float, focal_length_px: float
) -> FloatArray:
    """The path (n, 2), x right and y down, near the middle of the picture."""
    times = swing.since_stop_s + _moments(exposure_s, swing.rate_hz)
    decay = 2.0 * np.pi * swing.damping * swing.rate_hz
    damped_hz = swing.rate_hz * np.sqrt(1.0 - swing.damping**2)
    away = np.exp(-decay * times) * np.sin(2.0 * np.pi * (damped_hz * times + swing.phase))
    size = _arcsec_px(swing.amplitude_arcsec, focal_length_px)
    turn = np.radians(swing.direction_deg)
    return np.outer(size * away, [np.cos(turn), np.sin(turn)])


def gust_path_px(
    gusts: Gusts, exposure_s: float, focal_length_px: float, rng: np.random.Generator
) -> FloatArray:
    """A random path (n, 2): partial waves with the power of a first-order low-pass.

    The power at f is ``2/π · r / (r² + f²)``, r the rate; each partial stands for an equal share
    of it, so the deviation over long times is the one asked for.
    """
    share = (np.arange(_GUST_PARTIALS) + rng.random((2, _GUST_PARTIALS))) / _GUST_PARTIALS
    rates = gusts.rate_hz * np.tan(0.5 * np.pi * np.minimum(share, 0.97))
    phases = 2.0 * np.pi * rng.random((2, _GUST_PARTIALS))
    times = _moments(exposure_s, float(rates.max()))
    waves = np.cos(2.0 * np.pi * rates[..., None] * times + phases[..., None])
    size = _arcsec_px(gusts.deviation_arcsec, focal_length_px)
    away: FloatArray = size * np.sqrt(2.0 / _GUST_PARTIALS) * waves.sum(axis=1)
    return away.T


def path_kernel(path_px: FloatArray) -> LinearImage:
    """What a point becomes along a path (n, 2): sum 1, odd size, shared out bilinearly."""
    x, y = (path_px - path_px.mean(axis=0)).T
    half = int(np.ceil(max(np.abs(x).max(), np.abs(y).max()))) + 1
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    right, low = x - left, y - top
    size = 2 * half + 1
    kernel = np.zeros((size, size))
    for rows, columns, weight in (
        (top, left, (1.0 - right) * (1.0 - low)),
        (top, left + 1, right * (1.0 - low)),
        (top + 1, left, (1.0 - right) * low),
        (top + 1, left + 1, right * low),
    ):
        np.add.at(kernel, (rows + half, columns + half), weight)
    normal: LinearImage = (kernel / kernel.sum()).astype(np.float32)
    return normal


def joined(first: FloatArray, second: FloatArray) -> FloatArray:
    """Two motions at once; each is brought to the times of the finer one."""
    count = max(len(first), len(second))
    return _with_points(first, count) + _with_points(second, count)


def _with_points(path_px: FloatArray, count: int) -> FloatArray:
    at = (np.arange(count) + 0.5) / count
    was = (np.arange(len(path_px)) + 0.5) / len(path_px)
    return np.stack([np.interp(at, was, path_px[:, axis]) for axis in (0, 1)], axis=1)


def _moments(exposure_s: float, rate_hz: float) -> FloatArray:
    """The middles of even pieces of the exposure, enough of them for the fastest swing."""
    wanted = int(_POINTS_PER_SWING * exposure_s * rate_hz)
    count = min(max(wanted, _LEAST_POINTS), _MOST_POINTS)
    return np.asarray((np.arange(count) + 0.5) / count * exposure_s)


def _arcsec_px(angle_arcsec: float, focal_length_px: float) -> float:
    return float(np.radians(angle_arcsec / 3600.0)) * focal_length_px
