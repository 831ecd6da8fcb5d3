"""Where the placed frames really lie, against each other and against the plan.

Placing says which cell a frame is of; this says how far the camera was off. Each overlap that the
plan expects is looked for near its place. Frames with much detail that show nothing of their
neighbours are looked for further away, since a knocked tripod moves all that follows. From all that
was found the rotations are solved (`pointing`), and the overlaps are looked up once more as they
really are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from belvedere.check.calibrate import fitted
from belvedere.check.met import Met
from belvedere.check.parting import Cut, parted
from belvedere.check.place import Placing
from belvedere.check.pointing import Pairs, Pointing, displacement_px, solve_pointing
from belvedere.check.sightings import Sightings
from belvedere.check.thresholds import (
    FAINT_WEIGHT,
    FAR_SUPPORT,
    FIRM_AGREEMENT,
    FIRM_ENOUGH,
    HARD_AGREEMENT,
    HARD_LEVELS,
    HARD_SHARE,
    LEAST_SHARE,
    LONELY_PAIRS,
    LOOSE_SHARE,
    NEAR_SUPPORT,
    NEXT_WEIGHT,
    SUDDEN_SCATTERS,
    SUDDEN_TURN_DEG,
    SUDDEN_TURN_SHARE,
    WRONG_SPREADS,
)
from belvedere.foundation import Progress, Steps
from belvedere.measure import HardDetail, Peak, hard_detail, hard_overlap, shared_part

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

#: A lonely frame is compared with others up to so many frame widths away.
_FAR_WIDTHS = 2.0
#: So many frames tell how the head stands.
_AT_THE_END = 9
#: Pairs that calibrate the moves.
_CALIBRATING = 6
#: Hard detail is looked at in pictures about so wide.
_HARD_WIDTH_PX = 240
#: Frames whose hard detail is kept in memory, a quarter of a megabyte each.
_KEPT = 300

_Book = dict[tuple[int, int], Met]


@dataclass(frozen=True, slots=True)
class Positions:
    """Rotations of the placed frames and the overlaps between them.

    `frames` (n,) are the numbers of the placed frames, in the order taken; `rotations` (n, 3, 3)
    from world to camera and `turn_rad` (n, 3) belong to them. A turn is 0 where a frame lies as
    most do. Displacements by `rotations` are those of the plan's focal length; `linear` (2, 2)
    turns them into those on the card. `cut` is there where the sweep falls into two parts.
    """

    frames: IntArray
    rotations: FloatArray
    turn_rad: FloatArray
    met: tuple[Met, ...]
    linear: FloatArray
    cut: Cut | None = None


def as_it_stands(positions: Positions) -> FloatArray:
    """Rotations (n, 3, 3) of the frames, counted from how the head stands at the end of the sweep.

    A cell shot again lies among them where the plan says.
    """
    stands = Rotation.from_rotvec(np.median(positions.turn_rad[-_AT_THE_END:], axis=0))
    return np.asarray(positions.rotations @ stands.inv().as_matrix())


def find_positions(placing: Placing, seen: Sightings) -> Steps[Positions]:
    """Look at all overlaps and solve for the rotations."""
    frames = np.flatnonzero(placing.cell >= 0)
    if not len(frames):
        return Positions(frames, np.zeros((0, 3, 3)), np.zeros((0, 3)), (), placing.moves.linear)
    desk = _Desk(placing, seen, frames)
    planned = placing.moves.rotations[placing.cell[frames]]
    met = yield from _looked_near(desk, planned, {})
    if _firm_share(met) < FIRM_ENOUGH:
        # A row of equal windows may have taught wrong moves; the plan's may fit better.
        as_planned = replace(placing, moves=replace(placing.moves, linear=np.eye(2)))
        other = _Desk(as_planned, seen, frames)
        as_told = yield from _looked_near(other, planned, {})
        if _firm_share(as_told) >= _firm_share(met):
            desk, met = other, as_told
    far = yield from _looked_far(desk, planned, met)
    # The moves were calibrated with all that was seen: clouds first, then knocks are taken out.
    desk.calibrate_again(planned, met | far, np.zeros((len(frames), 3)))
    solved = desk.solved(planned, met | far)
    desk.calibrate_again(planned, met | far, solved.turn_rad)
    solved = desk.solved(planned, met | far)
    agreeing = desk.agreeing(met | far, solved.rotations)
    if far or len(agreeing) < sum(one.found for one in met.values()):
        # Seen from where the frames really lie, others overlap than planned.
        met = yield from _looked_near(desk, solved.rotations, agreeing)
        solved = desk.solved(planned, met)
        met = yield from _looked_near(desk, solved.rotations, met)
    met = _witnessed(desk, _grounded(desk, solved.rotations, met))
    cut = parted(tuple(met.values()), len(frames), lambda one: all(one.still))
    return Positions(
        frames, solved.rotations, solved.turn_rad, tuple(met.values()), desk.moves.linear, cut
    )


def _firm_share(met: _Book) -> float:
    """Of the overlaps with hard detail, the share that is surely seen in its place."""
    firm = sum(one.firm for one in met.values())
    silent = sum(one.silent for one in met.values())
    return float(firm / max(firm + silent, 1))


class _Desk:
    """What is looked at again and again: the plan's moves, the sightings, hard detail."""

    def __init__(self, placing: Placing, seen: Sightings, frames: IntArray) -> None:
        self.moves = placing.moves
        self.seen = seen
        self.frames = frames
        self.cell = placing.cell[frames]
        self.spread_px = max(placing.spreads.along_px, placing.spreads.across_px)
        self._spreads = placing.spreads
        self._hard: dict[int, HardDetail] = {}
        small_px = self.moves.width_px / seen.shrink
        self._shrink = max(1, round(small_px / _HARD_WIDTH_PX))

    @property
    def frame_rad(self) -> float:
        """Width of a frame, as an angle."""
        return self.moves.width_px / self.moves.focal_px

    def calibrate_again(self, planned: FloatArray, met: _Book, turn_rad: FloatArray) -> None:
        """Learn the moves from pairs between which nothing was knocked."""
        starts = sudden_turns(turn_rad, self.frame_rad)
        stretch = np.searchsorted(starts, np.arange(len(turn_rad)), side="right")
        steady = [
            one for one in met.values() if one.firm and stretch[one.first] == stretch[one.second]
        ]
        if len(steady) < _CALIBRATING:
            return
        ends = np.array([(one.first, one.second) for one in steady])
        shifts = np.array([one.shift_px for one in steady])
        moved = displacement_px(planned, ends[:, 0], ends[:, 1], self.moves.focal_px)
        linear = fitted(moved, shifts, self.moves.linear, self.moves.width_px)
        left_px = np.median(np.linalg.norm(shifts - moved @ linear.T, axis=1))
        self.moves = replace(self.moves, linear=linear)
        self.spread_px = max(float(1.5 * left_px / 1.18), self._spreads.along_px)

    def spread_of(self, first: int, second: int) -> float:
        """How far the displacement of two frames scatters."""
        line = self.moves.line[self.cell[[first, second]]]
        return self._spreads.along_px if line[0] == line[1] else self._spreads.across_px

    def shifts_px(self, rotations: FloatArray, pairs: IntArray) -> FloatArray:
        """Displacements (m, 2) on the card of pairs (m, 2) of frames with these rotations."""
        moved = displacement_px(rotations, pairs[:, 0], pairs[:, 1], self.moves.focal_px)
        shifts: FloatArray = moved @ self.moves.linear.T
        return shifts

    def pairs(self, rotations: FloatArray, widths: float) -> IntArray:
        """Pairs (m, 2) of frames whose axes are no further apart than so many frame widths."""
        angle = min(widths * self.moves.width_px / self.moves.focal_px, np.pi)
        tree = cKDTree(rotations[:, 2])
        found = tree.query_pairs(2.0 * np.sin(angle / 2.0), output_type="ndarray")
        found = np.sort(found, axis=1)
        ordered: IntArray = found[np.lexsort((found[:, 1], found[:, 0]))]
        return ordered

    def peak(self, first: int, second: int, expected: FloatArray, reach_px: float) -> Peak:
        """The best displacement near the expected one."""
        a, b = int(self.frames[first]), int(self.frames[second])
        return self.seen.peak_near(a, b, (float(expected[0]), float(expected[1])), reach_px)

    def peak_anywhere(self, first: int, second: int) -> Peak:
        """The best displacement at all."""
        return self.seen.peak(int(self.frames[first]), int(self.frames[second]))

    def met(self, ends: tuple[int, int], shift_px: FloatArray, support: float) -> Met:
        """Two frames met at a displacement, and what hard detail says of it."""
        dx, dy = shift_px / (self.seen.shrink * self._shrink)
        hard = hard_overlap(self._hard_of(ends[0]), self._hard_of(ends[1]), float(dx), float(dy))
        return Met(*ends, shift_px, support, *hard)

    def agreement_within(self, ends: tuple[int, int], shift_px: FloatArray, other: Met) -> float:
        """How far the first frame agrees with the second where it also overlaps a third."""
        scale = self.seen.shrink * self._shrink
        one, two = self._hard_of(ends[0]), self._hard_of(ends[1])
        _, aside = other.seen_from(ends[0])
        part = shared_part(one.hard.shape, float(aside[0] / scale), float(aside[1] / scale))
        dx, dy = shift_px / scale
        share, agreement = hard_overlap(one, two, float(dx), float(dy), within=part)
        return agreement if share >= HARD_SHARE else 0.0

    def hard_share(self, frame: int, one: Met) -> float:
        """Share of an overlap in which a frame, one of the two, shows hard detail."""
        _, aside = one.seen_from(frame)
        dx, dy = aside / (self.seen.shrink * self._shrink)
        hard = self._hard_of(frame)
        here = hard.hard[shared_part(hard.hard.shape, float(dx), float(dy))]
        return float(here.mean()) if here.size else 0.0

    def _hard_of(self, number: int) -> HardDetail:
        if number not in self._hard:
            if len(self._hard) >= _KEPT:
                self._hard.clear()
            small = self.seen.small(int(self.frames[number]))
            self._hard[number] = hard_detail(small, HARD_LEVELS, self._shrink)
        return self._hard[number]

    def solved(self, planned: FloatArray, met: _Book) -> Pointing:
        """The rotations that agree with most of what was found."""
        found = [one for one in met.values() if one.found]
        ends = np.array([(one.first, one.second) for one in found], dtype=np.intp).reshape(-1, 2)
        shifts = np.array([one.shift_px for one in found]).reshape(-1, 2)
        weight = np.array([_weight(one) for one in found])
        on_plan = shifts @ np.linalg.inv(self.moves.linear).T
        return solve_pointing(
            planned, self.moves.focal_px, Pairs(ends, on_plan, weight), self.spread_px
        )

    def agreeing(self, met: _Book, rotations: FloatArray) -> _Book:
        """Of what was found, that which agrees with the rotations."""
        found = {ends: one for ends, one in met.items() if one.found}
        if not found:
            return {}
        shifts = self.shifts_px(rotations, np.array(list(found)))
        return {
            ends: one
            for (ends, one), shift in zip(found.items(), shifts, strict=True)
            if np.linalg.norm(one.shift_px - shift) <= WRONG_SPREADS * self.spread_px
        }


