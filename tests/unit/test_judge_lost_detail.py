"""Waves and a ship that sailed on between two frames are no blur.

What the frames show is made by hand here: that water changes within seconds is common practice, no
source. Rehearsed frames that are truly soft are held in test_judge_frames.py.
"""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from belvedere.check.judge_pairs import DetailEvidence, _detail, _drowned_frames


def _drowned(a: int, b: int, blurred: int) -> tuple[int, int, SimpleNamespace]:
    blur = 16.0 if blurred == b else -16.0
    detail = DetailEvidence(np.full(4, blur), np.full(4, 3.0))
    return a, b, SimpleNamespace(powers=None, drowned=detail)


def test_a_ship_in_one_frame_alone_does_not_accuse_its_neighbours() -> None:
    ship = 2
    seen = [_drowned(1, ship, blurred=1), _drowned(ship, 3, blurred=3)]
    assert _drowned_frames(seen) == set()  # type: ignore[arg-type]


def test_a_frame_that_two_others_find_without_texture_is_drowned() -> None:
    seen = [_drowned(1, 2, blurred=2), _drowned(2, 3, blurred=2)]
    assert _drowned_frames(seen) == {2}  # type: ignore[arg-type]


@pytest.mark.parametrize(("patches", "told"), [(4, False), (24, True)])
def test_a_few_patches_without_a_counterpart_are_no_blur(patches: int, told: bool) -> None:
    evidence = np.zeros((32, 4))
    evidence[:patches] = 0.5
    detail = _detail(np.full((32, 4), 25.0), evidence)
    assert (detail is not None) == told


def test_a_few_patches_are_enough_where_the_blur_leaves_something_to_see() -> None:
    evidence = np.zeros((32, 4))
    evidence[:4] = 0.5
    assert _detail(np.full((32, 4), 4.0), evidence) is not None
