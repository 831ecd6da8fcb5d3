"""`belvedere plan --json` keeps to its schema (JSON Schema 2020-12, by the jsonschema library)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from belvedere.shoot import edit_shoot, make_plan, parse_shoot
from belvedere.workflows.plan import plan_document, plan_shoot

DOCS = Path(__file__).resolve().parents[2] / "docs"
EXAMPLE = DOCS / "examples/saltmere/shoot.toml"


@pytest.fixture(scope="module")
def schema() -> Draft202012Validator:
    document = json.loads((DOCS / "schema/plan-1.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(document)
    return Draft202012Validator(document)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"sweep": {"interval_s": None, "order": "columns", "start": "bottom-right"}},
        {"grid": {"left_deg": None, "right_deg": None, "full_turn": True, "top_deg": 90.0}},
        {"grid": {"left_deg": 0.0, "right_deg": 5.0, "top_deg": 2.0, "bottom_deg": 0.0}},
        {"grid": {"columns": 10, "rows": 4}},
        {"shoot": {"title": None}, "camera": {"sensor_height_mm": 5.58}},
    ],
)
def test_documents_keep_to_the_schema(
    schema: Draft202012Validator, changes: dict[str, dict[str, Any]]
) -> None:
    shoot = parse_shoot(edit_shoot(EXAMPLE.read_text("utf-8"), changes))
    document = plan_document(make_plan(shoot))
    schema.validate(json.loads(json.dumps(document, allow_nan=False)))


def test_the_schema_refuses_what_is_not_a_plan(schema: Draft202012Validator) -> None:
    document = plan_document(make_plan(parse_shoot(EXAMPLE.read_text("utf-8"))))
    for change in ({"schema": "belvedere/plan/2"}, {"frames": 0}, {"extra": 1}, {"cells": []}):
        with pytest.raises(ValidationError):
            schema.validate(document | change)


def test_the_file_holds_the_example_as_planned(tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    plan_shoot(EXAMPLE, out)
    document = json.loads(out.read_text("utf-8"))
    assert document["schema"] == "belvedere/plan/1"
    assert document["frames"] == len(document["cells"]) == 60
    assert [row["columns"] for row in document["rows"]] == [12] * 5
    assert document["sweep"]["duration_s"] == 59 * 3.0  # 60 shutter releases, 3 s apart
    mosaic = document["mosaic"]
    scale = document["scale_px_per_deg"]
    assert mosaic["width_px"] == round(82.0 * scale)
    assert mosaic["height_px"] == round(27.0 * scale)
    first, second = document["cells"][:2]
    assert second["bearing_deg"] - first["bearing_deg"] == pytest.approx(
        document["rows"][0]["step_deg"]
    )
    assert list(tmp_path.iterdir()) == [out]


def test_every_key_of_the_shoot_file_is_documented() -> None:
    """A refused key names the nearest known one: those names are the vocabulary."""
    page = (DOCS / "shoot-file.md").read_text("utf-8")
    from belvedere.shoot.shootfile_tables import table_models

    for table, model in table_models().items():
        assert f"## `[{table}]`" in page
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
