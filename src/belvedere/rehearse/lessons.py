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


def _shoot(interval_s: float = 3.0, order: str = "rows") -> str:
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
top_deg = 16.0
bottom_deg = -10.0
overlap = 0.30
rows = 4
columns = 6

[sweep]
order = "{order}"
interval_s = {interval_s}
"""


_INTERVAL = Lesson(
    name="interval",
    title="The interval too short",
    story=(
        "The sun was going down and Mira was in a hurry, so she set the head to go on every "
        "2 seconds.",
        "Most of the time her camera needed 1.8 seconds for a picture.",
        "But now and then the card paused to tidy up, and then the camera was still busy when "
        "the head asked for the next picture.",
        "The head is blind: it waited its 2 seconds and moved on.",
        "The numbers of the files have no gap, so at home everything looked complete.",
    ),
    shoot_toml=_shoot(interval_s=2.0),
    faults=("missing 1,5", "missing 2,3", "missing 3,2", "missing 4,4"),
    verdict="reshoot",
    states=(
        ((1, 5), "missing"),
        ((2, 3), "missing"),
        ((3, 2), "missing"),
        ((4, 4), "missing"),
    ),
    look_for=(
        "Four cells are missing, one of them in plain sky.",
        "Each says between which two files it should be, and that 4 seconds passed there and "
        "not 2.",
        "The numbers of these two files follow each other: a camera that is busy uses up no "
        "number.",
    ),
    questions=(
        "Count the files, then count the cells. Would you have noticed on a shoot of 600?",
        "How long is the sweep with an interval of 3 seconds, and what does the extra time cost?",
        "Which part of the day would you give up for a safe interval?",
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
        "But the top row is sky, and a lens that finds no edge to hold on to hunts back and "
        "forth and stops anywhere.",
        "Where a spire, a kite or a roof reaches into those frames, it is out of focus.",
    ),
    shoot_toml=_shoot(),
    faults=("soft 1,1 3", "soft 1,4 3", "soft 1,6 3", "soft 2,1 2.5", "soft 2,6 3"),
    verdict="reshoot",
    states=(
        ((1, 4), "soft"),
        ((2, 1), "soft"),
        ((2, 6), "soft"),
    ),
    unjudged=((1, 1), (1, 6)),
    look_for=(
        "The cells with the spire, the flag and the trees are soft against their neighbours.",
        "Two more frames are just as blurred, and the check accuses nobody: in plain sky there "
        "is nothing to judge sharpness by, and it says so.",
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
        "Half-way through the sweep a dog ran into the tripod.",
        "Nobody saw the picture move, and the head went on as if nothing had been.",
        "From that frame on everything lies a little lower and to the side.",
        "Along the seam between before and after, the frames overlap less than planned.",
    ),
    shoot_toml=_shoot(),
    faults=("bumped 3,4 3",),
    verdict="complete",
    states=(),
    look_for=(
        "Every frame is there and sharp: the check finds each in its cell by what it shows.",
    ),
    questions=(
        "How far may the tripod move before a gap opens between two rows?",
        "Would you begin again from the first cell, or only take the rest again?",
        "What could keep dogs, feet and bags away from a tripod?",
    ),
)

_BOAT = Lesson(
    name="boat",
    title="The boat that moved",
    story=(
        "A boat crossed the harbour while the sweep went on row by row.",
        "In the third row its mast was in one frame; when the head came back in the fourth, "
        "eighteen seconds later, its hull was somewhere else.",
        "The camera did nothing wrong.",
        "But where the two frames meet, the boat is cut, or it is there twice.",
    ),
    shoot_toml=_shoot(),
    faults=(),
    verdict="complete",
    states=(),
    look_for=(
        "The check says that the shoot is complete, and it is right: every frame is there and "
        "good.",
        "What moves is not a fault of a frame, so only your eyes can find it: compare the "
        "frames of 3,1 and 4,1.",
    ),
    questions=(
        "How many seconds lie between two frames above each other, and how many between two "
        "side by side?",
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
