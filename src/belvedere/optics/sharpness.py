"""How sharp a frame can be: what diffraction, focus, motion and the pixel leave, in pixels."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SharpnessBudget:
    """Blur of one frame, each share as a diameter in pixels of the full-size picture.

    `criterion` says in words how the shares are measured and combined.
    """

    diffraction_px: float
    defocus_px: float
    motion_px: float
    pixel_px: float
    combined_px: float
    criterion: str
