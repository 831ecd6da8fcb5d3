"""The evidence for one cell: what its frame rests on, and what each overlap says of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from belvedere.check.judge_pairs import PairEvidence, measure_pairs
from belvedere.check.judge_tone import ab_difference, tint_to_ab
from belvedere.check.model import CellReport, CheckReport
from belvedere.check.place import Placing
from belvedere.check.rhythm import seconds
from belvedere.foundation import Steps
from belvedere.measure import FrameSource, Overlap
from belvedere.shoot import Plan

FloatArray = NDArray[np.float64]

#: The nearest of a frame's neighbours; with much overlap there are many.
_MOST_NEIGHBOURS = 10
#: The directions in which blur is measured, as `measure.SECTORS_DEG` has them.
DIRECTIONS = ("sideways", "falling to the right", "up and down", "rising to the right")


@dataclass(frozen=True, slots=True)
class Beside:
    """A frame before or after in shutter order, and its distance in time; None if unknown."""

    file: str
    row: int | None
    column: int | None
    gap_s: float | None


@dataclass(frozen=True, slots=True)
class Neighbour:
    """What one overlap says of a cell's frame, as seen from it.

    `where` is the way to the neighbour ("left", "above right", "2 below", "same cell"). `off_px`
    (2,) is how far the frame lies off where the plan has it against this neighbour, to the right
    and down.
    `blur_px` has for each of `DIRECTIONS` how much more blurred this frame is than the neighbour
    and how sure that is (both px, None where nothing fine is to be seen). `exposure_ev` is
    positive where this frame is the brighter one; `colour_difference` is CIEDE2000 on grey.
    """

    file: str
    row: int
    column: int
    where: str
    overlap: Overlap
    registered: bool
    patches: int
    textured: float
    off_px: tuple[float, float] | None
    misfit_px: float
    blur_px: tuple[tuple[float, float] | None, ...]
    exposure_ev: float | None
    colour_difference: float | None


@dataclass(frozen=True, slots=True)
class Reasons:
    """All that is known of one cell.

    `runner_up` is the second most probable explanation of the frame, in words, with its
    probability. `interval_s` is the rhythm heard on the card, None where there is none.
    """

    cell: CellReport
    bearing_deg: float
    elevation_deg: float
    file: str
    runner_up: tuple[str, float] | None
    before: Beside | None
    after: Beside | None
    interval_s: float | None
    neighbours: tuple[Neighbour, ...]


def reasons_for(
    plan: Plan,
    placing: Placing,
    report: CheckReport,
    overlaps: Sequence[Overlap],
    source: FrameSource,
    row: int,
    column: int,
) -> Steps[Reasons]:
    """The evidence for the cell at `row`, `column`, which the plan must have.

    The overlaps of its frame in charge with those of other cells, and with its own other takes,
    are measured anew.
    """
    cell = next(c for c in report.cells if (c.row, c.column) == (row, column))
    planned = plan.cell(row, column)
    index = plan.cells.index(planned)
    number = {frame.file: t for t, frame in enumerate(placing.frames)}
    file = cell.frames[0] if cell.frames else ""
    neighbours: tuple[Neighbour, ...] = ()
    if file:
        in_charge = {c.frames[0] for c in report.cells if c.frames} | set(cell.frames)
        mine = [o for o in overlaps if file in (o.file_a, o.file_b)]
        mine = [o for o in mine if {o.file_a, o.file_b} <= in_charge]
        evidence = yield from measure_pairs(placing.frames, mine, source)
        by_ends = {(o.file_a, o.file_b): o for o in mine}
        found = []
        for pair in evidence.pairs:
            ends = placing.frames[pair.a].file, placing.frames[pair.b].file
            found.append(_neighbour(plan, placing, by_ends[ends], pair, number[file]))
        found.sort(key=lambda n: (abs(n.row - row) + abs(n.column - column), n.row, n.column))
        neighbours = tuple(found[:_MOST_NEIGHBOURS])
    t = number[file] if file else -1
    return Reasons(
        cell,
        planned.bearing_deg,
        planned.elevation_deg,
        file,
        _runner_up(plan, placing, t) if file else None,
        _beside(plan, placing, index, t, -1),
        _beside(plan, placing, index, t, +1),
        None if placing.rhythm is None else placing.rhythm.interval_s,
        neighbours,
    )


def _runner_up(plan: Plan, placing: Placing, t: int) -> tuple[str, float]:
    chances = placing.alignment.cell[t].copy()
    if placing.cell[t] >= 0:
        chances[placing.cell[t]] = 0.0
    other, nowhere = int(chances.argmax()), float(placing.alignment.nowhere[t])
    if chances[other] > nowhere:
        cell = plan.cells[other]
        return f"row {cell.row}, column {cell.column}", float(chances[other])
    return "no frame of the sweep", nowhere


def _beside(plan: Plan, placing: Placing, index: int, t: int, way: int) -> Beside | None:
    """The frame before or after; of a cell without one, those on either side of the gap."""
    if t >= 0:
        other = t + way
    else:
        placed = np.flatnonzero(placing.cell >= 0)
        side = placed[placing.cell[placed] < index if way < 0 else placing.cell[placed] > index]
        other = int(side[-1] if way < 0 else side[0]) if len(side) else -1
    if not 0 <= other < len(placing.frames) or _elsewhere(placing, t, other):
        return None
    clock = seconds(placing.frames)
    gap = float(abs(clock[other] - clock[t])) if t >= 0 else float("nan")
    k = int(placing.cell[other])
    row, column = (plan.cells[k].row, plan.cells[k].column) if k >= 0 else (None, None)
    known = round(gap, 2) if np.isfinite(gap) else None
    return Beside(placing.frames[other].file, row, column, known)


def _elsewhere(placing: Placing, t: int, other: int) -> bool:
    """Retakes of other cards come after the sweep's frames and know nothing of their time."""
    return any(placing.frames[k].file.startswith("../") for k in (t, other) if k >= 0)


