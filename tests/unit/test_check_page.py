"""What stands on the page of the check: said once, with names a person knows, and complete."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from rich.console import Console

from belvedere.check import (
    CellReport,
    CheckReport,
    Finding,
    Placement,
    RetakeLight,
    RetakeStop,
    RetakeTour,
)
from belvedere.cli.check_page import print_report
from belvedere.cli.check_words import file_names, grouped, listed, places, shortened
from belvedere.cli.retake_list import settings_words
from belvedere.shoot import Settings
from belvedere.workflows.check_document import check_document

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs" / "schema" / "check-1.schema.json").read_text("utf-8"))
CAMERA = Settings(1 / 250, 8.0, 100.0, 34.0, white_balance="manual", flash_fired=False)


def cell(row: int, column: int, *findings: Finding) -> CellReport:
    state: Any = next((f.kind for f in findings if f.kind in ("soft", "missing")), "good")
    frames = () if state == "missing" else (f"DCIM/PIC_{row}{column:02d}.JPG",)
    return CellReport(row, column, state, frames, 0.999, findings)


def stop(row: int, column: int, **changes: Any) -> RetakeStop:
    usual = {
        "bearing_deg": 1.0, "elevation_deg": 2.0, "columns_from_start": column - 1,
        "rows_from_start": row - 1, "why": "soft: not sharp", "columns_from_before": 1,
        "rows_from_before": 0, "pan_deg": 9.5, "tilt_deg": 0.0, "settings": CAMERA,
    }  # fmt: skip
    return RetakeStop(row=row, column=column, **(usual | changes))


def report_of(
    cells: list[CellReport], stops: list[RetakeStop], light: RetakeLight | None = None
) -> CheckReport:
    placements = [Placement(c.frames[0], c.row, c.column, 0.999) for c in cells if c.frames]
    tour = RetakeTour(1, 1, 2.2, 12.3, CAMERA, light) if stops else None
    verdict: Any = "reshoot" if stops else "complete"
    return CheckReport(verdict, tuple(cells), (), (), tuple(stops), tuple(placements), 1.0, tour)


def page(report: CheckReport, width: int = 78) -> str:
    out = io.StringIO()
    print_report(Console(file=out, width=width, color_system=None), report)
    return out.getvalue()


SAME = Finding("soft", "less sharp than DCIM/PIC_101.JPG")


def test_what_many_cells_share_is_said_once_with_all_of_them() -> None:
    cells = [cell(1, 1), *(cell(2, column, SAME) for column in (1, 2, 3)), cell(3, 2)]
    said = page(report_of(cells, [stop(2, c) for c in (1, 2, 3)]))
    assert said.count("less sharp") == 1
    assert "row 2, columns 1 to 3: SOFT, less sharp than PIC_101.JPG." in said


@pytest.mark.parametrize(
    ("where", "words"),
    [
        ([(2, 4)], "row 2, column 4"),
        ([(2, 4), (2, 5)], "row 2, columns 4 and 5"),
        ([(2, 4), (2, 6)], "cells 2,4 · 2,6"),
        ([(1, 4), (2, 5)], "cells 1,4 · 2,5"),
    ],
)
def test_places_in_words(where: list[tuple[int, int]], words: str) -> None:
    assert places([cell(*place) for place in where]) == words


def test_many_cells_are_counted() -> None:
    cells = [cell(row, 1, SAME) for row in range(1, 41)]
    assert places(cells).endswith("12,1 and 28 more")
    ((_, members),) = grouped(cells, frozenset({"soft"}))
    assert members == cells


def test_names_that_two_files_share_keep_their_folders() -> None:
    placed = [Placement(file, 1, 1, 1.0) for file in ("A/PIC_1.JPG", "B/PIC_1.JPG", "A/PIC_2.JPG",
                                                      "../again/PIC_3.JPG")]  # fmt: skip
    names = file_names(replace(report_of([], []), placements=tuple(placed)))
    says = "A/PIC_1.JPG (A/PIC_2.JPG to ../again/PIC_3.JPG), not /media/card/A/PIC_2.JPG"
    assert shortened(says, names) == (
        "A/PIC_1.JPG (PIC_2.JPG to ../again/PIC_3.JPG), not /media/card/A/PIC_2.JPG"
    )


def test_the_list_tells_way_time_settings_and_light() -> None:
    now = datetime(2031, 5, 17, 18, 0, tzinfo=UTC)
    light = RetakeLight(False, now, now, -1.4, None, now, "the sun sets at 18:00: too late today")
    stops = [
        stop(2, 3, columns_from_before=2, rows_from_before=1),
        stop(3, 1, columns_from_before=-2, rows_from_before=1),
        stop(2, 2, columns_from_before=None, rows_from_before=-1, pan_deg=-12.345),
        stop(2, 2, columns_from_before=0, settings=replace(CAMERA, focus_distance_m=12.0)),
        # What automatic exposure varies from frame to frame is no other setting.
        stop(2, 1, settings=replace(CAMERA, exposure_time_s=1 / 270)),
    ]
    said = page(report_of([cell(2, 3, SAME)], stops, light))
    for words in ("2 right, 1 down", "2 left, 1 down", "12.35° left, 1 up", "stay", "about 13 s",
                  "1/250 s, f/8, ISO 100, 34 mm, white balance manual, no flash",
                  "But for 2,2: focus 12 m.", "Light: The sun sets at 18:00",
                  "belvedere retake CARD --shoot SHOOT"):  # fmt: skip
        assert words in re.sub(r"\s*\n\s*", " ", said), words
    assert said.count("But for") == 1
    assert max(len(line) for line in said.splitlines()) <= 78


@pytest.mark.parametrize("width", [60, 78, 200])
def test_no_line_is_wider_than_the_window(width: int) -> None:
    cells = [cell(row, column, SAME) for row in range(1, 4) for column in range(1, 31)]
    said = page(report_of(cells, [stop(c.row, c.column) for c in cells]), width)
    assert max(len(line.rstrip()) for line in said.splitlines()) <= min(width, 78)


def test_the_first_words_are_the_answer() -> None:
    faulty = page(report_of([cell(1, 1), cell(1, 2, SAME)], [stop(1, 2)]))
    assert faulty.split()[2] == "RE-SHOOT"
    assert faulty.index("Shoot 1 cell again") < faulty.index("row 1")
    assert page(report_of([cell(1, 1)], [])).split()[2] == "COMPLETE"


def test_where_no_cell_can_stay_the_sweep_is_run_again() -> None:
    cells = [cell(1, column, SAME) for column in (1, 2, 3)]
    said = page(report_of(cells, [stop(1, column) for column in (1, 2, 3)]))
    assert "Shoot all 3 cells again" in said
    assert "whole sweep once more" in said
    assert "from the\nstart corner" not in said
    assert "bearing" not in said


def test_cells_side_by_side_are_named_by_the_first_and_the_last() -> None:
    cells = [cell(1, column) for column in (1, 2, 3, 4)] + [cell(2, 6), cell(2, 7), cell(4, 1)]
    assert listed(cells) == "1,1 to 1,4 · 2,6 · 2,7 · 4,1"
    assert listed(cells, most=2) == "1,1 to 1,4 · 2,6 and 2 more"


def test_many_retakes_are_told_in_one_line() -> None:
    cells = [
        cell(2, n, Finding("repeated", f"PIC_{n}.JPG is used, the retake; OLD_{n}.JPG is not"))
        for n in range(1, 6)
    ]
    said = page(report_of(cells, []))
    assert "– of the cells 2,1 to 2,5 there are several frames: the retake is used in each" in said
    assert "OLD_" not in said
    assert page(report_of(cells[:2], [])).count("the retake; OLD_") == 2


def test_an_automatic_is_not_asked_to_choose_again() -> None:
    auto = replace(CAMERA, exposure_mode="auto", white_balance="auto")
    tinted = cell(1, 2, Finding("colour", "warmer than its neighbours: another white balance"))
    report = report_of([cell(1, 1), tinted, cell(1, 3)], [stop(1, 2)])
    assert report.retake_tour is not None
    report = replace(report, retake_tour=replace(report.retake_tour, settings=auto))
    said = " ".join(page(report).split())
    assert "exposure set by hand" in said
    assert "white balance locked to what they have" in said
    plain = replace(report, cells=(cell(1, 1), cell(1, 2, SAME), cell(1, 3)))
    assert "white balance auto" in " ".join(page(plain).split())


def test_where_most_cells_are_listed_the_whole_sweep_is_offered() -> None:
    cells = [cell(1, 1), *(cell(1, column, SAME) for column in (2, 3, 4))]
    said = " ".join(page(report_of(cells, [stop(1, c) for c in (2, 3, 4)])).split())
    assert "These are 3 of 4 cells: to run the whole sweep once more" in said
    assert "bearing" in said


def test_without_a_plan_the_frames_at_fault_are_counted() -> None:
    found = (Finding("soft", "blurred", "PIC_1.JPG"), Finding("soft", "blurred", "PIC_2.JPG"))
    report = replace(report_of([], []), verdict="reshoot", findings=found)
    assert "Do not pack up yet. 2 frames are at fault." in page(report)


def test_what_moved_between_two_cells_is_said_once() -> None:
    boat = Finding("moving", "something moved: look at PIC_101.JPG (row 1, column 1)")
    said = page(report_of([cell(1, 1, boat), cell(1, 2, boat)], []))
    assert said.count("something moved") == 1
    assert "– something moved" in said


def test_a_complete_shoot_asks_for_nothing() -> None:
    said = page(report_of([cell(1, 1), cell(1, 2)], []))
    assert "COMPLETE" in said
    assert "To shoot again" not in said


def test_settings_as_a_photographer_writes_them() -> None:
    assert settings_words(Settings()) == ""
    assert settings_words(Settings(exposure_time_s=2.5)) == "2.5 s"
    assert settings_words(Settings(exposure_time_s=1 / 60)) == "1/60 s"
    assert settings_words(Settings(focus_distance_m=1e6)) == "focus at infinity"


@pytest.mark.parametrize("light", [True, False])
def test_the_document_of_retakes_fits_its_schema(light: bool) -> None:
    now = datetime(2031, 5, 17, 18, 0, tzinfo=UTC)
    shine = RetakeLight(True, now, now, 0.1, 2.5, None, "as it was") if light else None
    stops = [stop(2, 3), stop(3, 3, columns_from_before=None, settings=Settings())]
    cells = [cell(2, 3, SAME), cell(3, 3, Finding("missing", "no frame"))]
    document = json.loads(json.dumps(check_document(report_of(cells, stops, shine))))
    jsonschema.validate(document, SCHEMA, cls=jsonschema.Draft202012Validator)
    assert ("light" in document["retake_tour"]) == light
    assert document["retakes"][0]["settings"]["f_number"] == 8.0
    assert "columns_from_before" not in document["retakes"][1]
    wrong = json.loads(json.dumps(document))
    wrong["retakes"][0]["columns_from_before"] = 1.5
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(wrong, SCHEMA, cls=jsonschema.Draft202012Validator)
