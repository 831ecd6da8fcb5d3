"""The interval curve and the age map, read back from what they draw; numbers in words."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import sheet_sample
from belvedere.foundation import duration_words, share_words, size_words
from belvedere.optics import f_number_words, shutter_words
from belvedere.sheet import age_map, grid_picture, interval_curve, words
from belvedere.sheet.axes import compass, degree_ticks, labelled, signed_deg
from belvedere.shoot import RiskPoint

SVG = "{http://www.w3.org/2000/svg}"


def _curve(points: tuple[RiskPoint, ...], shoots: int | None = None) -> ET.Element:
    briefing = sheet_sample.day()
    timing = replace(
        briefing.timing,
        curve=points,
        simulated_shoots=shoots,
        interval_s=3.0,
        recommended_interval_s=2.5,
    )
    return ET.fromstring(interval_curve(replace(briefing, timing=timing)))


def _probability_scale(root: ET.Element) -> np.poly1d:
    """Power of ten from points, by the labels of the scale."""
    powers = [
        (float(node.attrib["y"]) - 2.6, -math.log10(int(found[1].replace(",", ""))))
        for node in root.iter(f"{SVG}text")
        if (found := re.fullmatch(r"1 in ([\d,]+)", node.text or ""))
    ]
    return np.poly1d(np.polyfit(*zip(*powers, strict=True), 1))


def test_marks_and_line_lie_where_the_scales_say() -> None:
    points = tuple(
        RiskPoint(1.0 + 0.25 * n, 10.0 ** (-0.6 * n), 10.0 ** (-0.6 * n) if n < 5 else None)
        for n in range(9)
    )
    root = _curve(points)
    power = _probability_scale(root)
    marks = [n for n in root.iter(f"{SVG}circle") if float(n.attrib["cy"]) < 240.0]
    assert len(marks) == 5
    for place, mark in enumerate(marks):
        assert power(float(mark.attrib["cy"])) == pytest.approx(-0.6 * place, abs=0.01)
    line = max(root.iter(f"{SVG}path"), key=lambda node: node.attrib["d"].count(" "))
    pairs = re.findall(r"(-?[\d.]+) (-?[\d.]+)", line.attrib["d"])
    assert [power(float(y)) for _, y in pairs] == pytest.approx(
        [-0.6 * n for n in range(9)], abs=0.01
    )
    # Equal steps of the interval are equal steps across.
    assert np.ptp(np.diff([float(x) for x, _ in pairs])) < 0.05
    dashed = [n for n in root.iter(f"{SVG}line") if n.attrib.get("stroke-dasharray") == "5 3"]
    assert [power(float(n.attrib["y1"])) for n in dashed] == pytest.approx([-3.0], abs=0.01)


def test_the_sampling_error_is_that_of_a_binomial_share() -> None:
    """Standard deviation of a share p of n trials: sqrt(p (1 - p) / n) (any text on statistics)."""
    found, shoots = 0.2, 400
    root = _curve((RiskPoint(1.0, 0.21, found), RiskPoint(5.0, 1e-5, None)), shoots)
    power = _probability_scale(root)
    deviation = 0.02  # sqrt(0.2 · 0.8 / 400)
    upright = [
        node
        for node in root.iter(f"{SVG}line")
        if node.attrib["x1"] == node.attrib["x2"] and node.attrib["stroke-width"] == "0.8"
    ]
    assert len(upright) == 1
    ends = sorted(10.0 ** power(float(upright[0].attrib[key])) for key in ("y1", "y2"))
    assert ends == pytest.approx([found - deviation, found + deviation], rel=0.01)


def test_a_curve_says_both_intervals() -> None:
    says = "".join(_curve(()).itertext())
    assert "this plan 3 s" in says
    assert "recommended 2.5 s" in says
    assert "0.1 %" in says


def test_the_age_map_is_darker_where_neighbours_are_older() -> None:
    briefing = sheet_sample.day()
    count = len(briefing.plan.cells)
    ages = tuple(4000.0 ** (index / (count - 1)) for index in range(count))
    sweep = replace(briefing.sweep, cell_age_s=ages)
    root = ET.fromstring(age_map(replace(briefing, sweep=sweep)))
    group = next(root.iter(f"{SVG}g"))
    fills = [node.attrib["fill"] for node in group]
    light = [int((fill[1:] * 2)[:6][:2], 16) for fill in fills]
    assert len(light) == count
    assert light == sorted(light, reverse=True)
    assert len(set(light)) == 5


def test_hatched_cells_are_those_with_the_sun() -> None:
    briefing = sheet_sample.sun_in_picture()
    assert briefing.light is not None
    root = ET.fromstring(grid_picture(briefing))
    inside = sum(seen.in_frame for seen in briefing.light.sun_cells)
    close = len(briefing.light.sun_cells) - inside
    hatched = [node.attrib.get("fill") for node in root.iter(f"{SVG}path")]
    assert hatched.count("url(#sun-hatch)") == inside + 1  # and its swatch in the legend
    assert hatched.count("url(#flare-hatch)") == close + 1
    assert hatched.count("url(#tripod-hatch)") == len(briefing.tripod_rows) + 1
    says = " ".join(root.itertext())
    for word in ("sun in the frame", "flare", "tripod", "260 m", "62 m", "17:40"):
        assert word in says


@pytest.mark.parametrize("count", [1, 2, 3, 7, 30, 61, 1000])
@pytest.mark.parametrize("apart", [0.5, 3.0, 14.0, 60.0])
def test_labels_keep_their_distance(count: int, apart: float) -> None:
    chosen = labelled(count, apart, 12.0)
    assert chosen[0] == 1
    assert (np.diff(chosen) * apart >= 12.0).all()
    assert chosen[-1] == count or (count - 1) * apart < 12.0


def test_ticks_are_round_and_inside() -> None:
    assert degree_ticks(-41.0, 41.0, 9) == [-40.0 + 10.0 * n for n in range(9)]
    assert degree_ticks(-180.0, 180.0, 8) == [-180.0 + 45.0 * n for n in range(9)]
    assert degree_ticks(0.2, 0.8, 6) == pytest.approx([0.2, 0.4, 0.6, 0.8])


@pytest.mark.parametrize(
    ("azimuth", "point"), [(0.0, "N"), (22.0, "N"), (23.0, "NE"), (180.0, "S"), (359.0, "N")]
)
def test_points_of_the_compass(azimuth: float, point: str) -> None:
    assert compass(azimuth) == point


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (words.distance(math.inf), "∞"),
        (words.distance(0.8532), "0.853 m"),
        (words.distance(8.42), "8.42 m"),
        (words.distance(9.996), "10 m"),
        (words.distance(62.3), "62.3 m"),
        (words.distance(1234.0), "1,230 m"),
        (words.distance(25_400.0), "25 km"),
        (duration_words(2.96), "3 s"),
        (duration_words(59.7), "1 min"),
        (duration_words(297.0), "4 min 57 s"),
        (duration_words(7_290.0), "2 h 2 min"),
        (duration_words(3_599.9), "1 h"),
        (shutter_words(1 / 500), "1/500 s"),
        (shutter_words(0.5), "0.5 s"),
        (shutter_words(2.0), "2 s"),
        (f_number_words(5.6), "f/5.6"),
        (f_number_words(8.0), "f/8"),
        (f_number_words(11.0), "f/11"),
        (share_words(0.0007), "0.07 %"),
        (share_words(1e-9), "less than 0.001 %"),
        (size_words(276e6), "276 MB"),
        (size_words(8.28e9), "8.28 GB"),
        (words.sentence("its feet stand in the picture"), "Its feet stand in the picture."),
        (words.sentence("interval_s = 12 in [sweep]"), "interval_s = 12 in [sweep]."),
        (words.sentence("order = rows"), "order = rows."),
        (words.sentence("f/5.6 is the same light."), "f/5.6 is the same light."),
        (words.sentence(""), ""),
        (signed_deg(-7.5), "−7.5°"),
        (signed_deg(0.001), "0°"),
        (signed_deg(30.0), "+30°"),
    ],
)
def test_numbers_as_they_are_read(made: str, expected: str) -> None:
    assert made == expected


@pytest.mark.parametrize(("minutes", "expected"), [(60, "UTC+01:00"), (-570, "UTC-09:30")])
def test_the_offset_of_a_start_is_said(minutes: int, expected: str) -> None:
    at = datetime(2031, 5, 17, 17, 40, tzinfo=timezone(timedelta(minutes=minutes)))
    assert words.offset(at) == expected
    assert words.day(at) == "Saturday 17 May 2031"
