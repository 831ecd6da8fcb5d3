"""The bench of the check: what it holds to be true, against plain geometry and moments."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bench"))

from belvedere.foundation import finish
from belvedere.rehearse import (
    Bumped,
    ColourJump,
    ExposureJump,
    Fault,
    HeadTraits,
    Missing,
    PowerPulled,
    Rehearsal,
    Shaken,
    Slipped,
    Soft,
    sketch_scene,
)
from belvedere.shoot import make_plan
from belvedere.workflows.rehearse import rehearse_card
from check_cases import case
from check_faults import _KINDS
from check_gaps import find_gaps
from check_score import Score, score_shoot
from check_synthetic import plan_of
from check_truth import must_by_class, truth_of

STEADY = HeadTraits(pointing_error_deg=0.0, base_tilt_deg=0.6)


def documents(tmp_path: Path, *faults: Fault) -> tuple[Rehearsal, list[dict[str, Any]]]:
    plan = plan_of(3, 4, overlap=0.3)
    rehearsal = Rehearsal(plan, head=STEADY, faults=faults, seed=4)
    scene = sketch_scene(plan, 2)
    tmp_path.mkdir(exist_ok=True)
    report = finish(rehearse_card(rehearsal, lambda: scene, "sketch", tmp_path / "card", workers=1))
    return rehearsal, [report.document]


def test_blur_is_graded_by_the_deviation_that_it_adds(tmp_path: Path) -> None:
    # A uniform streak of length L has the deviation L / √12: 3.6 px adds 1.04 px, 2.6 px adds
    # 0.75 px (moments of a uniform distribution).
    rehearsal, told = documents(
        tmp_path,
        Shaken((1, 2), 3.6, 0.0),
        Shaken((2, 1), 2.6, 90.0),
        Soft((3, 1), 0.3),
        Soft((2, 3), 1.1),
        Soft((3, 4), 0.7),
    )
    truth = truth_of(rehearsal, told)

    def graded(cell: tuple[int, int]) -> tuple[set[str], set[str]]:
        frame = truth.frames[truth.takes[cell][0]]
        return set(frame.must), set(frame.free)

    assert graded((1, 2)) == ({"shaken"}, set())
    assert graded((2, 1)) == (set(), {"soft", "shaken"})
    assert graded((3, 1)) == (set(), set())
    assert graded((2, 3)) == ({"soft"}, set())
    assert graded((3, 4)) == (set(), {"soft", "shaken"})
    assert graded((1, 1)) == (set(), set())


def test_the_larger_class_is_the_usual_one_unless_they_are_nearly_equal(tmp_path: Path) -> None:
    rehearsal, told = documents(tmp_path, ExposureJump((3, 2), 0.5, onwards=True))
    truth = truth_of(rehearsal, told)
    late = {truth.takes[3, column][0] for column in (2, 3, 4)}
    early = set(truth.frames) - late
    assert must_by_class(truth, "exposure", late) == (late, set())
    assert must_by_class(truth, "exposure", early) == (late, set())

    rehearsal, told = documents(tmp_path / "even", ExposureJump((2, 3), 0.5, onwards=True))
    truth = truth_of(rehearsal, told)
    late = {file for cell in truth.takes if cell >= (2, 3) for file in truth.takes[cell]}
    early = set(truth.frames) - late
    assert len(late) == len(early) == 6
    assert must_by_class(truth, "exposure", early)[0] == early
    assert must_by_class(truth, "exposure", late)[0] == late


def test_colour_is_graded_by_what_grey_becomes(tmp_path: Path) -> None:
    rehearsal, told = documents(tmp_path, ColourJump((1, 2), 1.25, 0.8), ColourJump((2, 2), 1.01))
    truth = truth_of(rehearsal, told)
    must, _ = must_by_class(truth, "colour", set())
    assert must >= {truth.takes[1, 2][0]}
    assert truth.takes[1, 1][0] not in must


def test_an_entry_without_content_is_damaged_and_the_rest_is_missing(tmp_path: Path) -> None:
    rehearsal, told = documents(tmp_path, PowerPulled((3, 2), 0.5))
    truth = truth_of(rehearsal, told)
    assert truth.frames[truth.takes[3, 2][0]].must == {"corrupt"}
    assert truth.frames[truth.takes[3, 3][0]].must == {"corrupt"}
    assert truth.takes[3, 4] == ()


@pytest.mark.parametrize(("share", "lost"), [(0.1, False), (0.4, True)])
def test_a_slip_loses_the_far_edge_of_the_picture(tmp_path: Path, share: float, lost: bool) -> None:
    # The head goes down a column and stays short: by a tenth of a frame is a matter of opinion,
    # by four tenths the lower edge of the picture is on no frame.
    plan = plan_of(3, 4, order="columns")
    slip = Slipped((2, 2), share * plan.vertical_fov_deg)
    faulty = Rehearsal(plan, head=STEADY, faults=(slip,), seed=4)
    scene = sketch_scene(plan, 2)
    told = finish(
        rehearse_card(faulty, lambda: scene, "sketch", tmp_path / "card", workers=1)
    ).document
    gaps = find_gaps(faulty, [told])
    assert gaps.somewhere == lost
    if lost:
        assert {(3, 2), (3, 3), (3, 4)} <= gaps.surely[0]


def test_a_knock_within_the_rim_leaves_no_hole_and_a_great_one_does(tmp_path: Path) -> None:
    fov_deg = plan_of(3, 4).horizontal_fov_deg
    rehearsal, told = documents(tmp_path / "a", Bumped((2, 2), 0.03 * fov_deg))
    assert not find_gaps(rehearsal, told).somewhere
    rehearsal, told = documents(tmp_path / "b", Bumped((2, 2), 0.6 * fov_deg))
    gaps = find_gaps(rehearsal, told)
    assert gaps.somewhere
    assert {(2, 1), (2, 2)} & gaps.perhaps


def test_what_is_missing_for_other_reasons_is_no_hole(tmp_path: Path) -> None:
    rehearsal, told = documents(tmp_path, Bumped((2, 2), 0.1), Missing((3, 2)))
    assert not find_gaps(rehearsal, told).somewhere


def test_an_answer_that_says_good_of_everything_is_counted_as_what_it_is(tmp_path: Path) -> None:
    rehearsal, told = documents(tmp_path, Missing((2, 2)), Soft((1, 3), 2.0))
    truth = truth_of(rehearsal, told)
    cells = [
        {
            "row": row,
            "column": column,
            "state": "good",
            "frames": list(truth.takes[row, column][:1]),
            "findings": [],
        }
        for row, column in truth.takes
    ]
    placements = [
        {"file": file, "row": row, "column": column, "confidence": 1.0}
        for (row, column), files in truth.takes.items()
        for file in files
    ]
    answer = {"verdict": "complete", "cells": cells, "placements": placements, "findings": []}
    score = score_shoot(Score(0, 1, "sketch", {}), truth, answer)
    assert score.wrongly_complete
    assert score.matrix["missing"] == {"good": 1}
    assert score.matrix["soft"] == {"good": 1}
    assert score.matrix["good"] == {"good": 10}
    assert score.misplaced == 0


def test_cases_follow_from_the_seed_and_have_every_kind_of_fault() -> None:
    once, again = case(3, 77), case(3, 77)
    assert once.shoot_toml == again.shoot_toml
    assert once.rehearsal.faults == again.rehearsal.faults
    met = {type(f) for n in range(250) for f in case(n, 77).rehearsal.faults}
    rng = np.random.default_rng(1)
    plan = make_plan(once.plan.shoot)
    kinds = {type(draw((2, 2), plan, rng)) for _, draw in _KINDS.values()}
    assert met >= kinds
