"""A frame is measured against frames like it, not against the few that are far off."""

from __future__ import annotations

import numpy as np

from belvedere.check.judge_detail import judge_sharpness, solve_sharpness
from belvedere.check.judge_pairs import DetailEvidence, PairEvidence
from belvedere.measure import ToneDifference
from belvedere.shoot import Frame


def _pair(a: int, b: int, blur_px2: float, spread_px2: tuple[float, ...]) -> PairEvidence:
    nothing = ToneDifference(*(np.zeros(3) for _ in ToneDifference.__dataclass_fields__))
    detail = DetailEvidence(np.full(4, blur_px2), np.array(spread_px2))
    shift = np.array([400.0, 0.0])
    return PairEvidence(a, b, True, 0.5, shift, (0.3, 0.9), 0.1, 40, detail, nothing)


def _frames(count: int) -> list[Frame]:
    return [Frame(f"PIC_{number:04d}.JPG", "", 0, 1440, 1080) for number in range(count)]


def test_a_vague_direction_is_not_measured_against_the_outliers() -> None:
    """Frame 12 hangs on one overlap that says little up and down.

    In that direction it is comparable only with itself and with two frames that stand far off:
    11, seemingly 16 px² sharper than all others, and 13, which is soft by 7 px².
    """
    tight = (0.05, 0.05, 0.05, 0.05)
    pairs = [_pair(number, number + 1, 0.0, tight) for number in range(10)]
    pairs += [_pair(number, number + 2, 0.0, tight) for number in range(9)]
    pairs += [_pair(10, 11, -16.0, (3.0,) * 4), _pair(5, 12, 0.0, (0.08, 0.09, 0.21, 0.11))]
    pairs += [_pair(5, 13, 7.0, (0.4,) * 4)]
    frames = _frames(14)
    findings, _ = judge_sharpness(frames, solve_sharpness(len(frames), pairs))
    assert "PIC_0012.JPG" not in {finding.file for finding in findings}


def test_two_frames_are_enough_to_tell_the_softer() -> None:
    pairs = [_pair(0, 1, 6.0, (0.1, 0.1, 0.1, 0.1))]
    findings, _ = judge_sharpness(_frames(2), solve_sharpness(2, pairs))
    assert [(f.file, f.kind) for f in findings] == [("PIC_0001.JPG", "soft")]
