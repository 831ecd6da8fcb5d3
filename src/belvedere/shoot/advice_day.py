"""Advice on the day: the interval, the card, the batteries, the light, the way of the sweep."""

from __future__ import annotations

from collections.abc import Iterable

from belvedere.foundation import size_words
from belvedere.light import LightFacts
from belvedere.shoot.briefing import Advice, Briefing
from belvedere.shoot.model import Cell, Plan
from belvedere.shoot.timing import ACCEPTED_RISK, DARK_FRAME_LIKELY_S

#: Step of daylight between touching frames that shows, and drift over the shoot that matters.
_TOUCHING_EV = 0.15
_DRIFT_EV = 1.0
#: How much older neighbours may be before another way of sweeping is named.
_BETTER = 0.7


def day_advice(briefing: Briefing) -> list[Advice]:
    """All of it, in no order."""
    return [
        *_interval(briefing),
        *_dark_frame(briefing),
        *_card(briefing),
        *_power(briefing),
        *_sun(briefing),
        *_drift(briefing),
        *_sweep(briefing),
        *_no_light(briefing.plan),
    ]


def _interval(briefing: Briefing) -> Iterable[Advice]:
    timing = briefing.timing
    better = f"Set interval_s = {timing.recommended_interval_s:g} in [sweep]."
    if timing.interval_s < timing.head_s - 1e-9:
        yield Advice(
            "stop",
            f"An interval of {timing.interval_s:g} s moves the head while the camera exposes.",
            f"moving, settling and exposing take {timing.head_s:.1f} s",
            better,
        )
    if timing.missing_frame_probability > ACCEPTED_RISK:
        risk = timing.missing_frame_probability
        yield Advice(
            "stop" if risk > 0.05 else "warn",
            f"With an interval of {timing.interval_s:g} s a frame goes missing in "
            f"{_of_a_hundred(risk)} shoots.",
            f"the camera needs {timing.camera_s:.1f} s on average, sometimes more, and a release "
            "that comes too early is lost without a trace",
            better,
        )


def _dark_frame(briefing: Briefing) -> Iterable[Advice]:
    """Long exposures on a camera of which it is not known whether it takes a dark frame."""
    shutter_s = briefing.exposure.shutter_s
    known = briefing.plan.shoot.conditions.cycle.dark_frame_from_s is not None
    if known or shutter_s < DARK_FRAME_LIKELY_S:
        return
    yield Advice(
        "warn",
        f"If the camera takes a dark frame, every frame takes {shutter_s:g} s longer.",
        "many subtract one after exposures of about a second, asked or not, and a release that "
        "comes during it is lost",
        "Look for noise reduction of long exposures in its menu, and set dark_frame_from_s in "
        "[cycle].",
    )


def _of_a_hundred(share: float) -> str:
    if share >= 0.995:
        return "practically all"
    return f"{share * 100:.0f} of 100" if share >= 0.01 else f"{share * 1000:.1f} of 1,000"


def _card(briefing: Briefing) -> Iterable[Advice]:
    card = briefing.card
    if card.free_bytes is not None and card.bytes_high > card.free_bytes:
        yield Advice(
            "stop",
            f"The card is too small: the shoot needs up to {size_words(card.bytes_high)}, and "
            f"{size_words(card.free_bytes)} are free.",
            "a full card ends the shoot without a word",
            f"Take an empty or larger card ({card.cards} of this size)."
            if card.cards
            else "Take an empty or larger card.",
        )
    if card.rolls_over_at_frame is not None:
        yield Advice(
            "note",
            f"File numbers start again at 0001 with frame {card.rolls_over_at_frame}.",
            "names then no longer sort in the order they were taken",
            "Nothing to do: the check goes by the clock. Do not rename files by hand.",
        )


def _power(briefing: Briefing) -> Iterable[Advice]:
    for what, frame in (
        ("head", briefing.power.head_swap_after_frames),
        ("camera", briefing.power.camera_swap_after_frames),
    ):
        if frame is not None and frame < len(briefing.plan.cells):
            yield Advice(
                "warn",
                f"The {what}'s battery lasts for {frame} of {len(briefing.plan.cells)} frames.",
                "capacity at this temperature, with a margin",
                f"Swap it at the end of the row before frame {frame}; touch nothing else, and "
                "check that the next frame still overlaps.",
            )