def _weight(one: Met) -> float:
    """What a pair counts: little without firm ground, much where nothing had time to move."""
    if not one.firm:
        return FAINT_WEIGHT
    return NEXT_WEIGHT if one.second == one.first + 1 else 1.0


def scatter_rad(turn_rad: FloatArray) -> float:
    """How far the aim of one frame usually is off that of the next: a median, times 1.48."""
    if len(turn_rad) < 2:
        return 0.0
    return 1.48 * float(np.median(np.linalg.norm(np.diff(turn_rad, axis=0), axis=1)))


def sudden_turns(turn_rad: FloatArray, frame_rad: float) -> list[int]:
    """Places in the sweep (from 1) that a turn sets apart from the one before."""
    least = max(
        np.radians(SUDDEN_TURN_DEG),
        SUDDEN_TURN_SHARE * frame_rad,
        SUDDEN_SCATTERS * scatter_rad(turn_rad),
    )
    change = np.linalg.norm(np.diff(turn_rad, axis=0), axis=1)
    places: list[int] = (np.flatnonzero(change >= least) + 1).tolist()
    return places


def _looked_near(desk: _Desk, rotations: FloatArray, known: _Book) -> Steps[_Book]:
    """All overlaps of frames with these rotations; what is known and found is taken over."""
    pairs = desk.pairs(rotations, float(np.hypot(1.0, desk.moves.height_px / desk.moves.width_px)))
    shifts = desk.shifts_px(rotations, pairs)
    wide = desk.moves.share(shifts) >= LEAST_SHARE
    met: _Book = {}
    for done, ((first, second), shift) in enumerate(zip(pairs[wide], shifts[wide], strict=True)):
        yield Progress("comparing neighbours", done, int(wide.sum()), "overlaps")
        ends = (int(first), int(second))
        if ends in known and known[ends].found:
            met[ends] = known[ends]
        else:
            met[ends] = _looked_at(desk, ends, shift)
    yield Progress("comparing neighbours", len(met), len(met), "overlaps")
    return met


