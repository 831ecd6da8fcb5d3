"""The interview's questions about the day: distances, light, rhythm, supplies, place and time."""

from __future__ import annotations

import math
import re
from datetime import datetime
from itertools import zip_longest
from typing import Any

from belvedere.foundation import PlanError
from belvedere.light import zoned
from belvedere.optics import LIGHT_CONDITIONS, ev100_of
from belvedere.shoot import SPEED_CLASS_MB_S, Wish
from belvedere.workflows.interview import Answers, Question, offers
from belvedere.workflows.interview_answers import (
    choice,
    latitude_longitude,
    moment,
    near_and_far_m,
    numbers,
    quantities,
    utc_offset,
)

_LIT_FROM = ("front", "side", "back")


def day_questions() -> tuple[Question, ...]:
    """Near and far, light, rhythm, supplies, place and time."""
    return (
        _distances(),
        *_light_questions(),
        *_rhythm_questions(),
        *_supply_questions(),
        *_place_questions(),
    )


def _distances() -> Question:
    example = "40 2000, or 40 far"
    return Question(
        key="distances",
        topic=8,
        text="How far away are the nearest and the farthest thing, in metres?",
        teaches="Focus hangs on it: with a long lens not all of it may be sharp at once.",
        more="Of what shall be sharp. Type far for the horizon, such as 40 far. Parts of the "
        "scene with distances of their own can be added to the file as further [[regions]]. The "
        "nearest also says how well the lens must sit over the axis.",
        parse=lambda text, _answers: near_and_far_m(text, example),
        default=_usual_distances,
    )


def _light_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="light",
            topic=9,
            text="What light will there be?",
            teaches="One exposure serves all frames, set by hand; this says where it begins.",
            more="Type a number or a name, or an exposure value at ISO 100 such as ev 12.5. The "
            "table is a beginning: on the day, meter the brightest part that must not burn out.",
            parse=_light,
            default=_usual_light,
            options=_light_options,
        ),
        Question(
            key="lit_from",
            topic=9,
            text="Where will the sun stand?",
            teaches="front: behind you, on what you see. Against the light it is two stops darker.",
            more="side costs about one stop, back about two. Never look at the sun through the "
            "lens, and keep it out of the frames: it can blind you and burn the sensor.",
            parse=lambda text, _answers: choice(text, _LIT_FROM),
            default=offers("front"),
            asked=_sun_matters,
            options=lambda _answers: (
                " 1  front: it lights what you see",
                " 2  side",
                " 3  back: you look against the light",
            ),
        ),
    )


def _rhythm_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="interval",
            topic=10,
            text="How many seconds from one frame to the next?",
            teaches="The head does not wait for the camera: too short, and frames go missing.",
            more="Press Enter and it is worked out: the shortest that loses a frame in fewer than "
            "one of a thousand shoots. 3 s outdoors is usually enough; a slow card, or exposures "
            "of seconds with a dark frame after each, need more.",
            parse=lambda text, _answers: numbers(text, 1, "3", 0.1, 3600.0)[0],
            default=offers(""),
            left_out="work it out",
        ),
        Question(
            key="settle",
            topic=10,
            text="How many seconds does it wait after a move, for the shaking to die?",
            teaches="Long lenses shake long: look at the live view, enlarged, after a move.",
            more="Press Enter if you do not know: a usual time is assumed and said. Wind, a "
            "raised centre column and soft ground all need more.",
            parse=lambda text, _answers: numbers(text, 1, "1.5", 0.0, 600.0)[0],
            default=offers(""),
            left_out="assume a usual time",
        ),
    )


def _supply_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="card",
            topic=11,
            text="How much is free on the card, and what speed class is printed on it?",
            teaches="Such as 32 GB V30. A full card or a slow one ends the sweep unseen.",
            more=f"The class is one of {', '.join(SPEED_CLASS_MB_S)}. Either one alone "
            "will do. Press Enter if you do not know.",
            parse=_card,
            default=offers(""),
        ),
        Question(
            key="head_pack",
            topic=11,
            text="What does the head's battery pack hold?",
            teaches="Volts and ampere-hours as printed, such as 7.2 V 2.4 Ah.",
            more="2400 mAh are 2.4 Ah. Cold takes a good part of it. Do not charge or carry "
            "damaged packs, and follow the rules for batteries where you travel.",
            parse=_head_pack,
            default=offers(""),
        ),
        Question(
            key="camera_pack",
            topic=11,
            text="What does the camera's battery hold, in Wh?",
            teaches="Printed on it: volts times ampere-hours, 7 to 16 for most.",
            more="7.2 V and 1.9 Ah are 13.7 Wh. Press Enter if you do not know.",
            parse=lambda text, _answers: numbers(text, 1, "14", 0.5, 500.0)[0],
            default=offers(""),
        ),
    )


