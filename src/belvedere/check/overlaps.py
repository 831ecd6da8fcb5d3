"""Where placed frames overlap, and how one lies on the other: for the judges and for orient."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.check.met import Met
from belvedere.check.moves import Moves
from belvedere.check.place import Placing
from belvedere.check.positions import Positions, find_positions
from belvedere.check.sightings import Sightings
from belvedere.check.thresholds import HARD_AGREEMENT
from belvedere.foundation import Steps
from belvedere.measure import Overlap

FloatArray = NDArray[np.float64]

#: Support (natural log) of a peak near its place at which it is as likely true as not.
_EVEN_SUPPORT = 7.0
#: What is believed of an overlap that the plan expects and the pictures do not show.
_UNSEEN = 0.2
#: A head that turns, a camera on a drone: how far the moves may be off those of a rotation.
_STILL_A_ROTATION = 0.08


def placed_overlaps(placing: Placing, seen: Sightings) -> Steps[tuple[Overlap, ...]]:
    """Overlaps between all frames that share a part of the scene, repeats included."""
    positions = yield from find_positions(placing, seen)
    return overlaps_of(placing, positions)


def overlaps_of(placing: Placing, positions: Positions) -> tuple[Overlap, ...]:
    """The overlaps of frames whose positions are known.

    Where the sweep falls into two parts, none is believed across that is not seen.
    """
    turns = bool(np.abs(placing.moves.linear - np.eye(2)).max() < _STILL_A_ROTATION)
    cut = positions.cut
    return tuple(
        _overlap(placing, positions, one, turns)
        for one in positions.met
        if one.found or cut is None or not one.first < cut.after <= one.second
    )


def _overlap(placing: Placing, positions: Positions, one: Met, turns: bool) -> Overlap:
    support = 1.0 / (1.0 + np.exp(_EVEN_SUPPORT - one.support))
    first, second = positions.frames[[one.first, one.second]]
    if turns and placing.cell[first] != placing.cell[second]:
        rotation = positions.rotations[one.second] @ positions.rotations[one.first].T
        mapping = turned_mapping(placing.moves, rotation, one.shift_px)
    else:
        mapping = translation(one.shift_px)
    return Overlap(
        placing.frames[first].file,
        placing.frames[second].file,
        mapping,
        max(float(support), _UNSEEN),
        one.agreement >= HARD_AGREEMENT,
        *one.still,
    )


def turned_mapping(moves: Moves, rotation: FloatArray, shift_px: FloatArray) -> FloatArray:
    """Pixels of a frame to those of one turned by `rotation`, (3, 3)."""
    centre = np.array([(moves.width_px - 1) / 2.0, (moves.height_px - 1) / 2.0])
    camera = np.array(
        [[moves.focal_px, 0.0, centre[0]], [0.0, moves.focal_px, centre[1]], [0.0, 0.0, 1.0]]
    )
    turned: FloatArray = camera @ rotation @ np.linalg.inv(camera)
    # The rotation says how the picture turns, the card how far it went.
    middle = np.append(centre - shift_px / 2.0, 1.0)
    there = turned @ middle
    missed = middle[:2] + shift_px - there[:2] / there[2]
    moved = translation(missed) @ turned
    mapping: FloatArray = moved / moved[2, 2]
    return mapping


def translation(shift_px: FloatArray) -> FloatArray:
    """The mapping of a plain shift (2,), (3, 3)."""
    moved = np.eye(3)
    moved[:2, 2] = shift_px
    return moved
