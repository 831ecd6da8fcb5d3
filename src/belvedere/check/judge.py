"""Judge the frames: what is wrong with each, and with the shoot.

Neighbours show the same scene twice, so differences in fine detail, brightness and colour are the
camera's doing. Each kind is measured in every overlap, solved for one value for each frame, and
compared with the other frames of the shoot.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_detail import Ground, judge_edges, judge_sharpness, solve_sharpness
from belvedere.check.judge_look import judge_look
from belvedere.check.judge_model import Judgement
from belvedere.check.judge_pairs import Evidence, PairEvidence, measure_pairs
from belvedere.check.judge_settings import judge_settings
from belvedere.check.judge_shoot import judge_overlaps, judge_parallax
from belvedere.check.judge_steps import judge_colour, judge_exposure
from belvedere.check.judge_tone import solve_tones
from belvedere.check.model import GRAVITY, Finding
from belvedere.check.pair_notes import PairMemory
from belvedere.foundation import Steps
from belvedere.measure import FrameSource, Overlap
from belvedere.shoot import Frame


def judge(
    frames: Sequence[Frame],
    overlaps: Sequence[Overlap],
    source: FrameSource,
    small: Mapping[str, NDArray[np.uint8]] | None = None,
    cells: Mapping[str, tuple[int, int]] | None = None,
    memory: PairMemory | None = None,
    slide_mm_per_px: float | None = None,
) -> Steps[Judgement]:
    """Findings on frames, on the shoot, and the frames with nothing to judge.

    Parameters
    ----------
    frames
        The frames to judge, in shutter order; those with `damage` are called corrupt and not
        looked at further.
    overlaps
        Which of them show the same part of the scene; frames that are not named are ignored.
    source
        Their pixels. Each frame is read once.
    small
        Small pictures (height, width), luma, by file: what looks at the shoot as a whole – dust,
        drops, flicker, moving subjects – is judged by them, and not without them.
    cells
        Row and column of frames by file, for the sentences.
    memory
        What was measured before; only pairs that are new to it are measured, and are added to it.
    slide_mm_per_px
        What a pixel of parallax says of the entrance pupil, where distances are known.
    """
    evidence = yield from measure_pairs(frames, overlaps, source, memory)
    order = np.arange(len(frames), dtype=np.intp)
    findings = _corrupt(frames, evidence)

    tones = solve_tones(len(frames), evidence.pairs)
    exposure, exposure_shoot = judge_exposure(frames, order, tones, evidence)
    colour, colour_shoot = judge_colour(frames, order, tones, {f.file for f in exposure})
    sharpness = solve_sharpness(
        len(frames), evidence.pairs, _ground(frames, overlaps, evidence.pairs)
    )
    detail, unjudged = judge_sharpness(frames, sharpness)
    alone, soft_shoot = judge_edges(frames, evidence)
    seen = {finding.file for finding in detail}
    findings += detail + [finding for finding in alone if finding.file not in seen]
    findings += exposure + colour

    under_drops, look, remarks = judge_look(
        frames, order, overlaps, evidence.pairs, tones, small or {}, cells or {}
    )
    seen = {finding.file for finding in findings if finding.kind in ("soft", "shaken")}
    findings += [finding for finding in under_drops if finding.file not in seen]
    parallax = judge_parallax(frames, evidence.pairs, slide_mm_per_px)
    if parallax:
        remarks = []  # near things shift from frame to frame: nobody can tell what moved by itself
    spoilt = {finding.file for finding in findings}
    return Judgement(
        tuple(sorted(findings, key=_gravest_first)),
        tuple(
            soft_shoot
            + exposure_shoot
            + colour_shoot
            + judge_settings(frames, cells)
            + parallax
            + judge_overlaps(frames, evidence.pairs)
            + look
        ),
        {file: why for file, why in unjudged.items() if file not in spoilt},
        tuple(remarks),
    )


def _ground(
    frames: Sequence[Frame], overlaps: Sequence[Overlap], pairs: Sequence[PairEvidence]
) -> list[Ground]:
    """What each pair is seen by, as the overlaps tell it."""
    by_files = {}
    for one in overlaps:
        by_files[one.file_a, one.file_b] = Ground(one.firm, one.still_a, one.still_b)
        by_files[one.file_b, one.file_a] = Ground(one.firm, one.still_b, one.still_a)
    return [by_files[frames[pair.a].file, frames[pair.b].file] for pair in pairs]


def _corrupt(frames: Sequence[Frame], evidence: Evidence) -> list[Finding]:
    findings = [
        Finding("corrupt", f"the file is damaged: it {frame.damage}", frame.file)
        for frame in frames
        if frame.damage
    ]
    findings += [
        Finding("corrupt", f"the file is damaged: {says}", frames[number].file)
        for number, says in sorted(evidence.undecodable.items())
    ]
    return findings


def _gravest_first(finding: Finding) -> tuple[str, int]:
    rank = {state: place for place, state in enumerate(GRAVITY)}
    return finding.file, rank.get(finding.kind, len(rank))  # type: ignore[call-overload]
