"""How things in Saltmere move with the clock: to and fro, and up and down.

Everything is where it was drawn at 0 s, comes back for ever, and depends on nothing but the time.
"""

from __future__ import annotations

import numpy as np

from .noise import F64

GRAVITY_M_S2 = 9.81
#: Clouds 10 km away in a wind of 8 m/s.
CLOUD_DRIFT_DEG_PER_S = float(np.degrees(8.0 / 10_000.0))


def swing(at_s: float, period_s: float, phase: float) -> float:
    """A sine of the time, moved so that it is 0 at 0 s; ``phase`` is a share of the period."""
    return float(np.sin(2.0 * np.pi * (at_s / period_s + phase)) - np.sin(2.0 * np.pi * phase))


def to_and_fro(at_s: float, speed_m_s: float, reach_m: float) -> tuple[float, bool]:
    """How far out something is that goes ``reach_m`` and back, and whether it is going back."""
    way = (at_s * speed_m_s) % (2.0 * reach_m)
    return (way, False) if way <= reach_m else (2.0 * reach_m - way, True)


def wave_rate_rad_s(length_m: F64) -> F64:
    """How fast a water wave of this length turns, in deep water.

    The dispersion relation of deep water, omega squared = g k (H. Lamb, "Hydrodynamics", 6th
    edition, 1932, article 229), without surface tension.
    """
    rate: F64 = np.sqrt(GRAVITY_M_S2 * 2.0 * np.pi / length_m)
    return rate
