"""The drawn outline of a frame against the lens model, and what a picture draws."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sheet_sample
from belvedere.optics import LensModel
from belvedere.sheet import age_map, grid_on_sphere, grid_picture, interval_curve
from belvedere.sheet.outlines import outline_deg, thinned
from belvedere.sheet.plot import lay_plot, row_outlines, sweep_lines
from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.sphere import bearing_elevation, camera_from_world, direction

SVG = "{http://www.w3.org/2000/svg}"


def _plan(focal_mm: float, wide: bool) -> Plan:
    camera = Camera(36.0, 24.0, 6000, 4000) if wide else Camera(24.0, 36.0, 4000, 6000)
    wish = GridWish(1.0, -1.0, -1.0, 1.0, 0.3, 0.3)
    return make_plan(Shoot("", camera, Lens(focal_mm), wish, Sweep()))


def _pixels(
    plan: Plan, bearing_deg: float, outline: np.ndarray, elevation_deg: float
) -> np.ndarray:
    """Where the outline comes to lie in the picture of that frame, by the lens model.

    The lens model is held to OpenCV and the rotations to scipy in tests/reference.
    """
    camera = plan.shoot.camera
    lens = LensModel.ideal(camera.image_width_px, camera.image_height_px, plan.focal_length_px)
    rays = direction(outline[:, 0] + bearing_deg, outline[:, 1])
    return lens.project(rays @ camera_from_world(bearing_deg, elevation_deg).T)


@given(st.floats(15.0, 400.0), st.booleans(), st.floats(-89.0, 89.0), st.floats(-180.0, 180.0))
@settings(max_examples=150)
def test_the_outline_is_the_edge_of_the_picture(
    focal_mm: float, wide: bool, elevation: float, bearing: float
) -> None:
    plan = _plan(focal_mm, wide)
    camera = plan.shoot.camera
    outline = outline_deg(plan, elevation)
    outline = outline[np.abs(outline[:, 1]) < 90.0]  # without the way along the pole
    pixels = _pixels(plan, bearing, outline, elevation)
    # Pixel centres are whole numbers, so the picture ends half a pixel outside the first and last.
    left, right = np.abs(pixels[:, 0] + 0.5), np.abs(pixels[:, 0] - camera.image_width_px + 0.5)
    top, bottom = np.abs(pixels[:, 1] + 0.5), np.abs(pixels[:, 1] - camera.image_height_px + 0.5)
    assert np.min([left, right, top, bottom], axis=0).max() < 1e-4
    assert pixels[:, 0].min() == pytest.approx(-0.5, abs=1e-4)
    assert pixels[:, 0].max() == pytest.approx(camera.image_width_px - 0.5, abs=1e-4)
    assert pixels[:, 1].min() == pytest.approx(-0.5, abs=1e-4)
    assert pixels[:, 1].max() == pytest.approx(camera.image_height_px - 0.5, abs=1e-4)


@given(st.floats(15.0, 400.0), st.floats(-90.0, 90.0))
@settings(max_examples=100)
def test_bearings_run_on_and_a_pole_is_gone_around_once(focal_mm: float, elevation: float) -> None:
    plan = _plan(focal_mm, wide=True)
    outline = outline_deg(plan, elevation)
    holds_pole = abs(elevation) + plan.vertical_fov_deg / 2.0 > 90.0
    reach = np.ptp(outline[:, 0])
    assert reach == pytest.approx(360.0) if holds_pole else reach < 360.0
    assert (np.abs(outline[:, 1]) == 90.0).any() == holds_pole


@given(st.integers(0, 10_000), st.floats(0.01, 1.0))
@settings(max_examples=50)
def test_thinning_stays_within_its_tolerance(seed: int, tolerance: float) -> None:
    rng = np.random.default_rng(seed)
    line = np.cumsum(rng.normal(size=(60, 2)), axis=0)
    kept = thinned(line, tolerance)
    places = [int(np.flatnonzero((line == point).all(axis=1))[0]) for point in kept]
    assert places[0] == 0
    assert places[-1] == len(line) - 1
    for first, last in pairwise(places):
        (ax, ay), (bx, by) = line[first], line[last]
        for x, y in line[first + 1 : last]:
            area = abs((bx - ax) * (y - ay) - (by - ay) * (x - ax))
            assert area / np.hypot(bx - ax, by - ay) <= tolerance + 1e-9


@pytest.mark.parametrize("name", sheet_sample.VARIANTS)
def test_the_picture_draws_each_cell_once_and_where_it_is(name: str) -> None:
    briefing = sheet_sample.VARIANTS[name]()
    plan = briefing.plan
    root = ET.fromstring(grid_picture(briefing))
    drawn = [node for node in root.iter(f"{SVG}path") if "data-cell" in node.attrib]
    names = [node.attrib["data-cell"] for node in drawn]
    assert sorted(names) == sorted(f"{cell.row},{cell.column}" for cell in plan.cells)
    # Read the scales off the picture itself: the labels of the axes and their ticks.
    degrees_x, degrees_y = _scales(root)
    view = _box(next(root.iter(f"{SVG}clipPath"))[0].attrib["d"])
    by_name = {f"{cell.row},{cell.column}": cell for cell in plan.cells}
    for node in drawn[:: max(1, len(drawn) // 40)]:
        cell = by_name[node.attrib["data-cell"]]
        pairs = re.findall(r"-?[\d.]+ -?[\d.]+", node.attrib["d"])
        found = np.array([[float(value) for value in pair.split()] for pair in pairs])
        top = _highest_deg(plan, cell.elevation_deg)
        assert degrees_y(found[:, 1].min()) == pytest.approx(top, abs=0.02 * (1 + abs(top)))
        if view[0] < found[:, 0].min() and found[:, 0].max() < view[2]:
            middle = (found[:, 0].min() + found[:, 0].max()) / 2.0
            assert degrees_x(middle) == pytest.approx(cell.bearing_deg, abs=0.3)


def _highest_deg(plan: Plan, elevation_deg: float) -> float:
    """Highest elevation that a frame shows, from the pixels of its upper edge."""
    camera = plan.shoot.camera
    if elevation_deg + plan.vertical_fov_deg / 2.0 >= 90.0:
        return 90.0
    lens = LensModel.ideal(camera.image_width_px, camera.image_height_px, plan.focal_length_px)
    x = np.linspace(-0.5, camera.image_width_px - 0.5, 201)
    rays = lens.unproject(np.column_stack([x, np.full_like(x, -0.5)]))
    elevations = bearing_elevation(rays @ camera_from_world(0.0, elevation_deg))[1]
    return float(elevations.max())


def _box(d: str) -> tuple[float, float, float, float]:
    x, y, wide, high = (float(v) for v in re.findall(r"-?[\d.]+", d)[:4])
    return x, y, x + wide, y + high


def _number(words: str) -> float:
    return float(words.replace("−", "-").removesuffix("°"))


def _scales(root: ET.Element) -> tuple[np.poly1d, np.poly1d]:
    """Degrees from points, by the labels of the two scales."""
    across, down = [], []
    for node in root.iter(f"{SVG}text"):
        if not re.fullmatch(r"[+−]?[\d.]+°", node.text or ""):
            continue
        x, y = float(node.attrib["x"]), float(node.attrib["y"])
        if node.attrib.get("text-anchor") == "middle":
            across.append((x, _number(node.text or "")))
        elif node.attrib.get("text-anchor") == "end":
            down.append((y - 2.6, _number(node.text or "")))
    assert len(across) >= 2
    assert len(down) >= 2
    return np.poly1d(np.polyfit(*zip(*across, strict=True), 1)), np.poly1d(
        np.polyfit(*zip(*down, strict=True), 1)
    )


@pytest.mark.parametrize("name", sheet_sample.VARIANTS)
@pytest.mark.parametrize("draw", [grid_picture, grid_on_sphere, interval_curve, age_map])
def test_pictures_are_whole_and_stand_alone(name: str, draw: object) -> None:
    assert callable(draw)
    svg = draw(sheet_sample.VARIANTS[name]())
    root = ET.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    assert re.findall(r"(?:href|src|@import|url\((?!#))", svg) == []
    width, height = (float(v) for v in root.attrib["viewBox"].split()[2:])
    for red, green, blue in re.findall(
        r'="#([0-9a-f]{1,2}?)([0-9a-f]{1,2}?)([0-9a-f]{1,2}?)"', svg
    ):
        assert red == green == blue  # black, white and greys
    for node in root.iter(f"{SVG}text"):
        size = float(node.attrib["font-size"])
        assert size >= 6.0
        x, y = float(node.attrib["x"]), float(node.attrib["y"])
        assert size * 0.6 <= y <= height
        # Digits and letters of the serif are at most about half as wide as high, on average.
        reach = {"start": 1.0, "middle": 0.5, "end": 0.0}[node.attrib.get("text-anchor", "start")]
        wide = 0.45 * size * len(node.text or "")
        assert x + reach * wide <= width + 1.0, node.text
        assert x - (1.0 - reach) * wide >= -1.0, node.text


def test_a_grid_of_a_hundred_thousand_cells_is_drawn_as_rows() -> None:
    wish = GridWish(20.0, -20.0, -60.0, 60.0, 0.30, 0.30, rows=250, columns=400)
    camera = Camera(7.44, 5.58, 3648, 2736)
    plan = make_plan(Shoot("Large", camera, Lens(1200.0), wish, Sweep(interval_s=3.0)))
    assert len(plan.cells) == 100_000
    briefing = sheet_sample.briefing_of(plan)
    for draw in (grid_picture, grid_on_sphere, age_map):
        svg = draw(briefing)
        ET.fromstring(svg)
        assert len(svg) < 1_000_000
    root = ET.fromstring(grid_picture(briefing))
    assert sum("data-row" in node.attrib for node in root.iter()) == 250


@pytest.mark.parametrize("order", ["rows", "columns"])
@pytest.mark.parametrize("serpentine", [False, True])
@pytest.mark.parametrize("start", ["top-left", "top-right", "bottom-left", "bottom-right"])
def test_lines_of_a_sweep_are_its_rows_or_columns(order: str, serpentine: bool, start: str) -> None:
    sweep = Sweep(order, start, serpentine)  # type: ignore[arg-type]
    plan = sheet_sample.harbour_plan(sweep=sweep)
    lines = sweep_lines(plan)
    assert [cell for line in lines for cell in line] == list(plan.cells)
    of = [{cell.row if order == "rows" else cell.column for cell in line} for line in lines]
    assert all(len(numbers) == 1 for numbers in of)
    assert len(lines) == (plan.rows if order == "rows" else plan.columns_per_row[0])


def test_proportions_are_true_unless_the_grid_is_very_flat() -> None:
    plan = sheet_sample.day().plan
    plot = lay_plot(plan, row_outlines(plan), 0.0, 0.0, 400.0, 300.0)
    assert plot.taller == pytest.approx(1.0)
    flat = sheet_sample.harbour_plan(edges=(-80.0, 80.0, 4.0, -3.0))
    plot = lay_plot(flat, row_outlines(flat), 0.0, 0.0, 400.0, 300.0)
    assert plot.taller > 1.5
    assert "times too tall" in grid_picture(sheet_sample.briefing_of(flat))