def _neighbour(
    plan: Plan, placing: Placing, overlap: Overlap, pair: PairEvidence, t: int
) -> Neighbour:
    """What a pair says, turned so that it speaks of frame `t` against the other."""
    mine_is_b = pair.b == t
    sign, other = (1.0, pair.a) if mine_is_b else (-1.0, pair.b)
    here, there = plan.cells[int(placing.cell[t])], plan.cells[int(placing.cell[other])]
    tone = pair.tone
    tint = np.median(tone.tint, axis=0) if len(tone.tint) else None
    return Neighbour(
        placing.frames[other].file,
        there.row,
        there.column,
        _way(here.row, here.column, there.row, there.column),
        overlap,
        pair.registered,
        pair.patches,
        pair.textured,
        _off_px(placing, pair, sign),
        pair.misfit_px,
        _blur_px(pair, sign),
        sign * float(np.median(tone.exposure_ev)) if len(tone.exposure_ev) else None,
        None if tint is None else ab_difference(tint_to_ab(tint)),
    )


def _way(row: int, column: int, to_row: int, to_column: int) -> str:
    up = _steps(to_row - row, "below", "above")
    side = _steps(to_column - column, "right", "left")
    return f"{up} {side}".strip() or "same cell"


def _steps(count: int, forward: str, back: str) -> str:
    word = forward if count > 0 else back
    return "" if not count else (word if abs(count) == 1 else f"{abs(count)} {word}")


def _off_px(placing: Placing, pair: PairEvidence, sign: float) -> tuple[float, float] | None:
    """How far the pair lies off the plan, right and down; None where it was not registered."""
    if not pair.registered:
        return None
    moves, a, b = placing.moves, int(placing.cell[pair.a]), int(placing.cell[pair.b])
    planned = moves.planned(np.array([a]), np.array([b]))[0] if a != b else np.zeros(2)
    # Content moves against the centre.
    off = sign * (pair.shift_px + planned)
    return (float(off[0]), float(off[1])) if np.isfinite(off).all() else None


def _blur_px(pair: PairEvidence, sign: float) -> tuple[tuple[float, float] | None, ...]:
    """For each direction the difference of blur and its error; roots of variances, signed."""
    if pair.detail is None:
        return (None,) * len(DIRECTIONS)
    found: list[tuple[float, float] | None] = []
    for variance, spread in zip(pair.detail.blur_px2, pair.detail.spread_px2, strict=True):
        if not np.isfinite(spread):
            found.append(None)
            continue
        root = float(np.sqrt(abs(variance)))
        error = float(spread / max(2.0 * root, np.sqrt(spread)))
        found.append((float(np.copysign(root, sign * variance)), error))
    return tuple(found)
