"""The shoot file: what it says, and what it says when something is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from belvedere.foundation import PlanError
from belvedere.shoot import Camera, GridWish, Lens, Sweep, edit_shoot, make_plan, parse_shoot
from belvedere.workflows.shootfile import load_shoot

EXAMPLE = Path(__file__).resolve().parents[2] / "docs/examples/saltmere/shoot.toml"

GOOD = """\
# Kept with the tripod.
[shoot]
title = "The lighthouse of Saltmere"

[camera]
sensor_width_mm = 36.0
image_width_px = 6000
image_height_px = 4000  # not the JPEG's small size

[lens]
focal_length_mm = 300

[grid]
left_deg = -10.0
right_deg = 10.0
top_deg = 8.0
bottom_deg = -4.0
overlap = 0.30    # the wind was strong last time

[sweep]
order = "columns"
start = "bottom-right"
serpentine = true
interval_s = 2.5
"""


def _without(*lines: str) -> str:
    return "\n".join(line for line in GOOD.splitlines() if not line.startswith(lines))


def _refusal(text: str) -> str:
    with pytest.raises(PlanError) as refused:
        parse_shoot(text)
    return str(refused.value)


def test_says_what_is_written() -> None:
    shoot = parse_shoot(GOOD)
    assert shoot.title == "The lighthouse of Saltmere"
    assert shoot.camera == Camera(36.0, 24.0, 6000, 4000)
    assert shoot.lens == Lens(300.0)
    assert shoot.grid == GridWish(8.0, -4.0, -10.0, 10.0, 0.30, 0.30)
    assert shoot.sweep == Sweep("columns", "bottom-right", True, 2.5)


def test_little_is_enough() -> None:
    text = _without("[shoot]", "title", "[sweep]", "order", "start", "serpentine", "interval_s")
    shoot = parse_shoot(text)
    assert shoot.title == ""
    assert shoot.sweep == Sweep("rows", "top-left", False, None)


def test_the_sensors_height_follows_from_square_pixels_or_is_given() -> None:
    upright = GOOD.replace("image_width_px = 6000", "image_width_px = 4000").replace(
        "image_height_px = 4000", "image_height_px = 6000"
    )
    assert parse_shoot(upright).camera.sensor_height_mm == pytest.approx(54.0)
    given = GOOD.replace("[camera]", "[camera]\nsensor_height_mm = 23.9")
    assert parse_shoot(given).camera.sensor_height_mm == 23.9


@pytest.mark.parametrize(
    ("grid", "equal"),
    [
        ("left_deg = -10.0\nright_deg = 10.0", True),
        ("left_deg = -10.0\nright_deg = 10.0\nequal_columns = false", False),
        ("full_turn = true", False),
        ("full_turn = true\nequal_columns = true", True),
        ("full_turn = true\ncolumns = 90", True),
    ],
)
def test_equal_columns_unless_it_is_a_full_turn(grid: str, equal: bool) -> None:
    text = _without("left_deg", "right_deg").replace("[grid]", f"[grid]\n{grid}")
    assert parse_shoot(text).grid.equal_columns is equal


def test_the_example_is_five_rows_of_twelve() -> None:
    plan = make_plan(load_shoot(EXAMPLE))
    assert plan.columns_per_row == (12,) * 5
    assert plan.overlap_across >= 0.30
    assert plan.overlap_down >= 0.30


#: One change to the good file each, and what the refusal must name.
REFUSALS = [
    ("overlap = 0.30", "overlap = 1.2", ["overlap", "[grid]", "1.2", "0.9"]),
    ("overlap = 0.30", "overlap = 0", ["overlap", "[grid]", "is 0", "more than 0"]),
    ("overlap = 0.30", "overlap = 30", ["30", "share", "0.30 means 30 %"]),
    ("overlap = 0.30", "overlap = nan", ["overlap", "finite"]),
    ("overlap = 0.30", 'overlap = "0.3"', ["overlap", '"0.3"', "without quotes"]),
    ("overlap = 0.30", "overlap = true", ["overlap", "true", "number"]),
    ("overlap", "overlp", ["overlp", "[grid]", "nearest known key is overlap"]),
    ("focal_length_mm", "focal_lenght_mm", ["focal_lenght_mm", "is focal_length_mm"]),
    ("left_deg", "lefft_deg", ["lefft_deg", "is left_deg"]),
    ("[sweep]", "[sweeps]", ["sweeps", "nearest known table is [sweep]"]),
    ("[lens]", "[Lens]", ["Lens", "nearest known table is [lens]"]),
    ("[lens]", "[lens]\noverlap = 0.3", ["overlap", "[lens]", "Move it to [grid]"]),
    ("# Kept", "overlap = 0.3\n# Kept", ["overlap", "outside any table", "[grid]"]),
    ("focal_length_mm = 300", "", ["focal_length_mm", "[lens]", "missing"]),
    ("focal_length_mm = 300", "focal_length_mm = -300", ["-300", "more than 0"]),
    ("focal_length_mm = 300", "focal_length_mm = inf", ["focal_length_mm", "finite"]),
    ("image_width_px = 6000", "image_width_px = 6000.5", ["6000.5", "whole number"]),
    ("image_width_px = 6000", "image_width_px = 0", ["image_width_px", "0", "at least 16"]),
    ("[camera]", "[camera]\nsensor_height_mm = 16.0", ["sensor_height_mm", "16", "24.00"]),
    ("top_deg = 8.0", "top_deg = -8.0", ["top_deg", "-8", "bottom_deg", "-4", "Swap"]),
    ("top_deg = 8.0", "top_deg = 95.0", ["top_deg", "95", "at most 90", "zenith"]),
    ("right_deg = 10.0", "right_deg = -20.0", ["right_deg", "-20", "left_deg", "360"]),
    ("right_deg = 10.0", "right_deg = 350.0", ["360°", "full_turn = true"]),
    ("right_deg = 10.0", "", ["right_deg", "missing", "full_turn = true"]),
    ("right_deg = 10.0", "full_turn = true", ["full_turn", "left_deg", "out"]),
    ("[grid]", "[grid]\nrows = 0", ["rows", "[grid]", "at least 1"]),
    ("[grid]", "[grid]\ncolumns = 9\nequal_columns = false", ["columns", "equal_columns"]),
    ('order = "columns"', 'order = "spiral"', ["order", '"spiral"', '"rows"', '"columns"']),
    ('start = "bottom-right"', 'start = "middle"', ["start", '"middle"', '"bottom-right"']),
    ("serpentine = true", "serpentine = 1", ["serpentine", "true or false"]),
    ("interval_s = 2.5", "interval_s = 0", ["interval_s", "more than 0"]),
    ('title = "The lighthouse of Saltmere"', "title = 7", ["title", "7", 'in "quotes"']),
]


@pytest.mark.parametrize(("old", "new", "names"), REFUSALS)
def test_a_slip_is_named(old: str, new: str, names: list[str]) -> None:
    assert old in GOOD
    said = _refusal(GOOD.replace(old, new, 1))
    assert said.startswith("shoot.toml")
    for name in names:
        assert name in said


def test_a_table_given_as_a_value_is_named() -> None:
    said = _refusal("lens = 300\n" + _without("[lens]", "focal_length_mm"))
    assert "lens must be a table" in said


def test_all_problems_come_at_once() -> None:
    text = GOOD.replace("overlap = 0.30", "overlap = 1.2").replace("[lens]", "[lense]")
    text = text.replace("top_deg = 8.0", "top_deg = -8.0")
    text = text.replace("image_width_px = 6000", "").replace("[sweep]", "[sweep]\nwind = 3")
    said = _refusal(text)
    assert "5 problems" in said
    assert said.count("\n  - ") == 5
    for name in ("overlap", "lense", "wind", "image_width_px in [camera] is missing", "Swap"):
        assert name in said


@pytest.mark.parametrize(
    ("right", "wrong"),
    [("overlap", "overlp"), ("left_deg", "lefft_deg"), ("[lens]", "[lense]"), ("[grid]", "[gird]")],
)
def test_a_misspelt_name_is_one_problem(right: str, wrong: str) -> None:
    said = _refusal(GOOD.replace(right, wrong, 1))
    assert "problems" not in said
    assert f"is {right}." in said or f"nearest known table is {right}." in said


@pytest.mark.parametrize(
    ("text", "line"),
    [("[grid\n", "line 1"), ("[grid]\noverlap = \n", "line 2"), ("[a]\nb = 1\nb = 2\n", "line 3")],
)
def test_a_syntax_error_names_its_line(text: str, line: str) -> None:
    said = _refusal(text)
    assert "not valid TOML" in said
    assert line in said


def test_an_empty_file_asks_for_its_tables() -> None:
    said = _refusal("")
    for table in ("[camera]", "[grid]"):
        assert f"the table {table} is missing" in said
    assert "focal_length_mm in [lens] is missing" in said


def test_loading_from_disk(tmp_path: Path) -> None:
    path = tmp_path / "shoot.toml"
    with pytest.raises(PlanError, match="no shoot file"):
        load_shoot(path)
    path.write_text(GOOD, "utf-8")
    assert load_shoot(path) == load_shoot(tmp_path) == parse_shoot(GOOD)
    path.write_bytes(b'[shoot]\ntitle = "Caf\xe9"\n')
    with pytest.raises(PlanError, match=r"not UTF-8 text \(line 2\)"):
        load_shoot(path)
    path.write_text(GOOD.replace("overlap", "overlp"), "utf-8")
    with pytest.raises(PlanError, match=f"{path}: the key overlp"):
        load_shoot(path)


def test_an_edit_keeps_comments_and_layout() -> None:
    edited = edit_shoot(GOOD, {"grid": {"overlap": 0.35}, "shoot": {"title": "Again"}})
    expected = GOOD.replace("overlap = 0.30    #", "overlap = 0.35    #").replace(
        "The lighthouse of Saltmere", "Again"
    )
    assert edited == expected


def test_an_edit_adds_and_takes_out() -> None:
    edited = edit_shoot(GOOD, {"grid": {"rows": 4}, "sweep": {"interval_s": None}})
    shoot = parse_shoot(edited)
    assert shoot.grid.rows == 4
    assert shoot.sweep.interval_s is None
    assert "# the wind was strong last time" in edited
    bare = _without("[shoot]", "title", "[sweep]", "order", "start", "serpentine", "interval_s")
    assert parse_shoot(edit_shoot(bare, {"sweep": {"interval_s": 4.0}})).sweep.interval_s == 4.0
    assert parse_shoot(edit_shoot(bare, {"sweep": {"interval_s": None}})).sweep.interval_s is None


def test_an_edit_that_breaks_the_file_is_refused() -> None:
    with pytest.raises(PlanError, match="overlap"):
        edit_shoot(GOOD, {"grid": {"overlap": 1.5}})
    with pytest.raises(PlanError, match="nearest known key is overlap"):
        edit_shoot(GOOD, {"grid": {"overlapp": 0.5}})


def test_dotted_and_inline_tables_are_edited_too() -> None:
    text = GOOD.replace("[lens]\nfocal_length_mm = 300", "").replace(
        "# Kept", "lens.focal_length_mm = 300 # long\n# Kept"
    )
    edited = edit_shoot(text, {"lens": {"focal_length_mm": 200.0}})
    assert parse_shoot(edited).lens.focal_length_mm == 200.0
    assert "# long" in edited
    inline = GOOD.replace("[lens]\nfocal_length_mm = 300", "").replace(
        "# Kept", "lens = { focal_length_mm = 300 } # long\n# Kept"
    )
    edited = edit_shoot(inline, {"lens": {"focal_length_mm": 200.0}})
    assert parse_shoot(edited).lens.focal_length_mm == 200.0
    assert "# long" in edited


@pytest.mark.parametrize(
    "value", ["1" * 400, "1" * 5000, "[" * 3000, "1979-05-27", "[1, 2]", "{ a = 1 }", '"""\nx"""']
)
def test_strange_values_are_refused_in_words(value: str) -> None:
    for key in ("top_deg = 8.0", "overlap = 0.30"):
        assert _refusal(GOOD.replace(key, f"{key.split()[0]} = {value}"))
