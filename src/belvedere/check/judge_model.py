"""What the judges say of the frames."""

from __future__ import annotations

from dataclasses import dataclass, field

from belvedere.check.model import Finding


@dataclass(frozen=True, slots=True)
class Judgement:
    """Findings on frames and on the shoot, and what could not be judged.

    `findings` each name their file, gravest kind first for each file. `shoot_findings` stand on
    the shoot as a whole: "exposure", "colour" (a drift), "settings", "parallax", "overlap",
    "clipping", "dust", "drops", "flicker", "vignetting". `remarks` each name their file and leave
    its state as it is: "moving", "settings". `unjudged` says for each file without evidence on
    its sharpness why: never a fault.
    """

    findings: tuple[Finding, ...]
    shoot_findings: tuple[Finding, ...] = ()
    unjudged: dict[str, str] = field(default_factory=dict)
    remarks: tuple[Finding, ...] = ()
