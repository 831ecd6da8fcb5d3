"""The interview's questions about the view, the wish, the overlap and the head; and all of them."""

from __future__ import annotations

import math
from typing import Any

from belvedere.foundation import PlanError
from belvedere.shoot import Wish
from belvedere.workflows.interview import Answers, Question, offers
from belvedere.workflows.interview_answers import (
    choice,
    numbers,
    print_and_fineness,
    quantities,
    size_and_distance,
    yes,
)
from belvedere.workflows.interview_day import day_questions
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
        *day_questions(),
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