def _looked_at(desk: _Desk, ends: tuple[int, int], shift_px: FloatArray) -> Met:
    peak = desk.peak(*ends, shift_px, 3.0 * desk.spread_of(*ends))
    if peak.support >= NEAR_SUPPORT:
        return desk.met(ends, np.array([peak.dx_px, peak.dy_px]), peak.support)
    return desk.met(ends, shift_px, peak.support)


def _grounded(desk: _Desk, rotations: FloatArray, met: _Book) -> _Book:
    """Overlaps found by their clouds, laid where the rotations say if the ground agrees there."""
    loose = [one for one in met.values() if one.found and not one.firm]
    if not loose:
        return met
    shifts = desk.shifts_px(rotations, np.array([(one.first, one.second) for one in loose]))
    grounded = dict(met)
    for one, shift in zip(loose, shifts, strict=True):
        if np.linalg.norm(one.shift_px - shift) < LOOSE_SHARE * desk.moves.width_px:
            continue
        there = desk.met((one.first, one.second), shift, 0.0)
        if there.agreement >= max(HARD_AGREEMENT, one.agreement):
            grounded[one.first, one.second] = there
    return grounded


def _witnessed(desk: _Desk, met: _Book) -> _Book:
    """Overlaps in which no ground is seen, with what each frame shows there that stands still."""
    beside: dict[int, list[Met]] = {}
    for one in met.values():
        if one.found:
            beside.setdefault(one.first, []).append(one)
            beside.setdefault(one.second, []).append(one)
    return {
        ends: one
        if one.firm
        else replace(one, still=(_still(desk, one, 0, beside), _still(desk, one, 1, beside)))
        for ends, one in met.items()
    }


