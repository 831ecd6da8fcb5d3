"""What stands on the field sheet, as plain strings in the order of the page."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

from belvedere.foundation import duration_words, share_words
from belvedere.optics import f_number_words, shutter_words
from belvedere.sheet import words
from belvedere.sheet.axes import compass, signed_deg
from belvedere.sheet.checklist import checklist
from belvedere.sheet.facts_tables import light_rows, picture_rows, supply_rows
from belvedere.sheet.svg import plain
from belvedere.shoot import CAUTIONS, Advice, Briefing, Cell, Dial

_LONGEST_TITLE = 200
#: Emoji and what joins and varies them (Unicode, planes 1F000-1FAFF): no type for printing.
_PICTOGRAMS = re.compile("[\U0001f000-\U0001faff\ufe0f\u200d\u20e3]")
_APOSTROPHE = re.compile(r"(?<=[^\W\d_])'(?=[^\W\d_])")
#: Shown large; all others stand in the table below.
_LARGE = ("aperture", "shutter", "iso", "focus")
#: So many lines of advice open the sheet; the others are on its second page.
_MOST_ON_TOP = 6


def sheet_facts(briefing: Briefing) -> dict[str, Any]:
    """Everything the template sets, ready to be written as JSON."""
    title = briefing.plan.shoot.title.strip() or "A shoot without a title"
    if len(title) > _LONGEST_TITLE:
        title = title[: _LONGEST_TITLE - 1].rstrip() + "…"
    urgent = [a for severity in ("stop", "warn") for a in briefing.advice if a.severity == severity]
    notes = [advice for advice in briefing.advice if advice.severity == "note"]
    facts: dict[str, Any] = {
        "title": title,
        "footer": title if len(title) <= 90 else title[:88].rstrip() + "…",
        "where": _where(briefing),
        "urgent": [_advice(advice) for advice in urgent[:_MOST_ON_TOP]],
        "notes": [_advice(advice) for advice in [*urgent[_MOST_ON_TOP:], *notes]],
        "head": _head(briefing),
        "ends": _ends(briefing),
        "camera": _camera(briefing),
        "dials": [
            {"name": _capital(dial.setting), "value": dial.value, "why": dial.why}
            for dial in briefing.exposure.dials
            if dial.setting.lower() not in _LARGE
        ],
        "zones": _zones(briefing),
        "troubles": _troubles(briefing),
        "light": light_rows(briefing),
        "supplies": supply_rows(briefing),
        "picture": picture_rows(briefing),
        "checklist": checklist(briefing),
        "cautions": [_caution(says) for says in CAUTIONS],
        "assumed": "; ".join(briefing.assumed),
    }
    return {key: _printable(value) for key, value in facts.items()}


def _printable(value: Any) -> Any:
    """The same without signs that have no place on paper, or in the fonts that draw it."""
    if isinstance(value, str):
        return _APOSTROPHE.sub("’", " ".join(_PICTOGRAMS.sub("", plain(value)).split()))
    if isinstance(value, list):
        return [_printable(item) for item in value]
    if isinstance(value, dict):
        return {key: _printable(item) for key, item in value.items()}
    return value


def _capital(says: str) -> str:
    return says[:1].upper() + says[1:]


def _advice(advice: Advice) -> dict[str, str]:
    return {
        "severity": advice.severity,
        "says": words.sentence(advice.says),
        "because": words.sentence(advice.because),
        "try": words.sentence(advice.try_),
    }


def _caution(says: str) -> dict[str, str]:
    """A caution as its first word or two and the rest."""
    about, _, rest = says.partition(": ")
    return {"about": about if rest else "", "says": words.sentence(rest or about)}


def _where(briefing: Briefing) -> list[str]:
    """Time, place and direction in a few phrases; what is not known is left out."""
    conditions = briefing.plan.shoot.conditions
    start, place = conditions.start, conditions.place
    phrases = []
    if start is not None:
        zone = f" ({words.offset(start)})" if start.tzinfo else ""
        phrases.append(f"{words.day(start)}, first frame at {words.clock(start)}{zone}")
    if place is not None:
        north = "N" if place.latitude_deg >= 0.0 else "S"
        east = "E" if place.longitude_deg >= 0.0 else "W"
        phrases.append(
            f"{abs(place.latitude_deg):.4f}° {north}, {abs(place.longitude_deg):.4f}° {east}"
        )
        if place.zero_bearing_deg is not None:
            true = place.zero_bearing_deg % 360.0
            phrases.append(f"bearing 0 is {true:g}° true ({compass(true)})")
    return phrases


def _tile(name: str, value: str, *below: str) -> dict[str, Any]:
    return {"name": name, "value": value, "below": [line for line in below if line]}


def _head(briefing: Briefing) -> list[dict[str, Any]]:
    """What the head must be told."""
    plan, timing = briefing.plan, briefing.timing
    columns = plan.columns_per_row
    shape = f"{plan.rows} rows × {columns[0]}"
    if len(set(columns)) > 1:
        shape = f"{plan.rows} rows of {min(columns)} to {max(columns)}"
    risk = _risk(timing.missing_frame_probability)
    start = plan.shoot.conditions.start
    span = ""
    if start is not None:
        end = start + timedelta(seconds=timing.duration_s)
        span = f"{words.clock(start)} to {words.clock(end)}"
    recommended = ""
    if abs(timing.recommended_interval_s - timing.interval_s) >= 0.05:
        recommended = f"advised: {words.seconds(timing.recommended_interval_s)}"
    steps = [step for step in plan.column_steps_deg if step > 0.0]
    across = f"{min(steps):.2f}°" if steps else "none"
    down = f"{plan.row_step_deg:.2f}°" if plan.rows > 1 else "none"
    varies = bool(steps) and max(steps) - min(steps) > 0.005
    by_row = f"across: to {max(steps):.2f}°, by row" if varies else ""
    return [
        _tile("Interval", words.seconds(timing.interval_s), risk, recommended),
        _tile("Frames", f"{len(plan.cells):,}", shape),
        _tile("Duration", duration_words(timing.duration_s), span),
        _tile("Steps", f"{across} / {down}", "across / down", by_row, _overlap(briefing)),
    ]


def _risk(probability: float) -> str:
    if probability >= 0.995:
        return "a frame will go missing"
    return f"{share_words(probability)} risk of a gap"


def _overlap(briefing: Briefing) -> str:
    plan = briefing.plan
    return f"overlap {plan.overlap_across:.0%} and {plan.overlap_down:.0%}"


def _ends(briefing: Briefing) -> list[dict[str, str]]:
    """The first and the last frame's direction, and how the head goes between them."""
    plan = briefing.plan
    sweep = plan.shoot.sweep
    way = f"by {sweep.order}, from the {sweep.start.replace('-', ' ')}"
    way += ", there and back" if sweep.serpentine else ", each line the same way"
    return [
        {"name": "First frame", "says": _looks(briefing, plan.cells[0])},
        {"name": "Last frame", "says": _looks(briefing, plan.cells[-1])},
        {"name": "Sweep", "says": way},
    ]


