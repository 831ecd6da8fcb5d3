"""The judge on rehearsed frames whose faults are known."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.check import Judgement, judge
from belvedere.foundation import CardError, finish
from belvedere.measure import Overlap
from belvedere.rehearse import (
    CameraTraits,
    ColourJump,
    ExposureJump,
    Fault,
    Rehearsal,
    Shaken,
    Soft,
    rehearse,
    sketch_scene,
)
from belvedere.shoot import Frame, Plan, make_plan, parse_shoot

Pixels = NDArray[np.uint8]

SHOOT = """
[shoot]
title = "Saltmere from the mole"
[camera]
sensor_width_mm = 7.44
image_width_px = 640
image_height_px = 480
[lens]
focal_length_mm = 30.5
[grid]
left_deg = -22.0
right_deg = 22.0
top_deg = 12.0
bottom_deg = -12.0
overlap = 0.3
rows = 3
columns = 4
[sweep]
interval_s = 3.0
"""


class Pictures:
    """Frames in memory as a source."""

    def __init__(self, pictures: dict[str, Pixels]) -> None:
        self._pictures = pictures
        self.reads = 0

    def colour(self, file: str, shrink: int = 1) -> Pixels:
        if file not in self._pictures:
            raise CardError(f"{file} is not a picture that can be decoded.")
        picture = self._pictures[file]
        size = (-(-picture.shape[1] // shrink), -(-picture.shape[0] // shrink))
        return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)

    def grey(self, file: str, shrink: int = 1) -> Pixels:
        self.reads += 1
        return np.asarray(cv2.cvtColor(self.colour(file, shrink), cv2.COLOR_RGB2GRAY))


@cache
def _plan() -> Plan:
    return make_plan(parse_shoot(SHOOT))


def _photographed(*faults: Fault, sky: float = 0.15) -> tuple[list[Frame], list[Overlap], Pictures]:
    """Twelve frames with their overlaps, the mapping off by a few pixels as a check has it."""
    plan = _plan()
    rehearsal = Rehearsal(plan, CameraTraits(), faults=tuple(faults), seed=5)
    scene = sketch_scene(plan, 8, sky)
    pictures, rotations, frames = {}, {}, []
    for shot, picture in rehearse(rehearsal, scene):
        assert shot.cell is not None
        file = _file(*shot.cell)
        pictures[file], rotations[shot.cell] = picture, shot.camera_from_world
        frames.append(Frame(file, "", 0, 640, 480, taken_at=shot.taken_at))
    focal = plan.focal_length_px
    camera = np.array([[focal, 0.0, 319.5], [0.0, focal, 239.5], [0.0, 0.0, 1.0]])
    rng = np.random.default_rng(2)
    overlaps = []
    for (row, column), rotation in rotations.items():
        for other in ((row, column + 1), (row + 1, column)):
            if other in rotations:
                mapping = camera @ rotations[other] @ rotation.T @ np.linalg.inv(camera)
                mapping = mapping / mapping[2, 2]
                mapping[:2, 2] += rng.normal(0.0, 2.0, 2)
                overlaps.append(Overlap(_file(row, column), _file(*other), mapping, 1.0))
    return frames, overlaps, Pictures(pictures)


def _file(row: int, column: int) -> str:
    return f"PIC_{row}{column:02d}.JPG"


def _judged(*faults: Fault, sky: float = 0.15) -> Judgement:
    frames, overlaps, source = _photographed(*faults, sky=sky)
    return finish(judge(frames, overlaps, source))


def _kinds(judgement: Judgement) -> dict[str, str]:
    return {finding.file: finding.kind for finding in judgement.findings}


def test_a_shoot_without_faults_has_no_findings() -> None:
    judgement = _judged()
    assert judgement.findings == ()
    assert judgement.shoot_findings == ()


def test_each_fault_is_found_where_it_is() -> None:
    judgement = _judged(
        Soft((2, 2), 1.5),
        Shaken((3, 4), 4.0, 90.0),
        ExposureJump((2, 4), -0.35),
        ColourJump((3, 1), 1.2, 1 / 1.2),
    )
    assert _kinds(judgement) == {
        _file(2, 2): "soft",
        _file(3, 4): "shaken",
        _file(2, 4): "exposure",
        _file(3, 1): "colour",
    }
    found = {finding.kind: finding for finding in judgement.findings}
    # Bounded on both sides by what was asked of the rehearsal.
    assert found["soft"].value == pytest.approx(1.5, abs=0.4)
    assert found["shaken"].value == pytest.approx(4.0, abs=1.2)
    assert "up and down" in found["shaken"].says
    assert found["exposure"].value == pytest.approx(-0.35, abs=0.06)
    assert "darker" in found["exposure"].says
    assert "warmer" in found["colour"].says


def test_neighbours_that_are_soft_alike_do_not_hide_each_other() -> None:
    judgement = _judged(Soft((2, 2), 2.0), Soft((2, 3), 2.0), Soft((3, 2), 2.0))
    assert _kinds(judgement) == {
        _file(2, 2): "soft",
        _file(2, 3): "soft",
        _file(3, 2): "soft",
    }


def test_a_shoot_that_is_soft_as_a_whole_is_not_called_sharp() -> None:
    everywhere = [(row, column) for row in range(1, 4) for column in range(1, 5)]
    judgement = _judged(*(Soft(cell, 3.5) for cell in everywhere))
    assert set(_kinds(judgement).values()) == {"soft"}
    assert len(_kinds(judgement)) == 12
    (whole,) = judgement.shoot_findings
    assert whole.kind == "soft"
    assert whole.value == pytest.approx(3.5, abs=1.0)


def test_a_jump_that_stays_accuses_the_fewer_and_says_so() -> None:
    judgement = _judged(ExposureJump((3, 2), 0.5, onwards=True))
    assert _kinds(judgement) == {_file(3, column): "exposure" for column in (2, 3, 4)}
    for finding in judgement.findings:
        assert "so are all 3 frames from PIC_302.JPG to PIC_304.JPG" in finding.says
        assert "fewer to take again than the other 9" in finding.says
    early = _judged(ExposureJump((1, 4), 0.5, onwards=True))
    assert _kinds(early) == {_file(1, column): "exposure" for column in (1, 2, 3)}


def test_sky_is_never_called_soft() -> None:
    judgement = _judged(sky=0.62)
    assert not [f for f in judgement.findings if f.kind in ("soft", "shaken")]
    assert set(judgement.unjudged) == {_file(1, column) for column in range(1, 5)}
    assert all("nothing to judge here" in why for why in judgement.unjudged.values())
    odd = _judged(ExposureJump((1, 3), 0.5), sky=0.62)
    assert _kinds(odd) == {_file(1, 3): "exposure"}


def test_damaged_and_undecodable_files_are_corrupt_and_nothing_else() -> None:
    frames, overlaps, source = _photographed()
    frames[2] = replace(frames[2], damage="ends in the middle of the picture")
    lost = Frame("PIC_999.JPG", "", 0, 640, 480)
    judgement = finish(judge([*frames, lost], overlaps, source))
    assert _kinds(judgement) == {frames[2].file: "corrupt", "PIC_999.JPG": "corrupt"}
    assert "ends in the middle of the picture" in judgement.findings[0].says


def test_each_frame_is_decoded_once() -> None:
    frames, overlaps, source = _photographed()
    finish(judge(frames, overlaps, source))
    assert source.reads == len(frames)


def test_nothing_to_compare_with_is_no_crash() -> None:
    frames, _, source = _photographed()
    alone = finish(judge(frames[:1], [], source))
    assert alone.findings == ()
    assert list(alone.unjudged) == [frames[0].file]
    nobody = finish(judge([], [], source))
    assert nobody.findings == ()


def test_a_wrong_overlap_accuses_nobody() -> None:
    frames, overlaps, source = _photographed()
    wrong = Overlap(frames[0].file, frames[11].file, np.eye(3), 0.2)
    judgement = finish(judge(frames, [*overlaps, wrong], source))
    assert judgement.findings == ()
