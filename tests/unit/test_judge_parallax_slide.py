"""How far to slide the camera where near things shift against far ones."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from belvedere.check.judge_pairs import PairEvidence
from belvedere.check.judge_shoot import judge_parallax
from belvedere.measure import ToneDifference
from belvedere.shoot import Frame, Plan, make_plan, parse_shoot, pupil_offset_mm

_SHOOT = """
[shoot]
title = "Railing and harbour"
[camera]
sensor_width_mm = 36.0
image_width_px = 6000
image_height_px = 4000
[lens]
focal_length_mm = 50.0
[grid]
left_deg = -60.0
right_deg = 60.0
top_deg = 20.0
bottom_deg = -20.0
overlap = 0.3
"""


def plan(regions: str = "") -> Plan:
    return make_plan(parse_shoot(_SHOOT + regions))


_NEAR_AND_FAR = """
[[regions]]
name = "railing"
kind = "detail"
left_deg = -60.0
right_deg = 60.0
top_deg = 0.0
bottom_deg = -20.0
nearest_m = 3.0
farthest_m = 3.0
[[regions]]
name = "town"
kind = "detail"
left_deg = -60.0
right_deg = 60.0
top_deg = 20.0
bottom_deg = 0.0
nearest_m = 800.0
farthest_m = 800.0
"""


def pairs_with(misfit_px: float) -> list[PairEvidence]:
    nothing = ToneDifference(np.zeros(0), np.zeros((0, 2)), np.zeros(0), np.zeros(0), False)
    shift = np.array([4000.0, 0.0])
    return [
        PairEvidence(n, n + 1, True, 0.8, shift, (0.3, 1.0), misfit_px, 40, None, nothing)
        for n in range(4)
    ]


FRAMES = [Frame(f"PIC_{n:04d}.JPG", "", 0, 6000, 4000) for n in range(5)]


def test_the_slide_is_that_of_the_pinhole_camera() -> None:
    """Turned by its step, a pupil o ahead of the axis lets a point at n meters slip by about
    2 f o sin(step / 2) (1 / n - 1 / F) / cos²(step / 2) pixels against one at F, from half a step
    on one side of the axis to half a step on the other (similar triangles)."""
    shoot = plan(_NEAR_AND_FAR)
    per_px_mm = pupil_offset_mm(shoot, px=1.0)
    assert per_px_mm is not None
    step_rad = math.radians(max(*shoot.column_steps_deg, shoot.row_step_deg))
    focal_px = 50.0 / 36.0 * 6000.0
    px_per_m = 2.0 * focal_px * math.sin(step_rad / 2.0) * (1.0 / 3.0 - 1.0 / 800.0)
    px_per_m /= math.cos(step_rad / 2.0) ** 2
    assert per_px_mm == pytest.approx(1000.0 / px_per_m, rel=0.005)


def test_without_distances_no_slide_is_said() -> None:
    assert pupil_offset_mm(plan(), px=1.0) is None
    (said,) = judge_parallax(FRAMES, pairs_with(12.0), None)
    assert " mm" not in said.says
    assert said.says.startswith("near things move against far ones by 12 px")


def test_the_slide_is_said_in_millimetres() -> None:
    per_px_mm = pupil_offset_mm(plan(_NEAR_AND_FAR), px=1.0)
    assert per_px_mm is not None
    (said,) = judge_parallax(FRAMES, pairs_with(12.0), per_px_mm)
    told = re.search(r"by about (\d+) mm or more at these distances", said.says)
    assert told is not None
    assert float(told.group(1)) == pytest.approx(12.0 * per_px_mm, abs=0.5)
    assert judge_parallax(FRAMES, pairs_with(1.0), per_px_mm) == []