def _place_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="place",
            topic=12,
            text="Where will the tripod stand? Latitude and longitude, in degrees.",
            teaches="The sun follows from it: where it stands, when it sets, if it blinds a frame.",
            more="North and east are positive, or write N, S, E, W behind the figures. Two "
            "decimals are plenty. Without a place there is no sun, no shadow and no twilight in "
            "the plan.",
            parse=lambda text, _answers: latitude_longitude(text, "54.3 10.1"),
            default=offers(""),
        ),
        Question(
            key="zero_bearing",
            topic=12,
            text="Which true bearing has the middle, your 0°?",
            teaches="0 is north, 90 east. Without it the sun cannot be placed in the picture.",
            more="Measure it on a map, from the tripod to something in the middle. A compass shows "
            "magnetic north and is easily off by some degrees, more beside a tripod.",
            parse=lambda text, _answers: numbers(text, 1, "215", -360.0, 360.0)[0],
            default=offers(""),
            asked=_has_place,
        ),
        Question(
            key="start",
            topic=12,
            text="When will the first frame be taken?",
            teaches="Date and local time, like 2027-06-21 20:30.",
            more="Press Enter if the day is open. With it, the plan follows the sun through the "
            "whole sweep and names the better hours.",
            parse=lambda text, _answers: moment(text, "2027-06-21 20:30"),
            default=offers(""),
            asked=_has_place,
        ),
        Question(
            key="time_zone",
            topic=12,
            text="By which clock?",
            teaches="The distance from UTC like +02:00, or a name of the time zone database.",
            more="Summer time counts: a place at +01:00 in winter is usually at +02:00 in summer. "
            "Names, such as Etc/UTC, know when the clocks change.",
            parse=_zone,
            default=offers("UTC"),
            asked=_needs_zone,
        ),
    )


def _usual_distances(answers: Answers) -> str:
    wish: Wish | None = answers.get("wish")
    if wish is None or wish.distance_m is None:
        return ""
    return f"{wish.distance_m:g} far"


def _light_options(answers: Answers) -> tuple[str, ...]:
    names = tuple(LIGHT_CONDITIONS)
    height = math.ceil(len(names) / 3)
    cells = [f"{number:>2}  {name}" for number, name in enumerate(names, start=1)]
    columns = [cells[start : start + height] for start in range(0, len(cells), height)]
    wide = [max(len(cell) for cell in column) + 3 for column in columns]
    lines = tuple(
        "".join(f"{cell:<{width}}" for cell, width in zip(row, wide, strict=False)).rstrip()
        for row in zip_longest(*columns, fillvalue="")
    )
    metered = _metered(answers)
    return lines if metered is None else (*lines, f"    or sample: EV {metered:.1f} as it was then")


def _metered(answers: Answers) -> float | None:
    metered: float | None = answers["sample"].metered_ev100 if "sample" in answers else None
    return metered


def _usual_light(_answers: Answers) -> str:
    return "sunny"


def _light(text: str, answers: Answers) -> str | float:
    metered = _metered(answers)
    if metered is not None and text.casefold() == "sample":
        return round(metered, 1)
    if text.casefold().startswith("ev"):
        return numbers(text[2:], 1, "ev 12.5", -10.0, 20.0)[0]
    return choice(text, tuple(LIGHT_CONDITIONS))


def _sun_matters(answers: Answers) -> bool:
    light = answers["light"]
    return isinstance(light, str) and ev100_of(light, "back") != ev100_of(light, "front")


def _card(text: str, _answers: Answers) -> dict[str, Any]:
    """Free space, speed class, or both; and nothing else."""
    found: dict[str, Any] = {}
    quantities(text)
    for word in re.sub(r"(?<=\d)\s*gb?\b", "", text, flags=re.IGNORECASE).split():
        is_number = re.fullmatch(r"\d+(?:\.\d+)?", word) is not None
        key = "free_gb" if is_number else "speed_class"
        if key in found:
            raise PlanError("That should be gigabytes and a speed class.", "Type it like 32 GB V30")
        found[key] = float(word) if is_number else choice(word, tuple(SPEED_CLASS_MB_S))
    return found


def _head_pack(text: str, _answers: Answers) -> dict[str, Any]:
    found = quantities(text, ("v", "ah", "mah"))
    by_unit = {unit or ("v", "ah")[place]: value for place, (value, unit) in enumerate(found[:2])}
    if "mah" in by_unit:
        by_unit["ah"] = by_unit["mah"] / 1e3
    if len(found) != 2 or "v" not in by_unit or "ah" not in by_unit or min(by_unit.values()) <= 0.0:
        raise PlanError("That should be volts and ampere-hours.", "Type it like 7.2 V 2.4 Ah")
    return {"head_pack_v": by_unit["v"], "head_pack_ah": by_unit["ah"]}


def _has_place(answers: Answers) -> bool:
    return answers.get("place") is not None


def _needs_zone(answers: Answers) -> bool:
    start: datetime | None = answers.get("start")
    return start is not None and start.tzinfo is None


def _zone(text: str, answers: Answers) -> str:
    offset = utc_offset(text)
    if offset is None:
        zoned(answers["start"], text)
    return offset or text
