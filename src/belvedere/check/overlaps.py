"""Where placed frames overlap, and how one lies on the other: for the judges and for orient."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.check.moves import Moves
from belvedere.check.place import Placing
from belvedere.check.sightings import Sightings
from belvedere.foundation import Progress, Steps
from belvedere.measure import Overlap

FloatArray = NDArray[np.float64]

#: Less of a frame in common is not worth comparing.
_LEAST_SHARE = 0.03
#: Support (natural log) of a peak near its place at which it is as likely true as not.
_EVEN_SUPPORT = 7.0
#: What is believed of an overlap that the plan expects and the pictures do not show.
_UNSEEN = 0.2
#: A head that turns, a camera on a drone: how far the moves may be off those of a rotation.
_STILL_A_ROTATION = 0.08


def placed_overlaps(placing: Placing, seen: Sightings) -> Steps[tuple[Overlap, ...]]:
    """Overlaps between all frames whose cells share a part of the scene, repeats included."""
    pairs = _pairs(placing)
    turns = bool(np.abs(placing.moves.linear - np.eye(2)).max() < _STILL_A_ROTATION)
    overlaps = []
    for done, (first, second) in enumerate(pairs):
        yield Progress("comparing neighbours", done, len(pairs), "overlaps")
        overlaps.append(_overlap(placing, seen, first, second, turns))
    yield Progress("comparing neighbours", len(pairs), len(pairs), "overlaps")
    return tuple(overlaps)


def _pairs(placing: Placing) -> list[tuple[int, int]]:
    moves, cell = placing.moves, placing.cell
    everyone = np.flatnonzero(cell >= 0)
    pairs: list[tuple[int, int]] = []
    for index, first in enumerate(everyone):
        others = everyone[index + 1 :]
        if not len(others):
            break
        shifts = moves.expected(np.full(len(others), cell[first]), cell[others])
        shifts[cell[others] == cell[first]] = 0.0
        near = others[moves.share(shifts) >= _LEAST_SHARE]
        pairs += [(int(first), int(second)) for second in near]
    return pairs


def _overlap(placing: Placing, seen: Sightings, first: int, second: int, turns: bool) -> Overlap:
    moves = placing.moves
    a, b = int(placing.cell[first]), int(placing.cell[second])
    expected = moves.expected(np.array([a]), np.array([b]))[0] if a != b else np.zeros(2)
    same_line = moves.line[a] == moves.line[b]
    spread = placing.spreads.along_px if same_line else placing.spreads.across_px
    peak = seen.peak_near(first, second, (float(expected[0]), float(expected[1])), 3.0 * spread)
    support = 1.0 / (1.0 + np.exp(_EVEN_SUPPORT - peak.support))
    found = np.array([peak.dx_px, peak.dy_px]) if support > 0.5 else expected
    mapping = _mapping(moves, a, b, found, turns)
    return Overlap(
        placing.frames[first].file,
        placing.frames[second].file,
        mapping,
        max(float(support), _UNSEEN),
    )


def _mapping(moves: Moves, a: int, b: int, shift: FloatArray, turns: bool) -> FloatArray:
    """Pixels of a frame at cell `a` to those of one at `b`, (3, 3)."""
    if not turns or a == b:
        return _translation(shift)
    centre = np.array([(moves.width_px - 1) / 2.0, (moves.height_px - 1) / 2.0])
    camera = np.array(
        [[moves.focal_px, 0.0, centre[0]], [0.0, moves.focal_px, centre[1]], [0.0, 0.0, 1.0]]
    )
    rotation = moves.rotations[b] @ moves.rotations[a].T
    turned: FloatArray = camera @ rotation @ np.linalg.inv(camera)
    # The rotation says how the picture turns, the card how far it went.
    middle = np.append(centre - shift / 2.0, 1.0)
    there = turned @ middle
    missed = middle[:2] + shift - there[:2] / there[2]
    moved = _translation(missed) @ turned
    mapping: FloatArray = moved / moved[2, 2]
    return mapping


def _translation(shift: FloatArray) -> FloatArray:
    moved = np.eye(3)
    moved[:2, 2] = shift
    return moved
