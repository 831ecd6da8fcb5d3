"""A new shoot file: every key of the vocabulary is explained, and what is written is read."""

from __future__ import annotations

import tomllib
from dataclasses import fields, is_dataclass
from datetime import datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.foundation import PlanError
from belvedere.shoot import conditions, parse_shoot
from belvedere.shoot.shootfile_tables import table_models
from belvedere.shoot.shootfile_writer import (
    KEY_COMMENTS,
    TABLE_COMMENTS,
    commented_shoot_file,
    commented_tables,
)

LITTLE: dict[str, dict[str, Any]] = {
    "shoot": {"title": "Saltmere harbour from the mole"},
    "camera": {"sensor_width_mm": 7.44, "image_width_px": 3648, "image_height_px": 2736},
    "lens": {"focal_length_mm": 30.5},
    "grid": {
        "left_deg": -40.0,
        "right_deg": 40.0,
        "top_deg": 9.0,
        "bottom_deg": -7.5,
        "overlap": 0.3,
    },
    "sweep": {"order": "rows", "interval_s": 3.0},
}


def test_every_table_and_key_of_the_shoot_file_is_explained() -> None:
    """The vocabulary is that of the tables which read the file."""
    models = table_models()
    assert set(TABLE_COMMENTS) == set(models)
    for name, model in models.items():
        assert set(KEY_COMMENTS[name]) == set(model.model_fields), name


def test_every_condition_has_a_key() -> None:
    tables = {"Wish": "wish", "Head": "head", "Region": "regions", "FocusWish": "focus"}
    tables |= {"ExposureWish": "exposure", "Steadiness": "steadiness", "Cycle": "cycle"}
    tables |= {"CardWish": "card", "Power": "power", "Place": "place"}
    for name, table in tables.items():
        kind = getattr(conditions, name)
        assert is_dataclass(kind)
        assert {field.name for field in fields(kind)} == set(KEY_COMMENTS[table])


def test_comments_are_short_and_lines_fit_a_screen() -> None:
    for keys in KEY_COMMENTS.values():
        for comment in keys.values():
            assert comment == comment.strip()
            assert len(comment) <= 72
    text = commented_shoot_file(LITTLE)
    assert max(len(line) for line in text.splitlines()) <= 100


def test_what_is_written_is_read_and_explained() -> None:
    text = commented_shoot_file(LITTLE)
    assert tomllib.loads(text) == LITTLE
    shoot = parse_shoot(text)
    assert shoot.title == "Saltmere harbour from the mole"
    assert shoot.grid.overlap_across == 0.3
    for line in text.splitlines():
        assert not line or line.startswith("[") or "# " in line
    # The order of the job, whatever order the values came in.
    assert text == commented_shoot_file(dict(reversed(LITTLE.items())))
    heads = [line for line in text.splitlines() if line.startswith("[")]
    assert heads == ["[shoot]", "[camera]", "[lens]", "[grid]", "[sweep]"]


def test_a_rich_file_is_read_back_whole() -> None:
    start = datetime(2026, 6, 21, 20, 15, tzinfo=timezone(timedelta(hours=2)))
    rich = LITTLE | {
        "shoot": {"title": "Dusk", "start": start},
        "wish": {"smallest_mm": 12.0, "distance_m": 60.0},
        "head": {"pan_step_deg": 0.5, "highest_deg": 55.0, "settle_s": 1.5},
        "regions": [
            {"name": "the quay", "nearest_m": 40.0, "farthest_m": 300.0},
            {"name": "the sky", "kind": "sky", "bottom_deg": 3.0},
        ],
        "exposure": {"light": "sunset", "lit_from": "side"},
        "card": {"free_gb": 30.0, "speed_class": "V30"},
        "power": {"head_pack_v": 7.2, "head_pack_ah": 2.4},
        "place": {"latitude_deg": 54.0, "longitude_deg": 10.0, "time_zone": "Etc/GMT-2"},
    }
    text = commented_tables(rich)
    assert tomllib.loads(text) == rich
    assert text.count("[[regions]]") == 2


def test_values_that_make_no_shoot_file_are_refused() -> None:
    with pytest.raises(PlanError, match=r"The new shoot file.*overlap"):
        commented_shoot_file(LITTLE | {"grid": LITTLE["grid"] | {"overlap": 1.5}})
    with pytest.raises(PlanError, match="nearest known table is"):
        commented_shoot_file(LITTLE | {"gird": {"rows": 3}})


def test_an_empty_table_is_left_out() -> None:
    assert commented_shoot_file(LITTLE | {"head": {}, "regions": []}) == commented_shoot_file(
        LITTLE
    )


@given(st.text())
def test_any_title_survives(title: str) -> None:
    """Read back by Python's own TOML reader."""
    text = commented_shoot_file(LITTLE | {"shoot": {"title": title}})
    assert tomllib.loads(text)["shoot"]["title"] == title
