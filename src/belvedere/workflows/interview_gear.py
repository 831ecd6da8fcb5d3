"""The interview's questions about the picture, the camera and the lens."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from belvedere.foundation import PlanError
from belvedere.shoot import Lens
from belvedere.workflows.gear import (
    MOST_CHOICES,
    CameraChoice,
    LensChoice,
    camera_name,
    camera_says,
    camera_unknown,
    lens_says,
    sensor_size_mm,
)
from belvedere.workflows.interview import Answers, Question, offers
from belvedere.workflows.interview_answers import choice, lens_range_mm, numbers
from belvedere.workflows.interview_file import camera_reply, picture_px
from belvedere.workflows.sample_picture import Sample

_BY_PICTURE, _BY_NAME, _BY_HAND = "from a picture it took", "by its name", "by hand"
_CAMERA_WAYS = (_BY_PICTURE, _BY_NAME, _BY_HAND)
_MOUNTINGS = ("landscape", "portrait")


@dataclass(frozen=True, slots=True)
class Lookups:
    """What the questions ask of the world: a picture file, and the lens database."""

    read_sample: Callable[[Path], Sample]
    find_cameras: Callable[[str], tuple[CameraChoice, ...]]
    find_lenses: Callable[[str, CameraChoice], tuple[LensChoice, ...]]


def gear_questions(lookups: Lookups) -> tuple[Question, ...]:
    """Title, camera, lens."""
    return (_title(), *_camera_questions(lookups), *_lens_questions(lookups))


def _title() -> Question:
    return Question(
        key="title",
        topic=1,
        text="What is the picture called?",
        teaches="It heads the plan, the sheet that you take along, and the published page.",
        more="Any words will do, such as: Saltmere harbour from the mole. It can be changed later "
        "in the shoot file, like everything here.",
        parse=lambda text, _answers: text,
        default=offers("My first panorama"),
    )


def _camera_questions(lookups: Lookups) -> tuple[Question, ...]:
    return (
        Question(
            key="camera_way",
            topic=2,
            text="How shall we learn about your camera?",
            teaches="A picture that it took knows most: its size, the sensor, the light that day.",
            more="Belvedere needs the size of the sensor and of the pictures: together they say "
            "how large a pixel is, and with the lens how fine it sees. A picture straight from the "
            "camera (JPEG, not raw, not sent by phone) usually knows. The database knows many "
            "cameras by name, but not how many pixels they have. The manual knows all of it.",
            parse=lambda text, _answers: choice(text, _CAMERA_WAYS),
            default=offers(_BY_HAND),
            options=lambda _answers: _numbered(_CAMERA_WAYS),
        ),
        Question(
            key="sample",
            topic=2,
            text="Where is the picture?",
            teaches="Type its path, or drag the file into this window. It is only read.",
            more="Take a picture as the camera wrote it, in the shape that you will shoot in and "
            "without digital zoom. Press < to choose another way.",
            parse=lambda text, _answers: lookups.read_sample(_path(text)),
            default=offers(None),
            asked=lambda answers: answers["camera_way"] == _BY_PICTURE,
            reply=_sample_reply,
        ),
        Question(
            key="camera_name",
            topic=2,
            text="What is it called?",
            teaches="Part of the name will do; all cameras that hold those words are shown.",
            more="The model as it is printed on the camera, with or without the maker.",
            parse=lambda text, _answers: _cameras(text, lookups),
            default=offers(None),
            asked=lambda answers: answers["camera_way"] == _BY_NAME,
        ),
        Question(
            key="camera_choice",
            topic=2,
            text="Which of these is it?",
            teaches="Names are alike and cameras are not: look twice. Press < to search again.",
            more="The crop factor says how much smaller the sensor is than 36 × 24 mm. Entries of "
            "one camera that differ in it are for different shapes of picture.",
            parse=lambda text, answers: _picked(text, answers["camera_name"]),
            default=lambda answers: "1" if len(answers["camera_name"]) == 1 else None,
            asked=lambda answers: "camera_name" in answers,
            options=lambda answers: _choices(answers["camera_name"], camera_says),
            reply=lambda answers: camera_unknown(answers["camera_choice"]),
        ),
        Question(
            key="picture_size",
            topic=2,
            text="How many pixels do its pictures have?",
            teaches="Width and height at the finest quality; the manual, or any picture's "
            "properties, say so.",
            more="The largest size that the camera writes, such as 6000 x 4000. A smaller size "
            "gives a smaller mosaic and saves space on the card.",
            parse=_picture_size,
            default=_usual_picture_size,
            asked=_size_is_unknown,
        ),
        Question(
            key="sensor_width",
            topic=2,
            text="How long is the long side of the sensor, in mm?",
            teaches="It decides how much a lens sees: half the sensor, half the view.",
            more="36 for full frame, 22.3 to 23.6 for APS-C, 17.3 for Four Thirds, 13.2 for one "
            "inch, 7.4 to 7.6 for 1/1.7 inch, 6.2 for 1/2.3 inch. The manual has the exact figure; "
            "the inches in its name are not the size.",
            parse=lambda text, _answers: numbers(text, 1, "23.6", 2.0, 100.0)[0],
            default=lambda answers: _usual_sensor(answers, lookups),
            asked=_sensor_is_unknown,
        ),
        Question(
            key="mounting",
            topic=2,
            text="How does the camera sit on the head?",
            teaches="Portrait makes fewer and higher rows; landscape is steadier on most heads.",
            more="Landscape: the long side lies level. Portrait: it stands upright, usually on an "
            "L-shaped bracket. The number of frames is about the same.",
            parse=lambda text, _answers: choice(text, _MOUNTINGS),
            default=_usual_mounting,
            options=lambda _answers: _numbered(_MOUNTINGS),
            reply=camera_reply,
        ),
    )


def _lens_questions(lookups: Lookups) -> tuple[Question, ...]:
    return (
        Question(
            key="lens",
            topic=3,
            text="What focal length does the lens have, in mm?",
            teaches="One figure, or a zoom's range like 70-300. The longer, the finer, and the "
            "more frames.",
            more="The figure that is engraved on the lens, not a 35 mm equivalent: a compact "
            "camera that advertises 140 mm may have 30.5 mm written around its lens. If you found "
            "your camera by name, a part of the lens' name works too.",
            parse=lambda text, answers: _lens(text, answers, lookups),
            default=lambda answers: _usual_lens(answers, lookups),
        ),
        Question(
            key="lens_choice",
            topic=3,
            text="Which of these is it?",
            teaches="All lenses of that name that fit your camera. Press < to search again.",
            more="Apertures come from the database; where it does not know them, look at the ring "
            "on the front of the lens.",
            parse=lambda text, answers: _as_lens(_picked(text, answers["lens"])),
            default=lambda answers: "1" if len(answers["lens"]) == 1 else None,
            asked=lambda answers: isinstance(answers["lens"], tuple),
            options=lambda answers: _choices(answers["lens"], lens_says),
        ),
    )


def _numbered(lines: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f"{number:>2}  {line}" for number, line in enumerate(lines, start=1))


def _choices(found: tuple[Any, ...], says: Callable[[Any], str]) -> tuple[str, ...]:
    lines = _numbered(tuple(says(one) for one in found[:MOST_CHOICES]))
    rest = len(found) - MOST_CHOICES
    return (
        (*lines, f"    and {rest} more: press < and type more of the name") if rest > 0 else lines
    )


def _picked(text: str, found: tuple[Any, ...]) -> Any:
    shown = min(len(found), MOST_CHOICES)
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= shown:
        wanted = "1" if shown == 1 else f"a number from 1 to {shown}"
        raise PlanError(f"{text} is none of these.", f"Type {wanted}, or < to search again.")
    return found[int(text) - 1]


def _path(text: str) -> Path:
    """A path as typed, quoted, or dragged into a terminal."""
    bare = text.strip().strip("'\"").removeprefix("file://")
    path = Path(bare).expanduser()
    return path if path.exists() else Path(bare.replace("\\ ", " ")).expanduser()


def _cameras(text: str, lookups: Lookups) -> tuple[CameraChoice, ...]:
    found = lookups.find_cameras(text)
    if not found:
        raise PlanError(
            f"The database knows no camera like {text}.",
            "Try less of its name, or press < to tell about it by hand.",
        )
    return found


def _sample_reply(answers: Answers) -> tuple[str, ...]:
    sample: Sample = answers["sample"]
    unknown = tuple(f"Not known: {said[0].lower()}{said[1:]}" for said in sample.unknown)
    return (*sample.says, *unknown)


def _size_is_unknown(answers: Answers) -> bool:
    return "sample" not in answers or answers["sample"].written_px is not None


def _usual_picture_size(answers: Answers) -> str:
    if "sample" in answers:
        long_px, short_px = sorted(answers["sample"].written_px, reverse=True)
        return f"{long_px} x {short_px}"
    return "6000 x 4000"


def _picture_size(text: str, _answers: Answers) -> tuple[int, int]:
    width, height = numbers(text.replace("x", " ").replace("×", " "), 2, "6000 x 4000", 16, 100_000)
    return round(width), round(height)


def _sensor_is_unknown(answers: Answers) -> bool:
    if "camera_choice" in answers:
        return False
    return "sample" not in answers or answers["sample"].sensor is None


def _usual_sensor(answers: Answers, lookups: Lookups) -> str:
    """36 mm; or what the database says of the one camera that a sample names."""
    sample: Sample | None = answers.get("sample")
    if sample is not None and sample.model:
        named = [
            found
            for found in lookups.find_cameras(sample.model)
            if found.model.casefold() == sample.model.casefold()
        ]
        if len(named) == 1:
            return f"{sensor_size_mm(named[0].crop_factor, *picture_px(answers))[0]:.2f}"
    return "36"


def _usual_mounting(answers: Answers) -> str:
    return "portrait" if "sample" in answers and answers["sample"].is_portrait else "landscape"


def _usual_lens(answers: Answers, lookups: Lookups) -> str:
    """300 mm; or the one of a sample, or the one that is built into a camera found by name."""
    if "sample" in answers and answers["sample"].settings.focal_length_mm:
        return f"{answers['sample'].settings.focal_length_mm:g}"
    if "camera_choice" in answers:
        built_in = lookups.find_lenses("", answers["camera_choice"])
        if len(built_in) == 1:
            return f"{built_in[0].shortest_mm:g}-{built_in[0].longest_mm:g}"
    return "300"


def _lens(text: str, answers: Answers, lookups: Lookups) -> Lens | tuple[LensChoice, ...]:
    lengths = lens_range_mm(text)
    if lengths is not None:
        return Lens(lengths[1], shortest_mm=lengths[0], longest_mm=lengths[1])
    camera: CameraChoice | None = answers.get("camera_choice")
    if camera is None:
        raise PlanError(f"{text} is no focal length.", "Type it like 300, or 70-300.")
    found = tuple(lens for lens in lookups.find_lenses(text, camera) if lens.is_rectilinear)
    if not found:
        raise PlanError(
            f"The database knows no lens like {text} for {camera_name(camera)}.",
            "Type less of its name, or its focal length like 70-300.",
        )
    return found


def _as_lens(found: LensChoice) -> Lens:
    return Lens(
        found.longest_mm,
        shortest_mm=found.shortest_mm,
        longest_mm=found.longest_mm,
        widest_f_number=found.widest_f_number,
    )