def _sun(briefing: Briefing) -> Iterable[Advice]:
    light = briefing.light
    if light is None:
        return
    inside = [near for near in light.sun_cells if near.in_frame]
    near = [near for near in light.sun_cells if not near.in_frame]
    start = _another_start(light)
    if inside:
        cells = [briefing.plan.cells[found.cell] for found in inside]
        where = _cells(cells)
        yield Advice(
            "stop",
            f"The sun is in the picture: {where}.",
            "it burns the sensor and whites out the frame; never look for it through the finder",
            start or "Leave these cells out, or come at another time.",
        )
    elif near:
        yield Advice(
            "warn",
            f"The sun comes near {len(near)} frames: expect flare and less contrast there.",
            f"it stands within {min(found.separation_deg for found in near):.0f}° of an axis",
            f"Shade the lens from outside the frame. {start}".strip(),
        )


def _cells(cells: list[Cell]) -> str:
    """The cells by row, and the columns of each."""
    rows: dict[int, list[int]] = {}
    for cell in cells:
        rows.setdefault(cell.row, []).append(cell.column)
    parts = []
    for row, columns in sorted(rows.items()):
        first, last = min(columns), max(columns)
        span = f"column {first}" if first == last else f"columns {first} to {last}"
        parts.append(f"row {row}, {span}")
    return "; ".join(parts)


def _another_start(light: LightFacts) -> str:
    if not light.best_starts:
        return ""
    best = light.best_starts[0]
    return f"Better: start at {best.at:%H:%M} ({best.says[:1].lower()}{best.says[1:].rstrip('.')})."


def _drift(briefing: Briefing) -> Iterable[Advice]:
    light = briefing.light
    if light is None:
        return
    if light.touching_drift_ev > _TOUCHING_EV:
        yield Advice(
            "warn",
            f"Daylight changes by {light.touching_drift_ev:.2f} EV between neighbours.",
            f"touching frames are up to {briefing.sweep.chosen.greatest_age_s / 60:.0f} min apart "
            f"in {light.phase}",
            "Sweep so that neighbours are closer in time, with shorter lines, or start when the "
            "light is steadier.",
        )
    elif abs(light.brightness_drift_ev) > _DRIFT_EV:
        yield Advice(
            "note",
            f"Daylight changes by {light.brightness_drift_ev:+.1f} EV over the shoot.",
            f"it begins in {light.phase}",
            "Keep the exposure: the drift is smooth, and the balance evens it out; or change the "
            "shutter by a third of a stop between lines, never within one.",
        )


def _sweep(briefing: Briefing) -> Iterable[Advice]:
    chosen = briefing.sweep.chosen
    best = min(briefing.sweep.choices, key=lambda choice: choice.greatest_age_s)
    if best.greatest_age_s < _BETTER * chosen.greatest_age_s:
        way = "there and back" if best.serpentine else "each line the same way"
        yield Advice(
            "note",
            f"By {best.order}, {way}, touching frames are at most {best.greatest_age_s:.0f} s "
            f"apart instead of {chosen.greatest_age_s:.0f} s.",
            "what moves (tide, clouds, crowds, shadows) moves less between neighbours",
            f'order = "{best.order}" and serpentine = {str(best.serpentine).lower()} in [sweep], '
            "where the head can.",
        )


def _no_light(plan: Plan) -> Iterable[Advice]:
    place, start = plan.shoot.conditions.place, plan.shoot.conditions.start
    missing = [
        name for name, value in (("[place]", place), ("start in [shoot]", start)) if value is None
    ]
    if missing:
        yield Advice(
            "note",
            f"Without {' and '.join(missing)} nothing is known of sun, twilight and moon.",
            "flare, shadows, the drift of daylight and the best time to start follow from them",
            "Add them to the shoot file.",
        )
    elif place is not None and place.zero_bearing_deg is None:
        yield Advice(
            "note",
            "Without zero_bearing_deg it is not known in which cells the sun stands.",
            "bearings of the grid count from the shoot's own zero",
            "Add zero_bearing_deg to [place]: the true bearing of the shoot's 0.",
        )
