"""What stands on the shoot as a whole: parallax, too little overlap."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    LEAST_OVERLAP,
    PARALLAX_PATCHES,
    PARALLAX_PX,
    PARALLAX_SHARE,
    SIDE_SHARE,
)
from belvedere.shoot import Frame


def judge_parallax(
    frames: Sequence[Frame],
    pairs: Sequence[PairEvidence],
    mm_per_px: float | None = None,
) -> list[Finding]:
    """One finding where patches of most overlaps lie off what rotation and lens can explain.

    With `mm_per_px` it says how far the camera must be slid at least: near and far things
    seldom lie side by side in an overlap, so the shift that is seen is the least there is.
    """
    seen = [pair for pair in pairs if pair.registered and pair.patches >= PARALLAX_PATCHES]
    if len(seen) < 2:
        return []
    width = max(frame.width_px for frame in frames)
    off_px = float(np.median([pair.misfit_px for pair in seen]))
    if off_px < max(PARALLAX_PX, PARALLAX_SHARE * width):
        return []
    worst = max(seen, key=lambda pair: pair.misfit_px)
    return [
        Finding(
            "parallax",
            f"near things move against far ones by {off_px:.0f} px and more from frame to frame "
            f"(most between {frames[worst.a].file} and {frames[worst.b].file}): the camera does "
            f"not turn about the entrance pupil of its lens. Slide it along its rail, "
            f"{_how_far(off_px, mm_per_px)}until near and far stay together when it turns",
            value=round(off_px, 1),
            unit="px",
        )
    ]


def _how_far(off_px: float, mm_per_px: float | None) -> str:
    if mm_per_px is None:
        return ""
    slide_mm = off_px * mm_per_px
    return f"by about {slide_mm:.0f} mm or more at these distances, "


def judge_overlaps(frames: Sequence[Frame], pairs: Sequence[PairEvidence]) -> list[Finding]:
    """One finding where neighbours overlap too little to be joined safely."""
    thin = []
    for pair in pairs:
        along, across = sorted(pair.overlap_share)
        if across > SIDE_SHARE and along < LEAST_OVERLAP:
            thin.append((along, pair))
    if not thin:
        return []
    share, pair = min(thin, key=lambda item: item[0])
    return [
        Finding(
            "overlap",
            f"{len(thin)} of {len(pairs)} overlaps are smaller than {LEAST_OVERLAP:.0%}, the "
            f"smallest, {share:.0%}, between {frames[pair.a].file} and {frames[pair.b].file}: "
            f"they may not join",
            value=round(share, 3),
            unit="share",
        )
    ]
