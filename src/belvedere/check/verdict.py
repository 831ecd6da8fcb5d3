"""From placements and findings to cells, verdict and retake list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from belvedere.check.judge_model import Judgement
from belvedere.check.model import (
    CellReport,
    CheckReport,
    Finding,
    OtherFrame,
    Placement,
    Verdict,
)
from belvedere.check.place import Placing
from belvedere.check.retakes import plan_retakes
from belvedere.check.takes import Take, gravest, in_charge_first
from belvedere.check.thresholds import SURE_PLACED
from belvedere.check.words import (
    missing_says,
    placed_words,
    repeated_says,
    shoot_remarks,
    unsure_says,
)
from belvedere.shoot import Cell, Plan


def report(
    plan: Plan,
    placing: Placing,
    chosen: Sequence[str],
    judgement: Judgement,
    remarks: Sequence[Finding],
    seconds: float,
) -> CheckReport:
    """The answer at the tripod.

    Parameters
    ----------
    placing
        Every frame, retakes included, in the order taken.
    chosen
        Files that the person registered as retakes, in the order registered.
    remarks
        Findings on the shoot as a whole that come from elsewhere.
    """
    by_file: dict[str, list[Finding]] = {}
    for finding in (*judgement.findings, *judgement.remarks):
        by_file.setdefault(finding.file, []).append(finding)
    cells = tuple(
        _cell_report(plan, placing, index, frozenset(chosen), by_file, judgement.unjudged)
        for index in range(len(plan.cells))
    )
    in_row_order = tuple(sorted(cells, key=lambda cell: (cell.row, cell.column)))
    retakes, tour = plan_retakes(plan, cells, placing)
    return CheckReport(
        verdict=_verdict(cells),
        cells=in_row_order,
        other_frames=_other_frames(placing),
        findings=(*judgement.shoot_findings, *shoot_remarks(plan, placing), *remarks),
        retakes=retakes,
        placements=_placements(plan, placing),
        seconds=seconds,
        retake_tour=tour,
    )


def _verdict(cells: Sequence[CellReport]) -> Verdict:
    states = {cell.state for cell in cells}
    if states - {"good", "unsure"}:
        return "reshoot"
    return "unsure" if "unsure" in states else "complete"


def _cell_report(
    plan: Plan,
    placing: Placing,
    index: int,
    chosen: frozenset[str],
    by_file: Mapping[str, Sequence[Finding]],
    unjudged: Mapping[str, str],
) -> CellReport:
    cell = plan.cells[index]
    members = np.flatnonzero(placing.cell == index)
    takes = in_charge_first(
        [
            Take(
                placing.frames[t].file,
                float(placing.confidence[t]),
                placing.frames[t].file in chosen,
            )
            for t in members
        ],
        by_file,
    )
    if not takes:
        return _missing(placing, cell, index)
    first = takes[0]
    findings = list(by_file.get(first.file, ()))
    state = gravest(findings)
    if state == "good" and first.confidence < SURE_PLACED:
        state = "unsure"
        findings.append(Finding("unsure", unsure_says(plan, placing, index, first), first.file))
    if first.file in unjudged:
        findings.append(Finding("unjudged", unjudged[first.file], first.file))
    if len(takes) > 1:
        findings.append(Finding("repeated", repeated_says(takes), first.file))
    return CellReport(
        cell.row,
        cell.column,
        state,
        tuple(take.file for take in takes),
        round(first.confidence, 4),
        tuple(findings),
    )


def _missing(placing: Placing, cell: Cell, index: int) -> CellReport:
    nobody = float(np.prod(1.0 - np.clip(placing.alignment.cell[:, index], 0.0, 1.0)))
    finding = Finding("missing", missing_says(placing, index))
    return CellReport(cell.row, cell.column, "missing", (), round(nobody, 4), (finding,))


def _other_frames(placing: Placing) -> tuple[OtherFrame, ...]:
    return tuple(
        OtherFrame(placing.frames[t].file, role_of(placing, int(t)))
        for t in np.flatnonzero(placing.cell < 0)
    )


def role_of(placing: Placing, t: int) -> str:
    """What a frame without a cell is: it came before, after, or within the sweep."""
    placed = np.flatnonzero(placing.cell >= 0)
    if not len(placed) or t < placed[0]:
        return "before the sweep"
    return "after the sweep" if t > placed[-1] else "foreign"


def _placements(plan: Plan, placing: Placing) -> tuple[Placement, ...]:
    placements = []
    for t, frame in enumerate(placing.frames):
        index, confidence = int(placing.cell[t]), round(float(placing.confidence[t]), 4)
        if index < 0:
            placements.append(Placement(frame.file, None, None, confidence, role_of(placing, t)))
            continue
        cell = plan.cells[index]
        placements.append(
            Placement(
                frame.file,
                cell.row,
                cell.column,
                confidence,
                evidence=placed_words(placing, t),
            )
        )
    return tuple(placements)
