"""Find the cells of frames taken out of order: retakes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from belvedere.check.alignment import Alignment
from belvedere.check.place import Placing
from belvedere.check.pointing import displacement_px
from belvedere.check.positions import Positions, as_it_stands
from belvedere.check.sightings import Sightings
from belvedere.check.thresholds import LEAST_SHARE
from belvedere.foundation import Progress, Steps
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]

#: Log of how much less probable it is that the person shot a cell that was not asked for.
_NOT_ASKED_FOR = -4.0
#: A head sent back to a cell, or pushed there by hand, may be further off than in the sweep.
_AIM_SHARE = 0.05
#: Log of how probable it is that a frame shows no cell, as against one that was asked for.
_NOWHERE = -3.0
#: Log of how much more probable the next cell of the list is, if there are as many frames as cells;
#: and the same if those that can be told were shot in its order.
_IN_ORDER, _IN_ORDER_SO_FAR = 2.0, 5.0
_SURE = 0.9


@dataclass(frozen=True, slots=True)
class Located:
    """Where a frame most probably belongs: an index in sweep order, with the runner-up.

    `cell` is -1 for a frame that shows no cell.
    """

    cell: int
    confidence: float
    second: int


def locate(
    placing: Placing,
    positions: Positions,
    seen: Sightings,
    strangers: Sequence[int],
    asked_for: Sequence[int],
) -> Steps[tuple[Located, ...]]:
    """The cells of frames that `seen` knows by the indices `strangers`.

    Each is compared with every placed frame. `asked_for` are the cells that should be shot again,
    in the order of the list given to the person: where the pictures leave it open, a frame is
    taken for one of them, and as many frames as cells for the list in its order.
    """
    scores: list[FloatArray] = []
    for done, stranger in enumerate(strangers):
        yield Progress("finding the cells", done, len(strangers), "frames")
        scores.append(_scores(placing, positions, seen, stranger))
    yield Progress("finding the cells", len(strangers), len(strangers), "frames")
    found = _settled(scores, asked_for, _IN_ORDER)
    if len(asked_for) != len(strangers):
        return found
    sure = [
        one.cell == cell
        for one, cell in zip(found, asked_for, strict=True)
        if one.confidence > _SURE
    ]
    if sum(sure) == len(sure) >= len(found) / 2.0:
        # So far the list was followed: the rest of it was, most likely.
        return _settled(scores, asked_for, _IN_ORDER_SO_FAR)
    return found


def _settled(
    scores: Sequence[FloatArray], asked_for: Sequence[int], in_order: float
) -> tuple[Located, ...]:
    """The most probable cells, by what pictures say and by what was asked for."""
    found = []
    for number, score in enumerate(scores):
        prior = np.full(len(score), _NOT_ASKED_FOR if len(asked_for) else 0.0)
        prior[list(asked_for)] = 0.0
        if len(asked_for) == len(scores):
            prior[asked_for[number]] = in_order
        found.append(_decided(score + prior))
    return tuple(found)


def _decided(score: FloatArray) -> Located:
    top = max(float(score.max()), _NOWHERE)
    chance = np.exp(score - top)
    nowhere = float(np.exp(_NOWHERE - top))
    total = float(chance.sum()) + nowhere
    chance /= total
    if nowhere / total > chance.max():
        return Located(-1, nowhere / total, int(chance.argmax()))
    ranked = np.argsort(-chance, kind="stable")
    second = int(ranked[1]) if len(ranked) > 1 else int(ranked[0])
    return Located(int(ranked[0]), float(chance[ranked[0]]), second)


def _scores(placing: Placing, positions: Positions, seen: Sightings, stranger: int) -> FloatArray:
    """Log likelihood ratio (K,) of each cell, summed over the placed frames."""
    moves = placing.moves
    count = len(positions.frames)
    rotations = np.concatenate([as_it_stands(positions), moves.rotations])
    score = np.zeros(moves.count)
    for place, t in enumerate(positions.frames.tolist()):
        ends = np.full(moves.count, place), count + np.arange(moves.count)
        shifts = displacement_px(rotations, *ends, moves.focal_px) @ positions.linear.T
        score += _from_one(placing, seen, t, stranger, shifts)
    return score


def _from_one(
    placing: Placing, seen: Sightings, t: int, stranger: int, shifts: FloatArray
) -> FloatArray:
    """What one placed frame says of a stranger at each cell, given the displacements (K, 2)."""
    moves = placing.moves
    home = moves.line[placing.cell[t]]
    near = np.flatnonzero(moves.share(shifts) >= LEAST_SHARE)
    spread = np.hypot(
        np.where(moves.line == home, placing.spreads.along_px, placing.spreads.across_px),
        _AIM_SHARE * moves.width_px,
    )
    score = np.zeros(moves.count)
    for k in near:
        score[k] = seen.ratio(
            t, stranger, (float(shifts[k, 0]), float(shifts[k, 1])), float(spread[k])
        )
    return score


def with_retakes(
    placing: Placing, frames: Sequence[Frame], cells: Sequence[int], confidence: float = 1.0
) -> Placing:
    """`placing` with frames added whose cells the person has settled."""
    if not frames:
        return placing
    old = placing.alignment
    none = np.zeros(len(frames))
    chances = old.cell.with_frames(np.asarray(cells, dtype=np.int64), confidence)
    alignment = Alignment(
        chances,
        np.concatenate([old.nowhere, none]),
        np.concatenate([old.before, none]),
        np.concatenate([old.after, none]),
        old.log_evidence,
    )
    return replace(
        placing,
        frames=(*placing.frames, *frames),
        cell=np.concatenate([placing.cell, np.asarray(cells, dtype=np.int64)]),
        confidence=np.concatenate([placing.confidence, np.full(len(frames), confidence)]),
        alignment=alignment,
    )
