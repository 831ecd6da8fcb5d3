"""The interview without a terminal: what is asked, what is understood, what comes of it."""

from __future__ import annotations

import tomllib
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.foundation import BelvedereError, PlanError
from belvedere.shoot import Settings, parse_shoot
from belvedere.workflows.gear import CameraChoice, LensChoice
from belvedere.workflows.interview import TOPICS, Interview
from belvedere.workflows.interview_answers import (
    choice,
    latitude_longitude,
    lens_range_mm,
    near_and_far_m,
    print_and_fineness,
    quantities,
    size_and_distance,
    utc_offset,
)
from belvedere.workflows.interview_file import shoot_text
from belvedere.workflows.interview_gear import Lookups
from belvedere.workflows.interview_questions import questions
from belvedere.workflows.sample_picture import Sample, Sensor

SAMPLE = Sample(
    name="quay.jpg",
    maker="Saltmere Optical",
    model="Quay 1",
    long_side_px=6000,
    short_side_px=4000,
    is_portrait=True,
    written_px=None,
    sensor=Sensor(23.6, 15.73, "from the test", 0.02),
    settings=Settings(focal_length_mm=200.0),
    metered_ev100=13.24,
    says=("Camera: Saltmere Optical Quay 1.",),
    unknown=("The zoom range.",),
)
CAMERAS = (
    CameraChoice("Saltmere Optical", "Quay 1", "", "Mole", 1.526),
    CameraChoice("Saltmere Optical", "Quay 1 S", "", "Mole", 2.0),
)
ZOOM = LensChoice("Saltmere Optical", "Long 70-300", 70.0, 300.0, 4.0, True)


def _find_cameras(query: str) -> tuple[CameraChoice, ...]:
    return tuple(c for c in CAMERAS if query.casefold() in c.model.casefold())


def _find_lenses(query: str, _camera: CameraChoice) -> tuple[LensChoice, ...]:
    return (ZOOM,) if not query or query.casefold() in ZOOM.model.casefold() else ()


LOOKUPS = Lookups(lambda _path: SAMPLE, _find_cameras, _find_lenses)


def _interview() -> Interview:
    return Interview(questions(LOOKUPS))


def _walked(answers: dict[str, str], interview: Interview | None = None) -> Interview:
    """Enter everywhere, but what `answers` types for a key."""
    interview = interview or _interview()
    while (question := interview.question()) is not None:
        interview = interview.answered(answers.get(question.key, ""))
    return interview


def _file(answers: dict[str, str]) -> dict[str, Any]:
    text = shoot_text(_walked(answers).answers)
    parse_shoot(text)
    return tomllib.loads(text)


def test_enter_everywhere_makes_a_shoot_file_of_a_dozen_subjects() -> None:
    walked = _walked({})
    shoot = parse_shoot(shoot_text(walked.answers))
    assert shoot.title == "My first panorama"
    asked = {question.key: question for question in walked.questions}
    assert {asked[key].topic for key in walked.asked} == set(range(1, 13))
    assert len(TOPICS) == 12


def test_every_question_teaches() -> None:
    for question in questions(LOOKUPS):
        for words in (question.text, question.teaches, question.more):
            assert words[-1] in ".?"
            assert "!" not in words
        assert len(question.text) <= 76


def test_a_rich_interview() -> None:
    file = _file(
        {
            "title": "The quay of Saltmere",
            "picture_size": "4000 × 6000",
            "sensor_width": "23.6",
            "mounting": "portrait",
            "lens": "70-300 mm",
            "edges": "-30 to 30",
            "heights": "40 -10",
            "wish_way": "2",
            "wish": "1.2 cm at 60 m",
            "overlap": "0.25",
            "head_step": "0.5 1",
            "head_limits": "-45 60",
            "distances": "40 2 km",
            "light": "7",
            "lit_from": "side",
            "interval": "3",
            "settle": "1.5 s",
            "card": "v30 32GB",
            "head_pack": "7.2 V 2400 mAh",
            "camera_pack": "14",
            "place": "10.1 W 54.3 N",
            "zero_bearing": "215",
            "start": "2027-06-21 20:30",
            "time_zone": "+2",
        }
    )
    assert file["shoot"]["start"] == datetime.fromisoformat("2027-06-21T20:30:00+02:00")
    del file["shoot"]["start"]
    assert file == {
        "shoot": {"title": "The quay of Saltmere"},
        "camera": {
            "sensor_width_mm": 23.6,
            "image_width_px": 6000,
            "image_height_px": 4000,
            "mounting": "portrait",
        },
        "lens": {"shortest_mm": 70.0, "longest_mm": 300.0},
        "wish": {"smallest_mm": 12.0, "pixels_on_it": 8.0, "distance_m": 60.0},
        "grid": {
            "left_deg": -30.0,
            "right_deg": 30.0,
            "top_deg": 40.0,
            "bottom_deg": -10.0,
            "overlap": 0.25,
            "equal_columns": True,
        },
        "sweep": {"order": "rows", "start": "top-left", "serpentine": False, "interval_s": 3.0},
        "head": {
            "pan_step_deg": 0.5,
            "tilt_step_deg": 1.0,
            "lowest_deg": -45.0,
            "highest_deg": 60.0,
            "settle_s": 1.5,
        },
        "regions": [{"name": "the view", "nearest_m": 40.0, "farthest_m": 2000.0}],
        "exposure": {"light": "just before sunset", "lit_from": "side"},
        "card": {"speed_class": "V30", "free_gb": 32.0},
        "power": {"head_pack_v": 7.2, "head_pack_ah": 2.4, "camera_pack_wh": 14.0},
        "place": {"latitude_deg": 54.3, "longitude_deg": -10.1, "zero_bearing_deg": 215.0},
    }


