"""What knocked the tripod on the first card is there on the second."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from belvedere.rehearse import Rehearsal, parse_fault, shots
from belvedere.rehearse.driving import stance_at_end
from belvedere.rehearse.head import HeadTraits
from belvedere.shoot import make_plan, parse_shoot
from belvedere.sphere import separation_deg
from small_shoot import SMALL_SHOOT

PLAN = make_plan(parse_shoot(SMALL_SHOOT))
STEADY = HeadTraits(pointing_error_deg=0.0)


@pytest.mark.parametrize("fault", ["bumped 2,3 3", "slipped 2,3 1.5", "slipping 2,3 10"])
def test_a_cell_shot_again_is_where_the_head_now_points(fault: str) -> None:
    first = Rehearsal(PLAN, head=STEADY, faults=(parse_fault(fault),))
    again = Rehearsal(PLAN, head=STEADY, only=((4, 5),), stands=stance_at_end(first))
    untouched = Rehearsal(PLAN, head=STEADY, only=((4, 5),))
    last = shots(first)[-1].camera_from_world[2]
    (now,), (before,) = shots(again), shots(untouched)
    # The sweep ends at 4,5, so the retake of that cell is the very same direction …
    assert separation_deg(now.camera_from_world[2], last) < 0.01
    # … and not the one that was planned.
    assert separation_deg(before.camera_from_world[2], last) > 1.0


def test_a_steady_tripod_stands_as_it_was_set_up() -> None:
    rehearsal = Rehearsal(PLAN, head=replace(STEADY, base_tilt_deg=0.8))
    stance = stance_at_end(rehearsal)
    np.testing.assert_allclose(stance.base_from_world, rehearsal.base())
    assert json.loads(json.dumps(stance.behind_deg)) == [0.0, 0.0]
