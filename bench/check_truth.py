"""What the check should find on a rehearsed shoot, and how its answer compares."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import cv2
import numpy as np

from belvedere.rehearse import Exposure, Rehearsal, Scene, Shot, photograph

Cell = tuple[int, int]

#: A cell's scene has detail when so large a share of it shows fine contrast above so many levels.
_DETAIL_SHARE, _DETAIL_LEVELS = 0.1, 2.5
_PATCH_PX = 64
#: Exposures (EV) and white balances (ratio) closer than this belong to one class.
_SAME_EV, _SAME_GAIN = 0.12, 0.06
FAULTY = ("missing", "corrupt", "soft", "shaken", "exposure", "colour")


@dataclass(frozen=True, slots=True)
class Expected:
    """What is truly wrong with each cell; `detail` says where sharpness could be judged.

    `classes` lists, for exposure and colour, groups of cells exposed alike: which group is
    accused is open where two are nearly equally large.
    """

    faults: dict[Cell, set[str]]
    detail: dict[Cell, float]
    classes: dict[str, list[set[Cell]]]
    cell_of_file: dict[str, Cell]


@dataclass(slots=True)
class Score:
    """One shoot's result."""

    number: int
    scene: str
    verdict: str
    seconds: float
    frames: int
    total: dict[str, int] = field(default_factory=dict)
    found: dict[str, int] = field(default_factory=dict)
    without_detail: int = 0
    good_cells: int = 0
    accused: list[str] = field(default_factory=list)
    unsure: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    misplaced: list[str] = field(default_factory=list)
    wrongly_complete: bool = False
    trouble: str = ""


def expected(
    rehearsal: Rehearsal, taken: Sequence[Shot], files: Mapping[int, str], scene: Scene
) -> Expected:
    """What is wrong, from the rehearsal's truth."""
    cells = [(cell.row, cell.column) for cell in rehearsal.plan.cells]
    best: dict[Cell, Shot] = {}
    for shot in taken:
        if shot.cell is None or shot.role == "before the sweep":
            continue
        if shot.cell not in best or best[shot.cell].kept < 1.0 or shot.role == "repeated":
            best[shot.cell] = shot
    faults: dict[Cell, set[str]] = {cell: set() for cell in cells}
    detail: dict[Cell, float] = {}
    for cell in cells:
        if cell not in best:
            faults[cell].add("missing")
            continue
        shot = best[cell]
        if shot.kept < 1.0:
            faults[cell].add("corrupt")
            continue
        blur = shot.exposure.blur
        if blur.defocus_px > 0.0:
            faults[cell].add("soft")
        if blur.motion_px > 0.0:
            faults[cell].add("shaken")
        if faults[cell]:
            detail[cell] = _detail(rehearsal, shot, scene)
    whole = {cell: shot for cell, shot in best.items() if shot.kept == 1.0}
    classes = {
        "exposure": _classes(
            {cell: np.array([shot.exposure.ev]) for cell, shot in whole.items()}, _SAME_EV
        ),
        "colour": _classes(
            {cell: np.log(np.array(shot.exposure.white_balance)) for cell, shot in whole.items()},
            _SAME_GAIN,
        ),
    }
    place = {files[shot.number]: shot.cell for shot in taken if shot.cell is not None}
    return Expected(faults, detail, classes, place)


def _classes(values: Mapping[Cell, np.ndarray], same: float) -> list[set[Cell]]:
    """Cells with like values, the largest class first."""
    found: list[tuple[np.ndarray, set[Cell]]] = []
    for cell, value in values.items():
        for middle, members in found:
            if np.abs(value - middle).max() < same:
                members.add(cell)
                break
        else:
            found.append((value, {cell}))
    return sorted((members for _, members in found), key=len, reverse=True)


def _detail(rehearsal: Rehearsal, shot: Shot, scene: Scene) -> float:
    """Share of the cell, photographed without fault or noise, that shows fine contrast."""
    quiet = replace(rehearsal.camera, full_well_e=1e9, read_noise_e=0.0)
    clean = replace(shot, exposure=Exposure())
    picture = photograph(clean, scene, rehearsal.lens(), quiet)
    luma = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.float32)
    fine = cv2.GaussianBlur(luma, (0, 0), 0.6) - cv2.GaussianBlur(luma, (0, 0), 2.0)
    height, width = (size // _PATCH_PX for size in luma.shape)
    power = cv2.resize(np.square(fine), (width, height), interpolation=cv2.INTER_AREA)
    return float(np.mean(np.sqrt(power) > _DETAIL_LEVELS))


def score(
    number: int, scene: str, truth: Expected, answer: Mapping[str, Any], frames: int
) -> Score:
    """Compare the check's JSON with the truth."""
    result = Score(number, scene, str(answer["verdict"]), float(answer["seconds"]), frames)
    said: dict[Cell, set[str]] = {}
    states: dict[Cell, str] = {}
    for cell in answer["cells"]:
        place = (int(cell["row"]), int(cell["column"]))
        states[place] = cell["state"]
        said[place] = {finding["kind"] for finding in cell["findings"]} | {cell["state"]}
        for file in cell["frames"]:
            if truth.cell_of_file.get(file) != place:
                result.misplaced.append(f"{file} at {place}, truly {truth.cell_of_file.get(file)}")
    wanted = {cell: set(kinds) for cell, kinds in truth.faults.items()}
    for kind, classes in truth.classes.items():
        for cell in _accused_class(kind, classes, said):
            wanted[cell].add(kind)
    for cell, kinds in wanted.items():
        _judge_cell(result, cell, kinds, said.get(cell, set()), states.get(cell, "good"), truth)
    serious = any(
        kinds and not (kinds <= {"soft", "shaken"} and truth.detail.get(cell, 0) < _DETAIL_SHARE)
        for cell, kinds in wanted.items()
    )
    result.wrongly_complete = result.verdict == "complete" and serious
    return result


def _accused_class(
    kind: str, classes: Sequence[set[Cell]], said: Mapping[Cell, set[str]]
) -> set[Cell]:
    """Cells that depart from the largest class; from the likeliest of those nearly as large."""
    everything: set[Cell] = set().union(*classes) if classes else set()
    accused = {cell for cell in everything if kind in said.get(cell, set())}
    usual = [members for members in classes if len(members) >= len(classes[0]) - 2]
    options = [everything - members for members in usual]
    return min(options, key=lambda option: len(option ^ accused), default=set())


def _judge_cell(
    result: Score, cell: Cell, kinds: set[str], said: set[str], state: str, truth: Expected
) -> None:
    blurred = {"soft", "shaken"}
    if kinds & blurred and truth.detail.get(cell, 1.0) < _DETAIL_SHARE:
        result.without_detail += 1
        kinds = kinds - blurred
        said = said - blurred
        if not kinds:
            return
    if not kinds:
        result.good_cells += 1
        wrong = sorted(said & set(FAULTY))
        if wrong:
            result.accused.append(f"{cell} {'+'.join(wrong)}")
        elif state == "unsure":
            result.unsure.append(str(cell))
        return
    for kind in sorted(kinds):
        result.total[kind] = result.total.get(kind, 0) + 1
        if kind in said or (kind in blurred and said & blurred):
            result.found[kind] = result.found.get(kind, 0) + 1
        elif said & {"missing", "corrupt"}:
            # The cell is to be taken again in any case; the lesser fault cannot be seen.
            result.found[kind] = result.found.get(kind, 0) + 1
        else:
            share = truth.detail.get(cell)
            note = "" if share is None else f", detail on {share:.0%}"
            result.missed.append(f"{cell} {kind}{note}, called {'+'.join(sorted(said))}")
