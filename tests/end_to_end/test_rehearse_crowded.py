"""A market day, from the rehearsal to the check: seams that cut people are remarked, no more."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from belvedere.foundation import PlanError, finish
from belvedere.workflows.check import check_card
from belvedere.workflows.check_document import check_document
from belvedere.workflows.rehearse import rehearse_card
from belvedere.workflows.rehearse_request import RehearsalRequest, prepare

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs" / "schema" / "truth-1.schema.json").read_text("utf-8"))

SHOOT = """
[shoot]
title = "Saltmere on market day"
[camera]
sensor_width_mm = 7.44
image_width_px = 768
image_height_px = 576
[lens]
focal_length_mm = 50.0
[grid]
left_deg = -12.0
right_deg = 12.0
top_deg = 4.5
bottom_deg = -5.0
overlap = 0.30
[sweep]
interval_s = 3.0
"""


def rehearsed(folder: Path, name: str, **asked: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    """The truth about a rehearsal, and what the check says of it."""
    shoot = folder / "shoot.toml"
    shoot.write_text(SHOOT, "utf-8")
    made = prepare(RehearsalRequest(shoot, seed=5, hazards=("crowded",), **asked))
    report = finish(
        rehearse_card(made.rehearsal, made.make_scene, made.scene_name, folder / name, workers=1)
    )
    truth = json.loads(report.truth.read_text("utf-8"))
    return truth, check_document(finish(check_card(report.card, shoot)))


def moving(answer: dict[str, Any]) -> list[dict[str, Any]]:
    found = [*answer["findings"], *(f for cell in answer["cells"] for f in cell["findings"])]
    found += answer.get("remarks", [])
    return [finding for finding in found if finding["kind"] == "moving"]


def test_who_walks_across_a_seam_is_remarked_and_changes_no_state(tmp_path: Path) -> None:
    truth, answer = rehearsed(tmp_path, "first")
    jsonschema.validate(truth, SCHEMA)
    assert truth["hazards"] == ["crowded"]
    assert truth["crowd"] >= 240
    assert {cell["state"] for cell in truth["cells"]} == {"good"}
    assert answer["verdict"] == "complete"
    assert {cell["state"] for cell in answer["cells"]} == {"good"}
    assert moving(answer)


def test_a_market_day_that_stands_still_has_nothing_that_moved(tmp_path: Path) -> None:
    _, answer = rehearsed(tmp_path, "still", still=True)
    assert answer["verdict"] == "complete"
    assert moving(answer) == []


def test_the_same_people_are_there_in_a_retake(tmp_path: Path) -> None:
    truth, _ = rehearsed(tmp_path, "first", cells="1,1 1,2 1,3 2,1 2,2 2,3")
    request = RehearsalRequest(tmp_path / "shoot.toml", cells="2,2", after=tmp_path / "first")
    later = prepare(request).rehearsal
    assert later.hazards == ("crowded",)
    assert later.crowd == truth["crowd"]


def test_nobody_walks_about_in_a_sketch(tmp_path: Path) -> None:
    (tmp_path / "shoot.toml").write_text(SHOOT, "utf-8")
    with pytest.raises(PlanError, match="needs the built-in harbour"):
        prepare(RehearsalRequest(tmp_path / "shoot.toml", scene="sketch", hazards=("crowded",)))
