"""Six lessons for a class: each goes wrong in one way, and says what the check makes of it.

A lesson is data: a shoot file, what goes wrong, and what must be found. The pupils rehearse it,
check the card, and see with their own eyes what a mistake looks like before it costs a trip.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from belvedere.foundation import PlanError
from belvedere.rehearse.faults import Place


@dataclass(frozen=True, slots=True)
class Lesson:
    """One lesson.

    Attributes
    ----------
    name
        The word that asks for it.
    title
        What it is about, for a heading.
    story
        What happened, in sentences that a teacher reads aloud.
    shoot_toml
        The shoot file.
    faults
        What goes wrong, in the words of `--fault`.
    seed
        Chance.
    verdict
        What the check must say of the shoot.
    states
        What it must say of these cells; of all others it must say that they are good.
    unjudged
        Cells that show too little to be judged, so that their fault stays unseen.
    look_for
        What to see in the check, in sentences.
    questions
        For the class.
    """

    name: str
    title: str
    story: tuple[str, ...]
    shoot_toml: str
    faults: tuple[str, ...]
    verdict: str
    states: tuple[tuple[Place, str], ...]
    look_for: tuple[str, ...]
    questions: tuple[str, ...]
    unjudged: tuple[Place, ...] = ()
    seed: int = 1


def _shoot(interval_s: float = 3.0, top_deg: float = 16.0) -> str:
    """The harbour in four rows of six small frames: all of it in a few seconds."""
    return f"""\
[shoot]
title = "Saltmere harbour from the mole"

[camera]
sensor_width_mm = 7.44
image_width_px = 800
image_height_px = 600

[lens]
focal_length_mm = 34.0

[grid]
left_deg = -30.0
right_deg = 30.0
top_deg = {top_deg}
bottom_deg = -10.0
overlap = 0.30
rows = 4
columns = 6

[sweep]
interval_s = {interval_s}
"""


_SLOW_CAMERA = """
[cycle]
shutter_lag_s = 0.1
processing_s = 1.4
processing_spread = 0.05

