"""From the tripod to the last frame, in the order of the hands."""

from __future__ import annotations

from typing import Any

from belvedere.foundation import size_words
from belvedere.sheet import words
from belvedere.shoot import Briefing

#: So many changes of focus are written out; more stand in the table of focus zones.
_MOST_CHANGES = 3


def checklist(briefing: Briefing) -> list[dict[str, Any]]:
    """Groups of things to tick off: each a heading and its items (common practice, no source)."""
    return [
        {"when": "Tripod and head", "items": _tripod(briefing)},
        {"when": "Camera", "items": _camera(briefing)},
        {"when": "Before the first frame", "items": _before(briefing)},
        {"when": "While it runs", "items": _during(briefing)},
        {"when": "Before you pack up", "items": _after(briefing)},
    ]


def _tripod(briefing: Briefing) -> list[str]:
    pupil = "Entrance pupil on both axes"
    if briefing.optics.parallax_mm is not None:
        pupil += f", within {briefing.optics.parallax_mm:.2g} mm"
    return [
        "Tripod weighed down, legs locked, strap and cables tied up",
        "Head levelled: the bubble stays put all the way round",
        pupil,
        "Bearing 0 set on its landmark:",
        "Head and camera free through the whole sweep",
    ]


def _camera(briefing: Briefing) -> list[str]:
    free = ""
    if briefing.card.free_bytes is not None:
        free = f", {size_words(briefing.card.free_bytes)} free"
    return [
        f"Batteries full and warm, card empty{free}",
        "Clock right to the second",
        "Everything manual, set as on page 1; stabiliser off",
        "Focus checked at full magnification, then not touched",
        "Lens clean, hood on",
    ]


def _before(briefing: Briefing) -> list[str]:
    items = ["First, last and both other corner frames looked at"]
    light = briefing.light
    if light is not None and any(seen.in_frame for seen in light.sun_cells):
        items.append("Lens capped until the start: the sun is in this picture")
    return [
        *items,
        "Test frame of the brightest part: nothing burnt out",
        "Test frame of the finest detail: sharp in every corner",
        f"Interval of {words.seconds(briefing.timing.interval_s)} and grid entered, read back",
        "Hand or cap photographed: the sweep starts after it",
    ]


def _during(briefing: Briefing) -> list[str]:
    line = "row" if briefing.plan.shoot.sweep.order == "rows" else "column"
    swap = briefing.power.camera_swap_after_frames
    count = len(briefing.plan.cells)
    items = [
        "Hands off, stand still, keep others off the boards",
        f"Files counted at the end of each {line} (see the grid)",
        *_focus_changes(briefing),
    ]
    if swap is not None and swap < count:
        items.append(f"Camera battery swapped after frame {swap:,}")
    if briefing.power.head_swap_after_frames is not None and (
        briefing.power.head_swap_after_frames < count
    ):
        items.append(f"Head battery swapped after frame {briefing.power.head_swap_after_frames:,}")
    return items


def _focus_changes(briefing: Briefing) -> list[str]:
    zones = briefing.focus.zones
    if len(zones) < 2:
        return []
    if briefing.plan.shoot.sweep.order != "rows" or len(zones) - 1 > _MOST_CHANGES:
        return ["Focus changed with the rows, see the table"]
    if briefing.plan.shoot.sweep.start.startswith("top"):
        changes = [(zone.first_row, zone.focus_m) for zone in zones[1:]]
    else:
        changes = [(zone.last_row, zone.focus_m) for zone in reversed(zones[:-1])]
    return [
        f"Before row {row}: pause, focus at {words.distance(metres)}, go on"
        for row, metres in changes
    ]


def _after(briefing: Briefing) -> list[str]:
    return [
        f"{len(briefing.plan.cells):,} files from first to last, none too many",
        "Last row and corners looked at in full size",
        "Card checked before the tripod moves, retakes done",
        "Site left as it was found",
    ]
