"""The interview's questions about the view, the wish, the head, the day and the supplies."""

from __future__ import annotations

import math
import re
from datetime import datetime
from itertools import zip_longest
from typing import Any

from belvedere.foundation import PlanError
from belvedere.light import zoned
from belvedere.optics import LIGHT_CONDITIONS, ev100_of
from belvedere.shoot import Wish
from belvedere.workflows.interview import Answers, Question, offers
from belvedere.workflows.interview_answers import (
    choice,
    latitude_longitude,
    moment,
    near_and_far_m,
    numbers,
    print_and_fineness,
    quantities,
    size_and_distance,
    utc_offset,
    yes,
)
from belvedere.workflows.interview_file import (
    fewer_columns_save,
    frame_reply,
    grid_reply,
    is_zoom,
    lens_of,
    limits_reply,
    view_deg,
    wish_reply,
)
from belvedere.workflows.interview_gear import Lookups, gear_questions

_FOCAL, _SMALLEST, _SCALE, _PRINT, _GIGAPIXELS = _WISHES = (
    "a focal length that I choose",
    "something small that shall be recognised",
    "a scale: mm per pixel",
    "a print of some size",
    "gigapixels",
)
_LIT_FROM = ("front", "side", "back")
#: As printed on cards; what each promises stands with the card's arithmetic.
_SPEED_CLASSES = ("C2", "C4", "C6", "C10", "U1", "U3", "V6", "V10", "V30", "V60", "V90")
#: Elevation from which rows far from the horizon need fewer columns.
_HIGH_DEG = 25.0


def questions(lookups: Lookups) -> tuple[Question, ...]:
    """All questions, in the order of `TOPICS`."""
    return (
        *gear_questions(lookups),
        *_view_questions(),
        *_wish_questions(),
        _overlap(),
        *_head_questions(),
        _distances(),
        *_light_questions(),
        *_rhythm_questions(),
        *_supply_questions(),
        *_place_questions(),
    )


def _view_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="edges",
            topic=4,
            text="Where are the left and right edge, in degrees?",
            teaches="Count from the middle of the picture: left is negative. Or type turn for all "
            "the way round.",
            more="Your fist at arm's length is about 10° wide, your spread hand about 20° (from "
            "thumb to little finger). A compass or the head's own scale is better. Any direction "
            "can be zero; the middle of the picture is handy.",
            parse=_edges,
            default=offers("-40 40"),
        ),
        Question(
            key="heights",
            topic=4,
            text="Where are the lower and upper edge, in degrees?",
            teaches="Count from the horizon: 0 is level, 90 straight up, below is negative.",
            more="Leave some room: what is cut off cannot be added later. But plain sky and near "
            "ground cost frames and are hard to join.",
            parse=_heights,
            default=offers("-8 12"),
            reply=lambda answers: (
                f"The picture will be {view_deg(answers)[0]:g}° wide and "
                f"{view_deg(answers)[1]:g}° high.",
            ),
        ),
    )


def _wish_questions() -> tuple[Question, ...]:
    size, scale, printed = "12 mm at 60 m", "0.1 mm at 5 m", "3 m at 150 dpi, or 3 m from 2 m"
    return (
        Question(
            key="wish_way",
            topic=5,
            text="What do you want of the picture?",
            teaches="Say what it shall show, and the focal length follows; or choose it yourself.",
            more="Longer is finer: twice the focal length shows details half as large, and takes "
            "four times the frames. A wish keeps you from carrying home more than you need.",
            parse=lambda text, _answers: choice(text, _WISHES),
            default=offers(_FOCAL),
            options=lambda _answers: tuple(
                f"{number:>2}  {wish}" for number, wish in enumerate(_WISHES, start=1)
            ),
            reply=lambda answers: () if _asks_more(answers) else frame_reply(answers),
        ),
        _wish(
            _SMALLEST,
            "How small is it, and how far away?",
            "It will lie on 8 pixels: enough to tell what it is, or to read a letter of that "
            "height.",
            "The least width of what shall be recognised, such as the height of the letters on a "
            "sign. Eight pixels are the usual rule; haze, wind and soft focus take their share.",
            size,
            lambda text: _smallest(text, size),
        ),
        _wish(
            _SCALE,
            "How many mm per pixel, and at what distance?",
            "For a wall that shall be looked at as closely as a document.",
            "0.1 mm per pixel shows brush strokes and cracks; 1 mm shows bricks and mortar.",
            scale,
            lambda text: _scale(text, scale),
        ),
        _wish(
            _PRINT,
            "How wide, and how fine or seen from where?",
            "From the hand one sees 300 dpi, from 2 m no more than about 44.",
            "The eye separates a minute of arc. If people stand 2 m away, finer is lost on them; "
            "but they tend to step closer.",
            printed,
            lambda text: _print(text, printed),
            default="3 m at 150 dpi",
        ),
        _wish(
            _GIGAPIXELS,
            "How many gigapixels?",
            "A gigapixel is a thousand megapixels: some sixty frames of a 24-megapixel camera.",
            "The number is a fine thing to tell; what the picture shows is a better thing to "
            "plan for.",
            "1",
            lambda text: Wish(gigapixels=numbers(text, 1, "1.5", 0.001, 10_000.0)[0]),
        ),
        Question(
            key="focal",
            topic=5,
            text="Which focal length will you set, in mm?",
            teaches="The long end is usual. Tape the zoom ring: it must not move during the sweep.",
            more="Many zooms are a little sharper just short of their long end.",
            parse=_focal,
            default=lambda answers: f"{lens_of(answers).focal_length_mm:g}",
            asked=_asks_focal,
            reply=frame_reply,
        ),
    )