def _looks(briefing: Briefing, cell: Cell) -> str:
    place = briefing.plan.shoot.conditions.place
    true = ""
    if place is not None and place.zero_bearing_deg is not None:
        azimuth = (cell.bearing_deg + place.zero_bearing_deg) % 360.0
        true = f" ({azimuth:.1f}° true)"
    return (
        f"row {cell.row}, column {cell.column}: bearing {signed_deg(cell.bearing_deg)}{true}, "
        f"elevation {signed_deg(cell.elevation_deg)}"
    )


def _camera(briefing: Briefing) -> list[dict[str, Any]]:
    """The five settings that are read from a distance."""
    exposure, plan = briefing.exposure, briefing.plan
    zones = briefing.focus.zones
    if zones:
        first = _first_zone(briefing)
        focus = words.distance(zones[first].focus_m)
        also = _named_rows(zones[first].first_row, zones[first].last_row)
        if len(zones) == 2:
            other = zones[1 - first]
            also += f"; then {words.distance(other.focus_m)}"
        elif len(zones) > 2:
            also += f"; {len(zones)} zones, see page 2"
        else:
            also = ""
    else:
        focus, also = words.distance(briefing.optics.focus_m), ""
    because = {dial.setting.lower(): dial.why for dial in exposure.dials}
    across, down = plan.horizontal_fov_deg, plan.vertical_fov_deg
    return [
        _tile(
            "Focal length",
            f"{plan.shoot.lens.focal_length_mm:.4g} mm",
            f"sees {across:.1f}° × {down:.1f}°",
        ),
        _tile("Aperture", f_number_words(exposure.f_number), because.get("aperture", "")),
        _tile("Shutter", shutter_words(exposure.shutter_s), f"EV {exposure.ev100:.1f} at ISO 100"),
        _tile("ISO", f"{exposure.iso:g}", _dial(exposure.dials, "iso")),
        _tile("Focus", focus, also or because.get("focus", "")),
    ]


def _dial(dials: tuple[Dial, ...], name: str) -> str:
    """What a dial's value says beside its number, such as "not auto"."""
    value = next((dial.value for dial in dials if dial.setting.lower() == name), "")
    return value.partition(", ")[2]


def _first_zone(briefing: Briefing) -> int:
    """The focus zone of the first frame."""
    row = briefing.plan.cells[0].row
    for number, zone in enumerate(briefing.focus.zones):
        if zone.first_row <= row <= zone.last_row:
            return number
    return 0


def _rows(first: int, last: int) -> str:
    return f"{first}" if first == last else f"{first}–{last}"


def _named_rows(first: int, last: int) -> str:
    return f"{'row' if first == last else 'rows'} {_rows(first, last)}"


def _zones(briefing: Briefing) -> list[dict[str, str]]:
    return [
        {
            "rows": _rows(zone.first_row, zone.last_row),
            "focus": words.distance(zone.focus_m),
            "sharp": f"{words.distance(zone.near_m)} to {words.distance(zone.far_m)}",
            "regions": ", ".join(zone.regions),
        }
        for zone in briefing.focus.zones
    ]


def _troubles(briefing: Briefing) -> list[dict[str, str]]:
    return [
        {
            "rows": _named_rows(trouble.first_row, trouble.last_row),
            "region": trouble.region,
            "why": trouble.why.rstrip("."),
            "do": words.sentence(trouble.do),
        }
        for trouble in briefing.focus.troubles
    ]
