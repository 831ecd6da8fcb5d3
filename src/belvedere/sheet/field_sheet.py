"""The field sheet: the plan on one or two pages of paper to take along."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Literal

from belvedere.sheet.facts import sheet_facts
from belvedere.sheet.grid_picture import grid_picture
from belvedere.sheet.typesetting import typeset
from belvedere.shoot import Briefing

Paper = Literal["a4", "letter"]

#: Width and name for typst; ISO 216 and ANSI/ASME Y14.1 (size A) in points.
_PAPERS = {"a4": (595.28, "a4"), "letter": (612.0, "us-letter")}
#: Margin to either side of the text.
_MARGIN_PT = 44.0
#: Heights the grid may be drawn at; the template takes the tallest that leaves room for the rest.
_TALLEST_PT = (300.0, 250.0, 200.0, 160.0, 120.0)


def field_sheet(briefing: Briefing, paper: Paper = "a4") -> bytes:
    """The sheet as a PDF of two pages, the same bytes for the same plan.

    Page 1 is for setting up: what will not work, the grid, the head, the camera. Page 2 is for
    working through: checklist, focus, light, supplies, room for notes, cautions. Fonts are the
    ones typst carries; nothing is fetched.
    """
    return typeset(_sources(briefing, paper), "pdf")[0]


def field_sheet_png(briefing: Briefing, paper: Paper = "a4", ppi: float = 96.0) -> list[bytes]:
    """The sheet's pages as PNG pictures, for a look on a screen."""
    return typeset(_sources(briefing, paper), "png", ppi=ppi)


def _sources(briefing: Briefing, paper: Paper) -> dict[str, bytes]:
    """Template, words and pictures, as files in memory."""
    width_pt, name = _PAPERS[paper]
    pictures = _pictures(briefing, width_pt - 2.0 * _MARGIN_PT)
    facts = {
        **sheet_facts(briefing),
        "paper": name,
        "margin_pt": _MARGIN_PT,
        "pictures": list(pictures),
    }
    return {
        "main": files("belvedere.sheet").joinpath("sheet.typ").read_bytes(),
        "facts.json": json.dumps(facts, ensure_ascii=False).encode(),
        **{picture: drawn.encode() for picture, drawn in pictures.items()},
    }


def _pictures(briefing: Briefing, width_pt: float) -> dict[str, str]:
    """The grid at falling heights, under file names; one drawing for heights that do not differ."""
    drawn: dict[str, str] = {}
    for tallest in _TALLEST_PT:
        picture = grid_picture(briefing, width_pt, tallest)
        if picture not in drawn.values():
            drawn[f"grid-{tallest:.0f}.svg"] = picture
    return drawn
