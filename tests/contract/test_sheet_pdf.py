"""The field sheet as a file: a sound PDF on the right paper, with the plan's numbers in it."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from pypdf import PageObject, PdfReader

import sheet_sample
from belvedere.foundation import PlanError
from belvedere.sheet import Paper, field_sheet, field_sheet_png, grid_picture, picture_png
from belvedere.shoot import Advice, Briefing

#: Millimetres: A4 of ISO 216, Letter of ANSI/ASME Y14.1 (8.5 in × 11 in).
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def _read(briefing: Briefing, paper: Paper = "a4") -> PdfReader:
    return PdfReader(io.BytesIO(field_sheet(briefing, paper)), strict=True)


def _words(reader: PdfReader) -> str:
    text = " ".join(page.extract_text() for page in reader.pages)
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", sheet_sample.VARIANTS)
def test_two_pages_of_the_right_paper(name: str, paper: Paper) -> None:
    reader = _read(sheet_sample.VARIANTS[name](), paper)
    assert len(reader.pages) == 2
    for page in reader.pages:
        size = (float(page.mediabox.width) / 72.0 * 25.4, float(page.mediabox.height) / 72.0 * 25.4)
        assert size == pytest.approx(PAPERS[paper], abs=0.1)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", sheet_sample.VARIANTS)
def test_nothing_is_too_small_or_off_the_page(name: str, paper: Paper) -> None:
    reader = _read(sheet_sample.VARIANTS[name](), paper)
    for page in reader.pages:
        placed = _placed(page)
        assert len(placed) > 60
        for words, x, y, size in placed:
            assert size >= 6.0, (words, size)
            assert 30.0 < x < float(page.mediabox.width) - 30.0, words
            assert 20.0 < y < float(page.mediabox.height) - 20.0, words


def _placed(page: PageObject) -> list[tuple[str, float, float, float]]:
    """Each piece of text with its place and its size on paper, in points."""
    found = []

    def visit(words: str, cm: Any, tm: Any, _font: Any, size: float) -> None:
        if not words.strip():
            return
        here = np.array([[tm[0], tm[1], 0], [tm[2], tm[3], 0], [tm[4], tm[5], 1]]) @ np.array(
            [[cm[0], cm[1], 0], [cm[2], cm[3], 0], [cm[4], cm[5], 1]]
        )
        found.append((words, here[2, 0], here[2, 1], size * float(np.hypot(*here[1, :2]))))

    page.extract_text(visitor_text=visit)
    return found


def test_the_numbers_of_the_plan_are_on_it() -> None:
    briefing = sheet_sample.sun_in_picture()
    words = _words(_read(briefing))
    for expected in (
        "Saltmere harbour from the mole",
        "Saturday 17 May 2031",  # 2031-05-17 is a Saturday (any calendar)
        "17:40 (UTC+01:00)",
        "54.3200° N, 1.0500° W",
        "290° true",
        "44 mm",
        "f/4",
        "1/500 s",
        "EV 13.0",
        "260 m",
        "96",
        "8 rows × 12",
        "4 min 45 s",  # 95 intervals of 3 s
        "6.58°",
        "bearing −36.18° (253.8° true), elevation +22.45°",
        "azimuth 262° W, elevation +21°",
        "golden hour begins 20:12",
        "442 MB",  # 96 files of 4.6 MB
        "swap after frame 380",
        "within 14 mm",
        "Before row 6: pause, focus at 62 m, go on",
        "white balance".capitalize(),
        "settle 0.8 s",
    ):
        assert expected in words, expected
    for advice in briefing.advice:
        assert advice.says in words
        assert advice.try_ in words
    # What will not work comes first, before anything to dial in.
    first_page = re.sub(r"\s+", " ", _read(briefing).pages[0].extract_text())
    assert first_page.index("STOP") < first_page.index("f/4")


def test_what_is_not_known_is_left_out_or_said() -> None:
    words = _words(_read(sheet_sample.bare()))
    assert "A shoot without a title" in words
    assert "No place or no time in the plan" in words
    assert "No distances are given" in words
    assert "None" not in words
    assert "nan" not in words


@pytest.mark.parametrize("paper", PAPERS)
def test_signs_of_markup_come_out_as_text(paper: Paper) -> None:
    words = _words(_read(sheet_sample.heavy(), paper))
    title = "Saltmere #1 *harbour* & <mole> at $5, _tide_ falling @dusk `raw` \\ [two]"
    assert title in words
    assert "🌅" not in words  # no type for it: left out on paper, not a box


def test_words_of_the_planner_cannot_run_code_either() -> None:
    rude = "#panic() ] $ ``` */ // <x> @y \\u{41} \x00\x07"
    advice = (Advice("stop", rude, rude, rude),)
    briefing = replace(sheet_sample.day(), advice=advice, assumed=(rude,))
    assert "#panic() ] $ ``` */ // <x> @y" in _words(_read(briefing))


def test_every_warning_is_on_it_however_many() -> None:
    advice = tuple(
        Advice("warn", f"Thing number {number} may go wrong.", "It did before. " * 4, "Try again.")
        for number in range(14)
    )
    reader = _read(replace(sheet_sample.heavy(), advice=advice))
    assert len(reader.pages) == 2
    words = _words(reader)
    assert [n for n in range(14) if f"Thing number {n} may go wrong." not in words] == []


@pytest.mark.parametrize("paper", PAPERS)
def test_the_same_plan_gives_the_same_bytes(paper: Paper) -> None:
    assert field_sheet(sheet_sample.day(), paper) == field_sheet(sheet_sample.day(), paper)
    info = _read(sheet_sample.day(), paper).metadata
    assert info is not None
    assert info.title == "Saltmere harbour from the mole"
    assert info.creation_date is None or info.creation_date.year == 1970


@pytest.mark.parametrize("name", sheet_sample.VARIANTS)
def test_fonts_are_inside(name: str) -> None:
    """Every font of the file is embedded, so every printer sets the same page (ISO 32000, 9.9)."""
    fonts: dict[str, Any] = {}
    for page in _read(sheet_sample.VARIANTS[name]()).pages:
        _collect_fonts(page["/Resources"], fonts)
    assert fonts
    for name_, font in fonts.items():
        inner = font["/DescendantFonts"][0] if "/DescendantFonts" in font else font
        descriptor = inner["/FontDescriptor"]
        assert any(f"/FontFile{kind}" in descriptor for kind in ("", "2", "3")), name_
        assert any(known in name_ for known in ("Libertinus", "DejaVu"))


def _collect_fonts(resources: Any, fonts: dict[str, Any]) -> None:
    resources = resources.get_object()
    for font in resources.get("/Font", {}).values():
        fonts[font.get_object()["/BaseFont"]] = font.get_object()
    for form in resources.get("/XObject", {}).values():
        if "/Resources" in form.get_object():
            _collect_fonts(form.get_object()["/Resources"], fonts)


def test_pages_are_black_on_white() -> None:
    for png in field_sheet_png(sheet_sample.sun_in_picture(), "letter", ppi=72.0):
        pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=int)
        assert pixels.shape == (792, 612, 3)
        assert np.ptp(pixels, axis=2).max() == 0
        assert (pixels[:20] == 255).all()
        assert (pixels == 255).all(axis=2).mean() > 0.8


@pytest.mark.parametrize("width_px", [16, 333, 1600])
def test_a_picture_as_png_has_the_width_asked_for(width_px: int) -> None:
    svg = grid_picture(sheet_sample.day())
    picture = Image.open(io.BytesIO(picture_png(svg, width_px)))
    assert picture.width == width_px
    assert picture_png(svg, width_px) == picture_png(svg, width_px)


def test_a_picture_of_no_width_is_refused() -> None:
    with pytest.raises(PlanError, match="0 px wide"):
        picture_png(grid_picture(sheet_sample.day()), 0)