def test_a_full_turn_with_fewer_columns_high_up() -> None:
    grid = _file({"edges": "turn", "heights": "-30 60", "lens": "50"})["grid"]
    assert grid["full_turn"] is True
    assert grid["equal_columns"] is False
    assert "left_deg" not in grid


def test_a_sample_picture_answers_what_it_knows() -> None:
    walked = _walked({"camera_way": "1", "sample": "quay.jpg", "light": "sample"})
    for known in ("picture_size", "sensor_width"):
        assert known not in walked.asked
    file = tomllib.loads(shoot_text(walked.answers))
    assert file["camera"] == {
        "sensor_width_mm": 23.6,
        "image_width_px": 6000,
        "image_height_px": 4000,
        "mounting": "portrait",
    }
    assert file["lens"] == {"focal_length_mm": 200.0}
    assert file["exposure"] == {"ev100": 13.2}


def test_a_sample_without_a_sensor_asks_the_database() -> None:
    """By hand: 43.2666 / 1.526, 3:2: 23.59 mm."""
    bare = replace(SAMPLE, sensor=None, written_px=(3000, 2000))
    lookups = Lookups(lambda _path: bare, _find_cameras, _find_lenses)
    interview = Interview(questions(lookups))
    walked = _walked({"camera_way": "from", "sample": "quay.jpg"}, interview)
    assert tomllib.loads(shoot_text(walked.answers))["camera"] == {
        "sensor_width_mm": 23.59,
        "image_width_px": 3000,
        "image_height_px": 2000,
        "mounting": "portrait",
    }


def test_a_name_that_fits_several_must_be_chosen() -> None:
    interview = _interview()
    for typed in ("", "2", "quay"):
        interview = interview.answered(typed)
    question = interview.question()
    assert question is not None
    assert question.key == "camera_choice"
    lines = question.options(interview.answers)
    assert [line.strip()[0] for line in lines] == ["1", "2"]
    with pytest.raises(PlanError, match="no usual answer"):
        interview.answered("")
    for wrong in ("3", "0", "quay"):
        with pytest.raises(PlanError, match="from 1 to 2"):
            interview.answered(wrong)
    chosen = _walked({"camera_choice": "2", "lens": "long", "wish_way": "1"}, interview)
    file = tomllib.loads(shoot_text(chosen.answers))
    # Half of 43.2666 mm on the diagonal, 3:2.
    assert file["camera"]["sensor_width_mm"] == pytest.approx(18.0, abs=0.01)
    assert file["lens"] == {
        "focal_length_mm": 300.0,
        "shortest_mm": 70.0,
        "longest_mm": 300.0,
        "widest_f_number": 4.0,
    }


def test_going_back_offers_what_was_typed() -> None:
    interview = _interview().answered("The quay").answered("3")
    back = interview.back()
    assert "camera_way" not in back.answers
    assert back.default() == "3"
    first = back.back()
    assert first.default() == "The quay"
    assert first.back() is first
    # What Enter stood for is not kept: it may hang on an answer that is changed now.
    assert _interview().answered("").back().default() == "My first panorama"


def test_a_change_of_mind_asks_what_is_new() -> None:
    interview = _interview().answered("").answered("3")
    question = interview.back().answered("2").question()
    assert question is not None
    assert question.key == "camera_name"


def test_a_lens_that_does_not_do_is_spoken_of_at_once() -> None:
    """By hand: 40,000 px of 6 µm are 240 mm; with 180 mm three quarters of that distance."""
    interview = _interview()
    answers = {"lens": "70-180", "wish_way": "2", "wish": "12 mm at 60 m"}
    while "wish" not in interview.answers:
        question = interview.question()
        assert question is not None
        interview = interview.answered(answers.get(question.key, ""))
    said = " ".join(interview.reply())
    assert "too short" in said
    assert "go to 45 m, or be content with details of 16 mm" in said


def test_a_head_that_does_not_reach_is_spoken_of_at_once() -> None:
    interview = _interview()
    while "head_limits" not in interview.answers:
        question = interview.question()
        assert question is not None
        typed = {"heights": "-8 60", "head_limits": "-30 45"}.get(question.key, "")
        interview = interview.answered(typed)
    assert any("this head stops at +45.0°" in line for line in interview.reply())