[card]
file_mb = 0.2
write_mb_s = 1.0
stall_probability = 0.2
stall_s = 1.0
"""

_INTERVAL = Lesson(
    name="interval",
    title="The interval too short",
    story=(
        "The sun was going down and Mira was in a hurry, so she set the head to go on every "
        "2 seconds.",
        "Her camera needs 1.7 seconds for a picture, so that seemed enough.",
        "But one time in five her card pauses for another second to tidy up, and then the camera "
        "is still busy when the head asks for the next picture.",
        "The head is blind: it waits its 2 seconds and moves on.",
        "The numbers of the files have no gap, so at home everything looked complete.",
    ),
    shoot_toml=_shoot(interval_s=2.0) + _SLOW_CAMERA,
    faults=(),
    verdict="reshoot",
    states=(
        ((1, 2), "missing"),
        ((1, 4), "missing"),
        ((3, 2), "missing"),
        ((4, 2), "missing"),
        ((4, 5), "missing"),
    ),
    look_for=(
        "The missing cells lie all over the grid, and some of them in plain sky.",
        "Each says between which two files it should be, and that 4 seconds passed there and "
        "not 2.",
        "The numbers of these two files follow each other: a camera that is busy uses up no "
        "number.",
        "Ask for the plan of this shoot file: it would have told before.",
    ),
    questions=(
        "Count the files, then count the cells. Would you have noticed on a shoot of 600?",
        "How long is the sweep with an interval of 3 seconds, and what does the extra time cost?",
        "Which is better on a hurried evening: a shorter interval, or fewer and wider frames?",
    ),
)

_WHITE_BALANCE = Lesson(
    name="white-balance",
    title="The unlocked white balance",
    story=(
        "Jonas had set focus and exposure by hand, and forgot the white balance: it stayed on "
        "automatic.",
        "Over the sky the camera chose one colour; when the red roofs filled the frame it took "
        "them for a red lamp and turned the picture blue.",
        "Over the water it went back again.",
        "Each frame looks right on its own. Side by side they show stripes.",
    ),
    shoot_toml=_shoot(),
    faults=("colour 3,1 0.8 1.25 onwards", "colour 4,1 1.25 0.8 onwards"),
    verdict="reshoot",
    states=tuple(((3, column), "colour") for column in range(1, 7)),
    look_for=(
        "One whole row has another colour than the rows around it.",
        "The check compares what two neighbours both show: the same roof cannot be red in one "
        "and grey in the other.",
        "Nothing is wrong with focus or exposure: one setting is enough.",
    ),
    questions=(
        "Open a frame of row 2 and one of row 3 side by side. Which roof is the true one?",
        "Could it be put right at home? What would be lost?",
        "Which other settings must stand on manual before a sweep begins?",
    ),
)

_FOCUS = Lesson(
    name="focus",
    title="Autofocus on the sky",
    story=(
        "Ada left the autofocus on, because it had always served her well.",
        "On the town it did so here, too.",
        "But it looks at the middle of the frame, and some frames have nothing but sky there: "
        "a lens that finds no edge hunts back and forth and stops anywhere, this time at two "
        "metres.",
        "Where roofs, a spire or trees reach into such a frame, they are out of focus.",
    ),
    shoot_toml=_shoot(top_deg=14.0),
    faults=(
        "autofocus 1,1 2",
        "autofocus 1,3 2",
        "autofocus 1,4 2",
        "autofocus 1,6 2",
        "autofocus 2,6 2",
    ),
    verdict="reshoot",
    states=(((1, 3), "soft"), ((1, 4), "soft"), ((2, 6), "soft")),
    unjudged=((1, 1), (1, 6)),
    look_for=(
        "The frames with the spire and the trees are soft against their neighbours.",
        "Two more frames are just as blurred, and the check accuses nobody: in plain sky there is "
        "nothing to judge sharpness by, and it says so.",
        "The good frames are those on which the autofocus found the town.",
    ),
    questions=(
        "Why does it not matter much that a frame of plain sky is soft, and when does it?",
        "How would you focus once for the whole sweep, and how would you keep it there?",
        "Look at 1,4 at full size: could you have seen it on the camera's display?",
    ),
)

_WIND = Lesson(
    name="wind",
    title="Wind",
    story=(
        "On the mole it blew in gusts, and Teo's long lens caught them like a sail.",
        "Between the gusts the picture stood still; in a gust it trembled.",
        "He had hung no weight on the tripod and had left its middle column up.",
        "A frame that was taken in a gust is smeared in one direction, the next one is sharp.",
    ),
    shoot_toml=_shoot(),
    faults=(
        "shaken 2,3 7 at 5",
        "shaken 2,4 5 at 10",
        "shaken 3,2 6 at 0",
        "shaken 3,5 9 at 15",
        "shaken 4,3 6 at 5",
    ),
    verdict="reshoot",
    states=(
        ((2, 3), "shaken"),
        ((2, 4), "shaken"),
        ((3, 2), "shaken"),
        ((3, 5), "shaken"),
        ((4, 3), "shaken"),
    ),
    look_for=(
        "Five cells are shaken: they lost detail in one direction and kept it in the other.",
        "The direction is nearly the same in all of them: along the rows, as the wind came.",
        "Two of them touch each other, and each is still told from its sharp neighbours.",
    ),
    questions=(
        "What would you change first: the tripod, the time of the exposure, the pause after each "
        "move, or the day?",
        "What is the difference between a soft frame and a shaken one? Find an edge that tells.",
        "When is the wind too strong to stay on the mole at all?",
    ),
)

_TRIPOD = Lesson(
    name="tripod",
    title="The bumped tripod",
    story=(
        "Half-way through the third row a dog ran into the tripod.",
        "The picture that was being taken is shaken.",
        "Nobody looked at the display, and the head went on as if nothing had been.",
        "From there on every frame lies 2° to the right and 1.5° lower than it should.",
    ),
    shoot_toml=_shoot(),
    faults=("bumped 3,4 2.6", "shaken 3,4 9 at 40"),
    seed=32,
    verdict="reshoot",
    states=(((1, 6), "missing"), ((2, 6), "missing"), ((3, 4), "shaken")),
    look_for=(
        "One cell is shaken, falling to the right: the moment of the knock.",
        "Under the grid the check says between which two files the camera moved, how far and to "
        "which side.",
        "The frames after it are sharp and still overlap, so most of them are good as they are.",
        "A part of 1,6 and 2,6 is on no frame: those rows were taken before the knock, and no "
        "longer reach as far to the right as the rows below.",
        "Compare the frames of 3,3 and 3,4: a quarter of each should show the same houses, and "
        "they share only a narrow strip.",
    ),
    questions=(
        "Would it help to shoot only 3,4 again? Where does the tripod stand now?",
        "How far may a tripod move before a gap opens between two frames?",
        "What keeps dogs, feet and straps away from a tripod?",
    ),
)

_BOAT = Lesson(
    name="boat",
    title="The boat that moved",
    story=(
        "A fishing boat crossed the harbour while the sweep went on row by row.",
        "In the third row its blue roof and its mast stand at the lower edge of two frames.",
        "Twenty seconds later, when the head came to the row below, the boat had gone.",
        "The camera did nothing wrong, and every frame is sharp.",
        "Yet in the finished picture half a boat may float between two rows.",
    ),
    shoot_toml=_shoot(),
    faults=(),
    verdict="complete",
    states=(),
    look_for=(
        "The check says that the shoot is complete, and it is right: every frame is there and "
        "good.",
        "It judges the camera and not the harbour, so only your eyes find the boat: lay the "
        "frames of 3,5, 3,6, 4,5 and 4,6 side by side.",
        "The plan of this shoot file tells how many seconds lie between frames that touch, and "
        "that a sweep by columns would have fewer.",
    ),
    questions=(
        "Which frames would you take again, and when is the right moment?",
        "Would a sweep by columns have caught the boat whole?",
        "When is a thing that is there twice a mistake, and when is it a joke worth keeping?",
    ),
)

#: The lessons, in the order to teach them in.
LESSONS: dict[str, Lesson] = {
    lesson.name: lesson for lesson in (_INTERVAL, _WHITE_BALANCE, _FOCUS, _WIND, _TRIPOD, _BOAT)
}


def lesson_named(name: str) -> Lesson:
    """The lesson of a name.

    Raises
    ------
    PlanError
        Naming the lessons there are.
    """
    if name not in LESSONS:
        near = difflib.get_close_matches(name, LESSONS, 1)
        remedy = f"Did you mean “{near[0]}”?" if near else f"Known are {', '.join(LESSONS)}."
        raise PlanError(f"There is no lesson “{name}”.", remedy)
    return LESSONS[name]
