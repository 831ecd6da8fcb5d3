"""What a person asks of a rehearsal, made into one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypeVar

import numpy as np

from belvedere.foundation import PlanError, StoreError
from belvedere.rehearse import (
    FILE_STYLES,
    CardEnd,
    Dust,
    Fault,
    FileStyle,
    HeadTraits,
    Rehearsal,
    card_end,
    parse_fault,
    parse_places,
    random_faults,
    with_hazard,
)
from belvedere.shoot import Plan, make_plan
from belvedere.workflows.rehearse import SceneMaker, read_truth, scene_maker
from belvedere.workflows.shootfile import load_shoot

T = TypeVar("T")

#: A retake begins so long after the last frame: the check, and finding the first cell.
_LATER = timedelta(minutes=6)
#: The hazard that leaves something behind.
_DUST = "dusty"


@dataclass(frozen=True, slots=True)
class RehearsalRequest:
    """A rehearsal as it was asked for; None where it was left open."""

    shoot: Path
    seed: int | None = None
    scene: str | None = None
    scene_seed: int | None = None
    faults: tuple[str, ...] = ()
    random_faults: int = 0
    cells: str | None = None
    after: Path | None = None
    tilt_deg: float | None = None
    pointing_error_deg: float | None = None
    step_error_percent: float | None = None
    start: datetime | None = None
    first_number: int | None = None
    hazards: tuple[str, ...] = ()
    backlash_deg: float | None = None
    files: str | None = None
    still: bool = False


@dataclass(frozen=True, slots=True)
class PreparedRehearsal:
    """A rehearsal and what it looks at."""

    rehearsal: Rehearsal
    make_scene: SceneMaker
    scene_name: str


def prepare(request: RehearsalRequest) -> PreparedRehearsal:
    """Fill in what was left open: from the rehearsal before it, or the usual.

    Raises
    ------
    PlanError
        Where the shoot file, a fault or a cell cannot be used.
    StoreError
        Where the rehearsal to go on after cannot be read.
    CardError
        Where the picture to look at cannot be read.
    """
    plan = make_plan(load_shoot(request.shoot))
    usual = _going_on(request.after, plan) if request.after else _Usual(Rehearsal(plan))
    rehearsal = replace(
        usual.rehearsal,
        head=_head(usual.rehearsal.head, request),
        seed=_given(request.seed, usual.rehearsal.seed),
        start=_given(request.start, usual.rehearsal.start).replace(tzinfo=None),
        first_number=_given(request.first_number, usual.rehearsal.first_number),
        only=parse_places(request.cells) if request.cells else (),
        style=_style(request.files) if request.files else usual.rehearsal.style,
        still=request.still,
    )
    rehearsal = replace(rehearsal, faults=rehearsal.faults + _faults(request, rehearsal))
    for name in (*usual.goes_on, *_new_hazards(request, usual)):
        rehearsal = with_hazard(rehearsal, name)
    scene = _given(request.scene, usual.scene)
    scene_seed = _given(request.scene_seed, usual.scene_seed)
    return PreparedRehearsal(
        rehearsal,
        scene_maker(scene, scene_seed, plan, rehearsal.crowd),
        _scene_name(scene, scene_seed),
    )


@dataclass(frozen=True, slots=True)
class _Usual:
    """What holds where the request leaves something open."""

    rehearsal: Rehearsal
    scene: str = "harbour"
    scene_seed: int = 1
    goes_on: tuple[str, ...] = ()


def _new_hazards(request: RehearsalRequest, usual: _Usual) -> list[str]:
    """What is asked for beside what goes on; asking for that again changes nothing."""
    known = {*usual.goes_on, *usual.rehearsal.hazards}
    return [name for name in request.hazards if name.strip().lower() not in known]


def _going_on(after: Path, plan: Plan) -> _Usual:
    document = read_truth(after)
    try:
        end: CardEnd = card_end(document)
    except (KeyError, TypeError, ValueError, IndexError) as error:
        raise StoreError(
            f"{after} does not hold the truth of a rehearsal.",
            "Give the folder that `belvedere rehearse` wrote.",
        ) from error
    scene, _, number = end.scene.rpartition(" #")
    return _Usual(
        Rehearsal(
            plan,
            head=end.head,
            seed=end.seed,
            start=(end.last_release + _LATER).replace(microsecond=0),
            first_number=end.last_number + 1,
            began=end.began,
            style=_style(end.files),
            stands=end.stands,
            # Dust stays on the sensor as it is; the rest of the day is drawn anew.
            faults=(Dust(end.grains),) if end.grains else (),
            hazards=tuple(name for name in end.hazards if name == _DUST),
        ),
        scene or end.scene,
        int(number) if scene else 1,
        tuple(name for name in end.hazards if name != _DUST),
    )


def _scene_name(scene: str, scene_seed: int) -> str:
    return f"{scene} #{scene_seed}"


def _head(usual: HeadTraits, request: RehearsalRequest) -> HeadTraits:
    step = request.step_error_percent
    return replace(
        usual,
        base_tilt_deg=_given(request.tilt_deg, usual.base_tilt_deg),
        pointing_error_deg=_given(request.pointing_error_deg, usual.pointing_error_deg),
        step_scale_error=usual.step_scale_error if step is None else step / 100.0,
        backlash_deg=_given(request.backlash_deg, usual.backlash_deg),
    )


def _style(name: str | None) -> FileStyle:
    """The way of writing files that a word asks for."""
    if name is None:
        return FileStyle()
    if name not in FILE_STYLES:
        raise PlanError(
            f"No camera here writes files in the way “{name}”.",
            f"Known are {', '.join(FILE_STYLES)}.",
        )
    return FILE_STYLES[name]


def _faults(request: RehearsalRequest, rehearsal: Rehearsal) -> tuple[Fault, ...]:
    asked = tuple(parse_fault(words) for words in request.faults)
    if request.random_faults and rehearsal.only:
        raise PlanError(
            "Faults left to chance need the whole sweep.", "Name the faults of single cells."
        )
    most = len(rehearsal.plan.cells) - 1
    if request.random_faults > most:
        raise PlanError(
            f"{request.random_faults} faults are more than this sweep can have.",
            f"Ask for {most} at most.",
        )
    rng = np.random.default_rng([rehearsal.seed, request.random_faults])
    return asked + random_faults(rehearsal.plan, rng, request.random_faults)


def _given(value: T | None, usual: T) -> T:
    return usual if value is None else value
