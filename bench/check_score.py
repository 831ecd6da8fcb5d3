"""How the check's answer compares with the truth, cell by cell and frame by frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from check_detail import LEAST_SHARE
from check_truth import Cell, FrameTruth, Truth, must_by_class

#: What the check may call a cell, and the remarks of its own that make it no good one.
FAULTY = ("missing", "corrupt", "soft", "shaken", "exposure", "colour")
_BLURRED = frozenset({"soft", "shaken"})
#: The edges of the bins of confidence, for the reliability diagram.
CONFIDENCE_EDGES = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99, 0.995, 0.999, 1.0)


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing that the check got wrong: `what` went wrong, and in which part of the work."""

    what: str
    cause: str
    says: str


@dataclass(slots=True)
class Score:
    """One shoot's result.

    `matrix` counts cells by what is true of them and what was said. `confidence` counts placed
    frames by bin: how many, how many at their true cell, and the sum of the confidences.
    """

    number: int
    seed: int
    scene: str
    case: dict[str, Any]
    code: str = ""
    verdict: str = "none"
    faulty: bool = False
    frames: int = 0
    rehearse_s: float = 0.0
    check_s: float = 0.0
    matrix: dict[str, dict[str, int]] = field(default_factory=dict)
    misplaced: int = 0
    unsure_cells: int = 0
    wrongly_complete: bool = False
    confidence: list[list[float]] = field(default_factory=list)
    failures: list[dict[str, str]] = field(default_factory=list)
    trouble: str = ""

    def count(self, true: str, said: str) -> None:
        row = self.matrix.setdefault(true, {})
        row[said] = row.get(said, 0) + 1

    def fail(self, what: str, cause: str, says: str) -> None:
        self.failures.append({"what": what, "cause": cause, "says": says})


def score_shoot(score: Score, truth: Truth, answer: Mapping[str, Any]) -> Score:
    """Fill in what follows from the check's document and its `placements`."""
    score.verdict = str(answer["verdict"])
    score.frames = len(truth.frames)
    _placing(score, truth, answer["placements"])
    said = {(int(c["row"]), int(c["column"])): c for c in answer["cells"]}
    classes = {kind: _by_class(truth, kind, said) for kind in ("exposure", "colour")}
    serious = False
    for cell in truth.takes:
        serious |= _judge_cell(score, truth, cell, said[cell], classes)
    score.faulty = serious or truth.gaps.somewhere
    score.unsure_cells = sum(cell["state"] == "unsure" for cell in answer["cells"])
    _gaps(score, truth, said)
    _unlocked(score, truth, answer)
    score.wrongly_complete = score.verdict == "complete" and score.faulty
    if score.wrongly_complete:
        score.fail("called complete", "verdict", "a faulty shoot was called complete")
    if score.verdict == "unsure":
        score.fail("unsure", "verdict", f"{score.unsure_cells} cells are unsure")
    return score


def _placing(score: Score, truth: Truth, placements: list[dict[str, Any]]) -> None:
    bins = [[0.0, 0.0, 0.0] for _ in CONFIDENCE_EDGES[1:]]
    for one in placements:
        frame = truth.frames.get(one["file"])
        if frame is None:
            continue
        placed = None if one["row"] is None else (int(one["row"]), int(one["column"]))
        right = _placed_right(frame, placed)
        if placed is not None:
            sure = min(max(float(one["confidence"]), 0.0), 1.0)
            which = min(int(np.searchsorted(CONFIDENCE_EDGES, sure, "right")) - 1, len(bins) - 1)
            bins[which][0] += 1.0
            bins[which][1] += float(right)
            bins[which][2] += sure
        if not right:
            score.misplaced += 1
            truly = " or ".join(f"{r},{c}" for r, c in sorted(frame.cells)) or "no cell"
            where = "no cell" if placed is None else f"{placed[0]},{placed[1]}"
            score.fail(
                "misplaced",
                "placing",
                f"{one['file']} ({frame.role}) at {where}, truly {truly}, {one['confidence']:.3f}",
            )
    score.confidence = bins


def _placed_right(frame: FrameTruth, placed: Cell | None) -> bool:
    if placed is None:
        # A file without content, or of a sweep that was given up, may stand for no cell.
        return not frame.cells or frame.role in ("empty", "given up")
    return placed in frame.cells


def _by_class(
    truth: Truth, kind: str, said: Mapping[Cell, Mapping[str, Any]]
) -> tuple[set[str], set[str]]:
    accused = {
        cell["frames"][0] for cell in said.values() if cell["frames"] and kind in _kinds(cell)
    }
    return must_by_class(truth, kind, accused)


def _kinds(cell: Mapping[str, Any]) -> set[str]:
    """What the check says is wrong with a cell; its state among it."""
    found = {finding["kind"] for finding in cell["findings"]} & {*FAULTY, "unsure"}
    return found | ({cell["state"]} - {"good"})


def _judge_cell(
    score: Score,
    truth: Truth,
    cell: Cell,
    answer: Mapping[str, Any],
    classes: Mapping[str, tuple[set[str], set[str]]],
) -> bool:
    """Compare one cell; True where it must be shot again."""
    must, free, file = _wanted(truth, cell, answer, classes)
    named = _named(_kinds(answer), answer)
    blurred = must & {*_BLURRED, "soft or shaken"}
    if blurred and truth.detail.get(file, 1.0) < LEAST_SHARE:
        must, free = must - blurred, free | _BLURRED
        score.count("blurred, no detail", named)
        if not must:
            return False
    if must:
        _look_for(score, truth, cell, answer, must, file)
        return True
    if cell not in truth.gaps.perhaps:
        _look_at_good(score, truth, cell, answer, free, file)
    return False


