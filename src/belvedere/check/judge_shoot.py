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


def judge_parallax(frames: Sequence[Frame], pairs: Sequence[PairEvidence]) -> list[Finding]:
    """One finding where patches of most overlaps lie off what rotation and lens can explain."""
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
            f"parallax: near things move against far ones by {off_px:.0f} px and more from frame "
            f"to frame (worst between {frames[worst.a].file} and {frames[worst.b].file}), so the "
            f"camera travelled; turn it about the entrance pupil of the lens",
            value=round(off_px, 1),
            unit="px",
        )
    ]


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
