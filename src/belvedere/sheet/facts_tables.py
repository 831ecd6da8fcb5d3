"""The small tables of the field sheet's second page: light, supplies, the picture."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise

from belvedere.foundation import duration_words, size_words
from belvedere.light import LightEvent, LightFacts, SunAt
from belvedere.sheet import words
from belvedere.sheet.axes import compass, signed_deg
from belvedere.shoot import Briefing

Row = dict[str, str]

_MOST_EVENTS = 8


def _row(name: str, says: str) -> Row:
    return {"name": name, "says": says}


def light_rows(briefing: Briefing) -> list[Row]:
    """Sun, its cautions, the day's events, shadows and drift; one row that says what is lost."""
    light = briefing.light
    if light is None:
        return [
            _row(
                "Not known",
                "No place or no time in the plan: sun, shadows, twilight and the drift of the "
                "light are not in these figures. Look them up before you go.",
            )
        ]
    rows = _sun_rows(light, briefing.plan.shoot.conditions.start)
    rows += _sun_cautions(briefing, light)
    zone = briefing.plan.shoot.conditions.start
    events = [f"{event.name} {_local_clock(event.at, zone)}" for event in _near(light, zone)]
    if events:
        rows.append(_row("Day", "; ".join(events)))
    rows += _change_rows(light)
    if light.best_starts:
        best = light.best_starts[0]
        rows.append(_row("Best start", f"{_local_clock(best.at, zone)}: {best.says}"))
    return rows + _moon_rows(light, zone)


def _near(light: LightFacts, start: datetime | None) -> tuple[LightEvent, ...]:
    """The events around the start: the last two before it, and what comes."""
    passed = 0
    if start is not None and start.tzinfo is not None:
        passed = sum(event.at < start for event in light.events)
    first = max(0, min(passed - 2, len(light.events) - _MOST_EVENTS))
    return light.events[first : first + _MOST_EVENTS]


def _local_clock(at: datetime, zone: datetime | None) -> str:
    """The time on the shoot's own clock."""
    same = zone is not None and zone.tzinfo is not None and at.tzinfo is not None
    return words.clock(at.astimezone(zone.tzinfo) if same and zone is not None else at)


def _sun_rows(light: LightFacts, zone: datetime | None) -> list[Row]:
    if not light.sun:
        return [_row("Light", light.phase)]
    ends = light.sun[:1] if len(light.sun) == 1 else (light.sun[0], light.sun[-1])
    names = ("Sun at first", "Sun at last")
    return [
        _row("Light", f"{light.phase} at the start"),
        *(
            _row(name, f"{_local_clock(at.at, zone)}: {_sun_says(at)}")
            for name, at in zip(names, ends, strict=False)
        ),
    ]


def _sun_says(at: SunAt) -> str:
    azimuth = at.azimuth_deg % 360.0
    below = ", below the horizon" if at.elevation_deg < 0.0 else ""
    return (
        f"azimuth {azimuth:.0f}° {compass(azimuth)}, "
        f"elevation {signed_deg(round(at.elevation_deg, 1))}{below}"
    )


def _sun_cautions(briefing: Briefing, light: LightFacts) -> list[Row]:
    inside = sorted(seen.cell + 1 for seen in light.sun_cells if seen.in_frame)
    close = sorted(seen.cell + 1 for seen in light.sun_cells if not seen.in_frame)
    rows = []
    if inside:
        rows.append(
            _row(
                "Sun in frame",
                f"{_numbers(inside)}: leave out, or start at another time. Never look through "
                "the finder there.",
            )
        )
    if close:
        rows.append(_row("Flare likely", _numbers(close)))
    place = briefing.plan.shoot.conditions.place
    if place is not None and place.zero_bearing_deg is None:
        rows.append(
            _row("Not known", "Which frames the sun is in: the true bearing of 0 is not given.")
        )
    return rows


def _numbers(frames: list[int], most: int = 8) -> str:
    """Frame numbers, runs as spans."""
    spans: list[list[int]] = [[frames[0], frames[0]]]
    for before, number in pairwise(frames):
        if number == before + 1:
            spans[-1][1] = number
        else:
            spans.append([number, number])
    parts = [str(a) if a == b else f"{a}–{b}" for a, b in spans]
    more = len(parts) - most
    says = ", ".join(parts[:most])
    return f"{'frame' if len(frames) == 1 else 'frames'} {says}" + (
        f" and {more} more runs" if more > 0 else ""
    )