def _look_for(
    score: Score, truth: Truth, cell: Cell, answer: Mapping[str, Any], must: set[str], file: str
) -> None:
    """Whether what must be found was said."""
    said = _kinds(answer)
    for kind in sorted(must):
        right = _right_word(kind, said)
        score.count(kind, right or _named(said, answer))
        if right is None:
            cause = _cause(kind, truth, cell, answer)
            share = f", detail on {truth.detail.get(file, 1.0):.0%}" if kind in _BLURRED else ""
            score.fail(
                f"missed {kind}",
                cause,
                f"{cell[0]},{cell[1]} called {_named(said, answer)}{share}{_happened(truth, file)}",
            )


def _look_at_good(
    score: Score, truth: Truth, cell: Cell, answer: Mapping[str, Any], free: set[str], file: str
) -> None:
    """Whether a cell that is good, or may be called so, was accused."""
    wrong = (_kinds(answer) - free) & {*FAULTY, "unsure"}
    named = _named(wrong, answer) if wrong else str(answer["state"])
    score.count("good" if wrong or not free else "either", named)
    for kind in sorted(wrong):
        says = next((f["says"] for f in answer["findings"] if f["kind"] == kind), "")
        score.fail(
            "unsure cell" if kind == "unsure" else f"accused of {kind}",
            _cause(kind, truth, cell, answer),
            f"{cell[0]},{cell[1]}{_happened(truth, file)}: {says}",
        )


def _happened(truth: Truth, file: str) -> str:
    happened = truth.frames[file].happened if file in truth.frames else ()
    return f" ({', '.join(happened)})" if happened else ""


def _wanted(
    truth: Truth,
    cell: Cell,
    answer: Mapping[str, Any],
    classes: Mapping[str, tuple[set[str], set[str]]],
) -> tuple[set[str], set[str], str]:
    """What must be said of a cell, what may be said, and the file that it is about.

    A cell is as good as its best take; where the check calls it good, and where a frame lies
    between two cells, the take that it put in charge is what counts.
    """
    takes = truth.takes[cell]
    if not takes:
        return {"missing"}, set(), ""
    options = {file: _of_file(truth, file, classes) for file in takes}
    in_charge = answer["frames"][0] if answer["frames"] else ""
    best = min(takes, key=lambda file: (len(options[file][0]), len(options[file][1])))
    named = answer["state"] == "good" or cell in truth.maybe
    chosen = in_charge if named and in_charge in options else best
    must, free = options[chosen]
    if cell in truth.maybe:
        free = free | {"missing"}
    return must, free, chosen


def _of_file(
    truth: Truth, file: str, classes: Mapping[str, tuple[set[str], set[str]]]
) -> tuple[set[str], set[str]]:
    frame = truth.frames[file]
    must, free = set(frame.must), set(frame.free)
    if frame.whole:
        for kind, (must_files, free_files) in classes.items():
            if file in must_files and kind not in free:
                must.add(kind)
            if file in free_files:
                free.add(kind)
    return must, free


def _right_word(kind: str, said: set[str]) -> str | None:
    """The right word where it was said, or a graver one that asks for the cell all the same."""
    if kind == "soft or shaken":
        return next(iter(said & _BLURRED), None)
    return kind if kind in said else None


def _named(said: set[str], answer: Mapping[str, Any]) -> str:
    if answer["state"] in said or not said:
        return str(answer["state"])
    return next(iter(sorted(said)))


def _cause(kind: str, truth: Truth, cell: Cell, answer: Mapping[str, Any]) -> str:
    """The part of the check that a failure comes from."""
    # Frames of other cells that are placed here tell of those cells.
    strange = any(cell not in truth.frames[file].cells for file in answer["frames"])
    strange |= not answer["frames"] and bool(truth.takes[cell])
    if strange or kind in ("missing", "unsure"):
        return "placing"
    return {"corrupt": "damage", "exposure": "tone", "colour": "tone"}.get(kind, "sharpness")


def _gaps(score: Score, truth: Truth, said: Mapping[Cell, Mapping[str, Any]]) -> None:
    """Holes are named at their cell or beside it; by whichever measure the check goes."""
    if not truth.gaps.somewhere:
        return
    options = [
        {cell: _named_near(cell, said) for cell in holes if truth.takes[cell]}
        for holes in truth.gaps.surely
    ]
    found = max(options, key=lambda option: sum(option.values()) / max(1, len(option)))
    for cell, named in sorted(found.items()):
        score.count("hole", "named" if named else "good")
        if not named:
            score.fail("missed hole", "geometry", f"{cell[0]},{cell[1]} called good")


def _named_near(cell: Cell, said: Mapping[Cell, Mapping[str, Any]]) -> bool:
    return any(
        one["state"] != "good"
        for place, one in said.items()
        if abs(place[0] - cell[0]) <= 1 and abs(place[1] - cell[1]) <= 1
    )


def _unlocked(score: Score, truth: Truth, answer: Mapping[str, Any]) -> None:
    """What was left on automatic must at least be said of the shoot, where it changed much."""
    if "exposure" not in truth.unlocked:
        return
    evs = [frame.ev for frame in truth.frames.values() if frame.whole and frame.cells]
    if not evs or np.ptp(evs) < 1.0:
        return
    kinds = {f["kind"] for f in answer["findings"]}
    kinds |= {f["kind"] for cell in answer["cells"] for f in cell["findings"]}
    if not kinds & {"exposure", "settings"}:
        score.fail("not said", "tone", "exposure was not locked, and nothing is said of it")