def _wish(
    way: str, text: str, teaches: str, more: str, example: str, read: Any, default: str = ""
) -> Question:
    return Question(
        key="wish",
        topic=5,
        text=text,
        teaches=teaches,
        more=more,
        parse=lambda typed, _answers: read(typed),
        default=offers(default or example),
        asked=lambda answers: answers["wish_way"] == way,
        reply=lambda answers: (*wish_reply(answers), *frame_reply(answers)),
    )


def _overlap() -> Question:
    return Question(
        key="overlap",
        topic=6,
        text="How much of a frame shall its neighbour repeat, in per cent?",
        teaches="Frames are joined by what they share: 25 to 35 is usual, 30 is safe.",
        more="Less saves frames, but where the head is a little off, or the shared strip is plain "
        "sky or water, there is nothing to join by.",
        parse=_share,
        default=offers("30"),
        reply=grid_reply,
    )


def _head_questions() -> tuple[Question, ...]:
    return (
        Question(
            key="head_step",
            topic=7,
            text="Does the head move in fixed steps? How large, in degrees?",
            teaches="0 if it can stop anywhere. Two figures if panning and tilting differ.",
            more="Some heads can only be told whole or half degrees. The grid is then made of such "
            "steps, never with less overlap than you asked for.",
            parse=_steps,
            default=offers("0"),
        ),
        Question(
            key="head_limits",
            topic=7,
            text="How far down and up can it look, in degrees?",
            teaches="With your camera and lens on it: a long lens may hit the base.",
            more="-90 is straight down, 90 straight up. Try it at home, slowly, with the camera "
            "on and the tripod weighed down.",
            parse=_limits,
            default=offers("-90 90"),
            reply=limits_reply,
        ),
        Question(
            key="fewer_columns",
            topic=7,
            text="Can it take fewer columns in the rows far from the horizon?",
            teaches="High up the sky is narrower, so a row needs fewer frames there.",
            more="Heads that are told one number of columns for all rows cannot. Heads that take a "
            "list of directions can.",
            parse=lambda text, _answers: yes(text),
            default=lambda answers: "no" if answers["edges"] else "yes",
            asked=_columns_matter,
            reply=grid_reply,
        ),
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
            more=f"The class is one of {', '.join(_SPEED_CLASSES)}. Either one alone "
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


def _edges(text: str, _answers: Answers) -> tuple[float, ...]:
    if text.casefold() in ("turn", "full turn", "360"):
        return ()
    left, right = numbers(text, 2, "-40 40, or turn", -360.0, 360.0)
    if right <= left:
        raise PlanError(
            f"The right edge, {right:g}, must be larger than the left, {left:g}.",
            "A picture across the back goes like 150 210.",
        )
    if right - left >= 360.0:
        raise PlanError(f"{right - left:g}° is all the way round.", "Type turn for that.")
    return left, right


def _heights(text: str, _answers: Answers) -> tuple[float, float]:
    low, high = sorted(numbers(text, 2, "-8 12", -90.0, 90.0))
    if low == high:
        raise PlanError("The lower and the upper edge are the same.", "Type it like -8 12")
    return low, high


def _smallest(text: str, example: str) -> Wish:
    size_mm, distance_m = size_and_distance(text, example)
    return Wish(smallest_mm=size_mm, distance_m=distance_m)


def _scale(text: str, example: str) -> Wish:
    size_mm, distance_m = size_and_distance(text, example)
    return Wish(mm_per_px=size_mm, distance_m=distance_m)


def _print(text: str, example: str) -> Wish:
    width_mm, dpi, distance_m = print_and_fineness(text, example)
    return Wish(print_width_mm=width_mm, dpi=dpi, viewing_distance_m=distance_m)


def _asks_focal(answers: Answers) -> bool:
    return answers["wish_way"] == _FOCAL and is_zoom(answers)


def _asks_more(answers: Answers) -> bool:
    return answers["wish_way"] != _FOCAL or is_zoom(answers)


def _focal(text: str, answers: Answers) -> float:
    lens = lens_of(answers)
    shortest, longest = lens.shortest_mm or 0.0, lens.longest_mm or math.inf
    value = numbers(text, 1, f"{longest:g}", 0.5, 10_000.0)[0]
    if not shortest <= value <= longest:
        raise PlanError(
            f"Your lens goes from {shortest:g} to {longest:g} mm.", f"{value:g} is outside of it."
        )
    return value


def _share(text: str, _answers: Answers) -> float:
    value = numbers(text, 1, "30", 0.01, 90.0)[0]
    return value if value <= 0.9 else value / 100.0


def _steps(text: str, _answers: Answers) -> tuple[float, float]:
    both = len(quantities(text)) == 2
    found = numbers(text, 2 if both else 1, "0.5, or 0.5 1", 0.0, 90.0)
    return found[0], found[-1]


def _limits(text: str, _answers: Answers) -> tuple[float, float]:
    low, high = sorted(numbers(text, 2, "-45 60", -90.0, 90.0))
    return low, high


def _columns_matter(answers: Answers) -> bool:
    return max(map(abs, answers["heights"])) > _HIGH_DEG and fewer_columns_save(answers) > 0


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
        found[key] = float(word) if is_number else choice(word, _SPEED_CLASSES)
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
