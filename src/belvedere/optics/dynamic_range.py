"""How much of a scene's brightness one exposure holds, and how clean it is.

A pixel counts electrons up to its full well; below, the read noise hides them. (J. R. Janesick,
"Photon Transfer", SPIE, 2007; from memory.)
"""

from __future__ import annotations

import math

from belvedere.optics.demands import demand_not_negative, demand_positive


def camera_range_ev(full_well_e: float, read_noise_e: float) -> float:
    """From the noise floor to the full well: ``log2(full well / read noise)``."""
    demand_positive(full_well_e, "The full well", "e")
    demand_positive(read_noise_e, "The read noise", "e")
    return math.log2(full_well_e / read_noise_e)


def snr_db(signal_e: float, read_noise_e: float = 0.0) -> float:
    """Signal over noise of one pixel, in decibels: ``20 log10(S / √(S + read²))``.

    Without read noise the light's own (shot) noise is all there is.
    """
    demand_positive(signal_e, "The signal", "e")
    demand_not_negative(read_noise_e, "The read noise", "e")
    return 20.0 * math.log10(signal_e / math.sqrt(signal_e + read_noise_e**2))
