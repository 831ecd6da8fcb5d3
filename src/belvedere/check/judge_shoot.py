"""What stands on the shoot as a whole: settings that changed, parallax, too little overlap."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence

import numpy as np

from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.model import Finding
from belvedere.shoot import Frame, Settings

#: Registered patches further off a smooth mapping than this share of the frame's width: parallax.
_PARALLAX_SHARE = 0.0012
_PARALLAX_PX = 2.0
#: Overlaps smaller than this share leave too little to join by.
_LEAST_OVERLAP = 0.1

_SETTINGS: tuple[tuple[str, Callable[[Settings], Hashable], str], ...] = (
    ("shutter time", lambda settings: settings.exposure_time_s, "s"),
    ("aperture", lambda settings: settings.f_number, "f-number"),
    ("sensitivity", lambda settings: settings.iso, "ISO"),
    ("focal length", lambda settings: settings.focal_length_mm, "mm"),
    ("white balance", lambda settings: settings.white_balance, ""),
    ("flash", lambda settings: settings.flash_fired, ""),
    ("exposure mode", lambda settings: settings.exposure_mode, ""),
)


def judge_settings(frames: Sequence[Frame]) -> list[Finding]:
    """Settings that should be the same in all frames and are not, one finding for each."""
    findings = []
    for name, read, unit in _SETTINGS:
        stated = [
            (value, frame.file) for frame in frames if (value := read(frame.settings)) is not None
        ]
        counts = Counter(value for value, _ in stated)
        if len(counts) < 2:
            continue
        usual, often = counts.most_common(1)[0]
        others = [(value, file) for value, file in stated if value != usual]
        findings.append(Finding("settings", _changed(name, unit, usual, often, others)))
    return findings


def _changed(
    name: str, unit: str, usual: Hashable, often: int, others: Sequence[tuple[Hashable, str]]
) -> str:
    if len(others) > often and len({value for value, _ in others}) > 2:
        numbers = sorted({value for value, _ in others} | {usual}, key=str)
        return (
            f"{name} was not locked: {len(numbers)} different values in {often + len(others)} "
            f"frames"
        )
    named = ", ".join(f"{file}: {_shown(value, name, unit)}" for value, file in others[:4])
    more = f" and {len(others) - 4} more" if len(others) > 4 else ""
    return (
        f"{name} changes: {_shown(usual, name, unit)} in {often} "
        f"{'frame' if often == 1 else 'frames'}, but {named}{more}"
    )


def _shown(value: Hashable, name: str, unit: str) -> str:
    if isinstance(value, bool):
        return "fired" if value else "off"
    if isinstance(value, float | int):
        if unit == "s":
            return f"1/{round(1.0 / value)} s" if 0 < value < 0.3 else f"{value:g} s"
        if unit == "f-number":
            return f"f/{value:g}"
        return f"ISO {value:g}" if unit == "ISO" else f"{value:g} {unit}".strip()
    return str(value)


def judge_parallax(frames: Sequence[Frame], pairs: Sequence[PairEvidence]) -> list[Finding]:
    """One finding where patches of most overlaps lie off what rotation and lens can explain."""
    seen = [pair for pair in pairs if pair.registered and pair.patches >= 24]
    if len(seen) < 2:
        return []
    width = max(frame.width_px for frame in frames)
    off_px = float(np.median([pair.misfit_px for pair in seen]))
    if off_px < max(_PARALLAX_PX, _PARALLAX_SHARE * width):
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
        if across > 0.6 and along < _LEAST_OVERLAP:
            thin.append((along, pair))
    if not thin:
        return []
    share, pair = min(thin, key=lambda item: item[0])
    return [
        Finding(
            "overlap",
            f"{len(thin)} of {len(pairs)} overlaps are smaller than {_LEAST_OVERLAP:.0%}, the "
            f"smallest, {share:.0%}, between {frames[pair.a].file} and {frames[pair.b].file}: "
            f"they may not join",
            value=round(share, 3),
            unit="share",
        )
    ]