def _still(desk: _Desk, one: Met, which: int, beside: Mapping[int, list[Met]]) -> bool:
    """Whether a frame shows houses and rocks, and no clouds or waves, in an overlap."""
    frame = (one.first, one.second)[which]
    if desk.hard_share(frame, one) < HARD_SHARE:
        return False
    return any(
        desk.agreement_within(*other.seen_from(frame), one) >= FIRM_AGREEMENT
        for other in beside.get(frame, ())
        if other is not one
    )


def _looked_far(desk: _Desk, rotations: FloatArray, met: _Book) -> Steps[_Book]:
    """Frames that several neighbours should have known, compared with all in some distance."""
    silent = np.zeros(len(desk.frames), dtype=int)
    for one in met.values():
        silent[[one.first, one.second]] += one.silent
    far: _Book = {}
    pairs = desk.pairs(rotations, _FAR_WIDTHS)
    # The head moved between two frames in a row: there a single silence is reason to look.
    in_a_row = {ends for ends, one in met.items() if one.silent and ends[1] == ends[0] + 1}
    wanted = (silent[pairs] >= LONELY_PAIRS).all(axis=1)
    wanted |= np.array([(int(a), int(b)) in in_a_row for a, b in pairs], dtype=bool)
    lonely = pairs[wanted]
    for done, (first, second) in enumerate(lonely):
        yield Progress("looking for frames that were moved", done, len(lonely), "pairs")
        ends = (int(first), int(second))
        if ends in met and met[ends].found:
            continue
        peak = desk.peak_anywhere(*ends)
        if peak.support >= FAR_SUPPORT:
            one = desk.met(ends, np.array([peak.dx_px, peak.dy_px]), peak.support)
            if one.firm:
                far[ends] = one
    return far