def _change_rows(light: LightFacts) -> list[Row]:
    rows = []
    if light.shadow_move_deg is not None:
        tip = ""
        if light.shadow_move_m is not None:
            tip = f"; the tip of a 10 m mast's moves {light.shadow_move_m:.2g} m"
        rows.append(
            _row("Shadows", f"turn {light.shadow_move_deg:.2g}° between touching frames{tip}")
        )
    if abs(light.brightness_drift_ev) < 0.05:
        return [*rows, _row("Daylight", "does not change during the sweep")]
    drift = f"{light.brightness_drift_ev:+.1f} EV from first to last".replace("-", "−")
    touching = f"{abs(light.touching_drift_ev):.2g} EV between touching frames"
    return [*rows, _row("Daylight", f"{drift}; at most {touching}")]


def _moon_rows(light: LightFacts, zone: datetime | None) -> list[Row]:
    if light.phase == "day" or light.moonless is None:
        return []
    first, last = (_local_clock(at, zone) for at in light.moonless)
    return [_row("Dark, no moon", f"{first} to {last}; moon {light.moon_lit:.0%} lit")]


def supply_rows(briefing: Briefing) -> list[Row]:
    """Card and batteries, and when to swap them."""
    card, power = briefing.card, briefing.power
    says = f"{size_words(card.bytes)} expected, {size_words(card.bytes_high)} in an unlucky shoot"
    if card.free_bytes is not None:
        says += f"; {size_words(card.free_bytes)} free"
    rows = [_row("Card", says)]
    if card.cards is not None and card.cards > 1:
        rows.append(_row("Cards", f"{card.cards} of them: swap at the end of a row"))
    if card.rolls_over_at_frame is not None:
        rows.append(_row("File numbers", f"begin again after frame {card.rolls_over_at_frame:,}"))
    head = _pack(power.head_wh, power.head_pack_wh, power.head_swap_after_frames)
    camera = _pack(power.camera_wh, power.camera_pack_wh, power.camera_swap_after_frames)
    rows += [_row("Head battery", head), _row("Camera battery", camera)]
    if power.pack_says:
        rows.append(_row("Packs", power.pack_says))
    return rows


def _pack(needs_wh: float, holds_wh: float | None, swap_after: int | None) -> str:
    says = f"{needs_wh:.1f} Wh needed"
    if holds_wh is not None:
        says += f" of {holds_wh:.3g} Wh"
    if swap_after is not None:
        says += f"; swap after frame {swap_after:,}"
    return says


def picture_rows(briefing: Briefing) -> list[Row]:
    """What it is all for."""
    plan, optics = briefing.plan, briefing.optics
    across, down = plan.mosaic_width_px, plan.mosaic_height_px
    rows = [_row("Mosaic", f"{across:,} × {down:,} px, {_pixels(across * down)}")]
    if briefing.wish is not None:
        reached = "reached" if briefing.wish.reached else "not reached"
        rows.append(_row("Wish", f"{briefing.wish.says}: {reached}, {briefing.wish.reaches}"))
    if optics.mm_per_px is not None and optics.mm_per_px_at_m is not None:
        at = words.distance(optics.mm_per_px_at_m)
        rows.append(_row("Scale", f"{optics.mm_per_px:.3g} mm per pixel at {at}"))
    if briefing.prints:
        size = briefing.prints[0]
        metres = f"{size.width_mm / 1000.0:.2f} × {size.height_mm / 1000.0:.2f} m"
        rows.append(_row("Print", f"{metres} at {size.dpi:.0f} dpi"))
    age = duration_words(briefing.sweep.chosen.greatest_age_s)
    rows.append(_row("Touching frames", f"at most {age} apart"))
    if optics.parallax_mm is not None:
        rows.append(_row("Entrance pupil", f"within {optics.parallax_mm:.2g} mm of the axis"))
    return rows


def _pixels(count: int) -> str:
    return f"{count / 1e9:.3g} gigapixels" if count >= 1e8 else f"{count / 1e6:.3g} megapixels"
