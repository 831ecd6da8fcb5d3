"""Whatever a shoot file holds: a shoot, or a refusal in words; and edits that come back."""

from __future__ import annotations

import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.foundation import PlanError
from belvedere.shoot import edit_shoot, parse_shoot

BASE = """\
# The mole, first try.
[camera]   # the old one
sensor_width_mm = 36.0   # full width
image_width_px = 6000
image_height_px = 4000

[lens]
focal_length_mm = 300.0 # the long one

[grid]
# edges
left_deg = -10.0
right_deg = 10.0
top_deg = 8.0
bottom_deg = -4.0
overlap = 0.30           # windy

[sweep]
interval_s = 3.0         # slow card
"""
COMMENTS = [line[line.index("#") :] for line in BASE.splitlines() if "#" in line]

numbers = st.one_of(st.integers(), st.floats(), st.integers(-400, 400), st.floats(-400.0, 400.0))
values = st.one_of(
    numbers, st.booleans(), st.text(max_size=8), st.lists(numbers, max_size=2), st.dates()
)
keys = st.sampled_from(
    [
        "sensor_width_mm",
        "sensor_height_mm",
        "image_width_px",
        "image_height_px",
        "focal_length_mm",
        "left_deg",
        "right_deg",
        "top_deg",
        "bottom_deg",
        "overlap",
        "rows",
        "columns",
        "full_turn",
        "equal_columns",
        "order",
        "start",
        "serpentine",
        "interval_s",
        "title",
        "overlp",
    ]
)
tables = st.sampled_from(["shoot", "camera", "lens", "grid", "sweep", "grids"])


@settings(deadline=None)
@given(st.text(alphabet="[]=\"'#.\n abcd_0123-+einftru{},", max_size=60))
def test_any_text_is_a_shoot_or_a_refusal(text: str) -> None:
    try:
        parse_shoot(text)
    except PlanError as refused:
        assert str(refused).startswith("shoot.toml")  # noqa: PT017


@settings(deadline=None)
@given(st.lists(st.tuples(tables, keys, values), max_size=4))
def test_any_values_are_a_shoot_or_a_refusal(changes: list[tuple[str, str, object]]) -> None:
    document = tomlkit.parse(BASE)
    for table, key, value in changes:
        document.setdefault(table, tomlkit.table())[key] = value
    try:
        shoot = parse_shoot(tomlkit.dumps(document))
    except PlanError as refused:
        assert "shoot.toml" in str(refused)  # noqa: PT017
        return
    assert 0.0 < shoot.grid.overlap_across <= 0.9
    assert shoot.grid.bottom_deg < shoot.grid.top_deg
    assert min(shoot.camera.image_width_px, shoot.camera.image_height_px) >= 16
    if not shoot.grid.full_turn:
        assert shoot.grid.left_deg is not None
        assert shoot.grid.right_deg is not None
        assert 0.0 < shoot.grid.right_deg - shoot.grid.left_deg < 360.0


@settings(deadline=None)
@given(
    overlap=st.floats(0.01, 0.9),
    top=st.floats(-3.9, 90.0),
    rows=st.one_of(st.none(), st.integers(1, 99)),
    title=st.one_of(st.none(), st.text(max_size=20)),
    interval=st.one_of(st.none(), st.floats(0.1, 99.0)),
)
def test_an_edit_says_what_it_was_told_and_keeps_every_comment(
    overlap: float, top: float, rows: int | None, title: str | None, interval: float | None
) -> None:
    edited = edit_shoot(
        BASE,
        {
            "grid": {"overlap": overlap, "top_deg": top, "rows": rows},
            "shoot": {"title": title},
            "sweep": {"interval_s": 1.0},
        },
    )
    shoot = parse_shoot(edited)
    assert (shoot.grid.overlap_across, shoot.grid.top_deg) == (overlap, top)
    assert (shoot.grid.rows, shoot.title) == (rows, title or "")
    for comment in COMMENTS:
        assert comment in edited
    # And back again: the same text, but for what was added.
    back = edit_shoot(
        edited,
        {"grid": {"overlap": 0.30, "top_deg": 8.0, "rows": None}, "sweep": {"interval_s": 3.0}},
    )
    assert parse_shoot(back).grid == parse_shoot(BASE).grid
    if title is None:
        assert back == BASE.replace("overlap = 0.30 ", "overlap = 0.3 ")
    if interval is not None:
        assert (
            parse_shoot(edit_shoot(back, {"sweep": {"interval_s": interval}})).sweep.interval_s
            == interval
        )
