"""The picture of the checked grid: read back from its SVG, drawn as PNG, and measured."""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from belvedere.imagefiles import jpeg_bytes
from belvedere.sheet import GridCell, GridLayout, checked_grid, lay_checked_grid, picture_png
from belvedere.sheet.fault_marks import fault_mark

SVG = "{http://www.w3.org/2000/svg}"
STATES = ("missing", "corrupt", "soft", "shaken", "exposure", "colour", "unsure")


def drawn(layout: GridLayout, states: dict[tuple[int, int], str]) -> ET.Element:
    thumbnails = jpeg_bytes(np.full((90, 120, 3), 90, dtype=np.uint8))
    cells = [
        GridCell(row, column, states.get((row, column), "good"))
        for row, count in enumerate(layout.columns_per_row, start=1)
        for column in range(1, count + 1)
    ]
    picture = checked_grid(layout, cells, thumbnails, "RE-SHOOT", "3 cells", "Saltmere")
    return ET.fromstring(picture)


def words(root: ET.Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{SVG}text")]


@given(st.integers(1, 120), st.integers(1, 100), st.sampled_from([0.5, 0.75, 4 / 3, 1.5, 2.5]))
def test_any_grid_fits_a_screen(columns: int, rows: int, shape: float) -> None:
    layout = lay_checked_grid([columns] * rows, shape)
    assert layout.cell_width_pt / layout.cell_height_pt == pytest.approx(shape)
    assert layout.width_pt <= 1200.0 + 1e-6
    assert layout.grid_height_pt <= 1200.0 + 1e-6
    left, top = layout.corner(rows, columns)
    assert left + layout.cell_width_pt == pytest.approx(layout.grid_width_pt)
    assert top + layout.cell_height_pt == pytest.approx(layout.grid_height_pt)


@pytest.mark.parametrize(
    ("columns", "rows", "shape"), [(5, 4, 4 / 3), (20, 10, 0.75), (100, 20, 4 / 3), (1, 1, 1.5)]
)
def test_every_fault_is_there_by_shape_and_word(columns: int, rows: int, shape: float) -> None:
    layout = lay_checked_grid([columns] * rows, shape)
    places = [(1 + k % rows, 1 + (3 * k) // rows % columns) for k in range(len(STATES))]
    states = dict(zip(places, STATES, strict=False))
    root = drawn(layout, states)
    marked = {
        tuple(int(n) for n in g.attrib["data-cell"].split(",")): g.attrib["data-state"]
        for g in root.iter(f"{SVG}g")
        if "data-cell" in g.attrib
    }
    assert marked == states
    said = words(root)
    for (row, column), state in states.items():
        (line,) = [place for place, word in enumerate(said) if word.startswith(state.upper() + " ")]
        assert re.search(rf"(^| ){row},{column}($| )", said[line + 1])
    assert "RE-SHOOT" in said
    assert {"1", str(columns), str(rows)} <= set(said)


def test_shapes_differ_without_colour() -> None:
    """Drawn small and black on white, every two marks differ in many of 40 × 40 pixels."""
    pictures = []
    for state in (*STATES, "anything else"):
        mark = fault_mark(state, 20.0, 20.0, 18.0)
        source = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="40pt" height="40pt" '
            f'viewBox="0 0 40 40"><rect width="40" height="40" fill="#fff"/>{mark}</svg>'
        )
        picture = Image.open(io.BytesIO(picture_png(source, 40))).convert("L")
        pictures.append(np.asarray(picture, dtype=float))
    for number, one in enumerate(pictures):
        for other in pictures[:number]:
            assert (np.abs(one - other) > 100.0).sum() > 80


def test_words_are_as_large_as_their_cells_allow_and_cover_no_other_fault() -> None:
    layout = lay_checked_grid([60] * 20, 4 / 3)
    rng = np.random.default_rng(3)
    states = {
        (int(row), int(column)): str(rng.choice(STATES))
        for row, column in rng.integers(1, [21, 61], (60, 2))
    }
    root = drawn(layout, states)
    plates = [
        tuple(float(n) for n in match.groups())
        for path in root.findall(f"{SVG}path")
        if path.attrib.get("fill") == "#000"
        and (
            match := re.fullmatch(
                r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-[\d.]+Z", path.attrib["d"]
            )
        )
        and float(match.group(2)) > 100.0
    ]
    assert len(plates) > 20
    corner = [layout.corner(*place) for place in states]
    cells = [(46 + x, 104 + y, layout.cell_width_pt, layout.cell_height_pt) for x, y in corner]
    for number, (x, y, wide, high) in enumerate(plates):
        for a, b, c, d in (*plates[:number], *cells):
            assert (
                x >= a + c - 0.02
                or a >= x + wide - 0.02
                or y >= b + d - 0.02
                or b >= y + high - 0.02
            )


def test_the_png_is_as_wide_as_asked_and_strong_in_contrast() -> None:
    layout = lay_checked_grid([6] * 4, 4 / 3)
    thumbnails = jpeg_bytes(np.full((90, 120, 3), 90, dtype=np.uint8))
    cells = [GridCell(r, c, "missing" if (r, c) == (2, 3) else "good")
             for r in range(1, 5) for c in range(1, 7)]  # fmt: skip
    svg = checked_grid(layout, cells, thumbnails, "RE-SHOOT", "1 cell", "Saltmere")
    picture = Image.open(io.BytesIO(picture_png(svg, 1600)))
    assert picture.width == 1600
    band = np.asarray(picture.convert("L"))[:50].astype(float)
    # WCAG 2.2, success criterion 1.4.6: 7:1 for text; white on black has 21:1.
    assert (band.min(), band.max()) == (0.0, 255.0)


def test_rows_that_differ_are_spread_over_one_width() -> None:
    layout = lay_checked_grid([4, 8, 4], 1.0)
    assert layout.corner(1, 1)[0] > layout.corner(2, 1)[0]
    middle = [layout.corner(row, count // 2 + 1)[0] for row, count in ((1, 4), (2, 8))]
    assert middle[0] - middle[1] == pytest.approx(layout.cell_width_pt / 2.0)
    assert any("4 to 8 in a row" in word for word in words(drawn(layout, {})))
