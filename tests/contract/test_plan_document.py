"""`belvedere plan --json` keeps to its schema (JSON Schema 2020-12, by the jsonschema library)."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from belvedere.shoot import brief, edit_shoot, make_plan, parse_shoot
from belvedere.workflows.plan import plan_shoot
from belvedere.workflows.plan_document import plan_text

DOCS = Path(__file__).resolve().parents[2] / "docs"
EXAMPLE = DOCS / "examples/saltmere/shoot.toml"


@pytest.fixture(scope="module")
def schema() -> Draft202012Validator:
    document = json.loads((DOCS / "schema/plan-1.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(document)
    return Draft202012Validator(document)


def _document(changes: dict[str, dict[str, Any]], more: str = "") -> dict[str, Any]:
    text = edit_shoot(EXAMPLE.read_text("utf-8"), changes) + more
    written = plan_text(brief(make_plan(parse_shoot(text))))
    document: dict[str, Any] = json.loads(written)
    return document


PLACE = {"latitude_deg": 54.0, "longitude_deg": 8.0}
REGIONS = """
[[regions]]
name = "the rail"
nearest_m = 3.0
farthest_m = 5.0
top_deg = -4.0

[[regions]]
name = "the sky"
kind = "sky"
bottom_deg = 4.0
"""


@pytest.mark.parametrize(
    ("changes", "more"),
    [
        ({}, ""),
        ({"sweep": {"interval_s": None, "order": "columns", "start": "bottom-right"}}, ""),
        ({"grid": {"left_deg": None, "right_deg": None, "full_turn": True, "top_deg": 90.0}}, ""),
        ({"grid": {"left_deg": 0.0, "right_deg": 5.0, "top_deg": 2.0, "bottom_deg": 0.0}}, ""),
        ({"grid": {"columns": 10, "rows": 4}}, ""),
        ({"shoot": {"title": None}, "camera": {"sensor_height_mm": 5.58}}, ""),
        ({}, REGIONS),
        ({"shoot": {"start": datetime(2026, 6, 21, 20, 0, tzinfo=UTC)}, "place": PLACE}, ""),
        ({"shoot": {"start": datetime(2026, 12, 21, 23, 0, tzinfo=UTC)}, "place": PLACE}, ""),
        ({"lens": {"focal_length_mm": None}, "wish": {"gigapixels": 0.2}}, ""),
        ({"power": {"head_pack_v": 7.2, "head_pack_ah": 2.0}, "card": {"free_gb": 1.0}}, ""),
    ],
)
def test_documents_keep_to_the_schema(
    schema: Draft202012Validator, changes: dict[str, dict[str, Any]], more: str
) -> None:
    schema.validate(_document(changes, more))


def test_the_schema_refuses_what_is_not_a_plan(schema: Draft202012Validator) -> None:
    document = _document({})
    for change in ({"schema": "belvedere/plan/2"}, {"grid": {}}, {"extra": 1}, {"cells": []}):
        with pytest.raises(ValidationError):
            schema.validate(document | change)


#: What scripts may rely on, whatever else a later version adds.
PROMISED = {
    "grid": ("rows", "columns", "frames"),
    "mosaic": ("width_px", "height_px", "gigapixels", "deg_per_px"),
    "optics": (
        "hfov_deg",
        "vfov_deg",
        "pixel_pitch_um",
        "hyperfocal_m",
        "near_m",
        "far_m",
        "airy_um",
        "mtf_at_nyquist",
    ),
    "exposure": ("ev100", "shutter_s"),
    "timing": ("interval_s", "missing_frame_probability", "duration_s"),
    "card": ("bytes",),
    "power": ("wh",),
    "light": ("sun",),
}


def test_the_promised_names_are_there_and_hold_the_example_as_planned(tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    plan_shoot(EXAMPLE, out)
    document = json.loads(out.read_text("utf-8"))
    assert document["schema"] == "belvedere/plan/1"
    for table, names in PROMISED.items():
        assert set(names) <= set(document[table]), table
    for said in document["advice"]:
        assert set(said) == {"severity", "says", "because", "try"}
    grid, mosaic = document["grid"], document["mosaic"]
    assert (grid["rows"], grid["columns"], grid["frames"]) == (5, [12] * 5, 60)
    assert len(document["cells"]) == 60
    assert mosaic["width_px"] == round(82.0 / mosaic["deg_per_px"])
    assert mosaic["height_px"] == round(27.0 / mosaic["deg_per_px"])
    first, second = document["cells"][:2]
    assert second["bearing_deg"] - first["bearing_deg"] == pytest.approx(
        grid["each_row"][0]["step_deg"]
    )
    assert second["release_s"] - first["release_s"] == pytest.approx(3.0)
    assert document["timing"]["duration_s"] == document["cells"][-1]["release_s"]
    assert list(tmp_path.iterdir()) == [out]


def test_every_key_of_the_shoot_file_is_documented() -> None:
    """A refused key names the nearest known one: those names are the vocabulary."""
    page = (DOCS / "shoot-file.md").read_text("utf-8")
    from belvedere.shoot.shootfile_tables import REPEATED, table_models

    for table, model in table_models().items():
        heading = f"[[{table}]]" if table in REPEATED else f"[{table}]"
        assert f"## `{heading}`" in page
        for key in model.model_fields:
            assert f"`{key}`" in page, f"{key} in [{table}] is not in docs/shoot-file.md"


def test_the_page_shows_the_example_as_it_is() -> None:
    """The TOML on the page plans to what the page prints below it."""
    page = (DOCS / "shoot-file.md").read_text("utf-8")
    toml = page.split("```toml\n")[1].split("```")[0]
    on_page = parse_shoot(toml)
    assert on_page == parse_shoot(EXAMPLE.read_text("utf-8"))
    plan = make_plan(on_page)
    assert (
        f"{plan.rows} rows × {plan.columns_per_row[0]} columns = {len(plan.cells)} frames" in page
    )
    assert f"at least {plan.overlap_across:.1%} across and {plan.overlap_down:.1%} down" in page
    assert f"{plan.mosaic_width_px:,} × {plan.mosaic_height_px:,} px" in page