WRONG = [
    ("picture_size", "24", "two numbers"),
    ("picture_size", "6,000 x 4,000", "comma"),
    ("sensor_width", "0", "outside"),
    ("sensor_width", "full", "one number"),
    ("mounting", "sideways", "not among"),
    ("lens", "long", "no focal length"),
    ("lens", "0.1", "No lens"),
    ("edges", "40 -40", "must be larger"),
    ("edges", "0 400", "outside"),
    ("edges", "-180 180", "turn"),
    ("heights", "5 5", "same"),
    ("heights", "-8 95", "outside"),
    ("wish_way", "6", "no number 6"),
    ("overlap", "95", "outside"),
    ("head_limits", "45", "two numbers"),
    ("distances", "near", "distances"),
    ("distances", "0 10", "distances"),
    ("light", "sun", "sun on snow or sunny"),
    ("light", "sample", "not among"),
    ("lit_from", "above", "not among"),
    ("interval", "soon", "one number"),
    ("card", "54.3n 10.1e", "not among"),
    ("card", "32 64", "gigabytes and a speed class"),
    ("card", "V31", "not among"),
    ("head_pack", "7.2", "volts and ampere-hours"),
    ("place", "54,3 10,1", "comma"),
    ("place", "95 10", "no map"),
    ("zero_bearing", "south", "one number"),
    ("start", "tomorrow", "no date"),
    ("start", "2027-06-21", "no date"),
    ("time_zone", "+25", "No clock"),
    ("time_zone", "Saltmere", "Saltmere"),
]


@pytest.mark.parametrize(("key", "typed", "says"), WRONG)
def test_what_means_nothing_is_asked_again_kindly(key: str, typed: str, says: str) -> None:
    interview = _interview()
    on_the_way = {"place": "54.3 10.1", "start": "2027-06-21 20:30"}
    while (question := interview.question()) is not None and question.key != key:
        interview = interview.answered(on_the_way.get(question.key, ""))
    with pytest.raises(BelvedereError) as refused:
        interview.answered(typed)
    assert says in str(refused.value)


def test_numbers_and_units_as_people_type_them() -> None:
    assert quantities("−40 to 40°") == [(-40.0, ""), (40.0, "")]
    assert size_and_distance("1.2 cm at 0.06 km", "") == pytest.approx((12.0, 60.0))
    assert size_and_distance("12 60", "") == (12.0, 60.0)
    assert near_and_far_m("40 far", "") == (40.0, None)
    assert near_and_far_m("2 km 40 m", "") == (40.0, 2000.0)
    assert print_and_fineness("3 m at 150 dpi", "") == (3000.0, 150.0, None)
    assert print_and_fineness("300 cm from 2 m", "") == (3000.0, None, 2.0)
    assert latitude_longitude("54.3 N, 10.1 W", "") == (54.3, -10.1)
    assert latitude_longitude("-33.9° 151.2°", "") == (-33.9, 151.2)
    for text in ("300", "300mm", "300 mm"):
        assert lens_range_mm(text) == (300.0, 300.0)
    for text in ("70-300", "70 – 300 mm", "300 to 70", "70mm-300mm"):
        assert lens_range_mm(text) == (70.0, 300.0)
    assert lens_range_mm("Long 70-300 II") is None
    assert [utc_offset(t) for t in ("UTC", "+2", "UTC-3:30", "Etc/UTC")] == [
        "+00:00",
        "+02:00",
        "-03:30",
        None,
    ]
    assert choice("Po", ("landscape", "portrait")) == "portrait"


@given(st.data())
def test_whatever_is_typed_the_interview_goes_on(data: st.DataObject) -> None:
    """Anything is either understood or refused in a sentence, and Enter always leads on."""
    interview = _interview()
    stop = data.draw(st.integers(0, 25))
    typed = data.draw(st.text(max_size=20) | st.sampled_from(["-1 1", "1", "9 mm 9", "٣", "²"]))
    for _ in range(stop):
        question = interview.question()
        if question is None:
            break
        interview = interview.answered("")
    if interview.question() is not None:
        before = interview.answers
        with suppress(BelvedereError):
            interview = interview.answered(typed)
        assert len(interview.answers) - len(before) in (0, 1)


def test_where_a_path_is_dragged_into_the_window(tmp_path: Path) -> None:
    picture = tmp_path / "from the mole.jpg"
    picture.write_bytes(b"")
    seen: list[Path] = []

    def read(path: Path) -> Sample:
        seen.append(path)
        return SAMPLE

    lookups = Lookups(read, _find_cameras, _find_lenses)
    for typed in (f"'{picture}'", f'"{picture}"', str(picture).replace(" ", "\\ "), str(picture)):
        Interview(questions(lookups)).answered("").answered("1").answered(typed)
    assert seen == [picture] * 4
