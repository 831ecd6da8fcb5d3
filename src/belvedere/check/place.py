"""Which cell each frame belongs to, and how sure that is.

The frames in shutter order are aligned with the sweep (`alignment`), from what neighbouring
pictures show of each other, from the clock and from the settings. From the best alignment the
moves between cells and the rhythm are calibrated; then every frame is also compared with those
placed in the neighbouring lines, and all is aligned again until nothing changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from belvedere.check.alignment import (
    Alignment,
    Evidence,
    Transitions,
    align,
    most_steps,
    transitions,
)
from belvedere.check.calibrate import as_planned, calibrated, explained, other_guesses
from belvedere.check.moves import Moves, Spreads, line_length
from belvedere.check.oddities import foreign_ratio
from belvedere.check.rhythm import Rhythm, heard_rhythm, seconds, with_turns
from belvedere.check.sightings import Sightings
from belvedere.foundation import Progress, Steps
from belvedere.shoot import Frame, Plan

FloatArray = NDArray[np.float64]

_MOST_ROUNDS = 6
#: Spread of the same cell taken twice, as a share of the frame's width.
_REPEAT_SPREAD = 0.012
#: Log likelihood ratio of what is ruled out.
_IMPOSSIBLE = -600.0
#: Share of textured pairs that must move as planned, or other explanations are tried as well.
_EXPLAINED = 0.6
#: Log of the chance that a picture of the scene, taken anywhere, fits some cell.
_BY_CHANCE = -4.0
#: Explanations this near to the best one in log evidence are looked at twice.
_NEARLY_AS_PROBABLE = 5.0
#: Less of a frame than this in common is too little to look for.
_LEAST_SHARE = 0.03


@dataclass(frozen=True, slots=True)
class Placing:
    """Frames on cells. `cell` (T,) is the index in sweep order, -1 for none.

    `confidence` (T,) is the probability of just that; `evidence` is what it rests on.
    """

    frames: tuple[Frame, ...]
    cell: NDArray[np.int64]
    confidence: FloatArray
    alignment: Alignment
    moves: Moves
    spreads: Spreads
    rhythm: Rhythm | None
    evidence: Evidence
    transitions: Transitions | None = None


def place(frames: Sequence[Frame], seen: Sightings, plan: Plan) -> Steps[Placing]:
    """Place `frames` (in shutter order) on the cells of `plan`.

    `seen` knows the frames by the same indices; it may know more after them.
    """
    moves = Moves.of_plan(plan, next((f.width_px for f in frames if f.width_px), 0))
    planned = _Expected.of(moves, as_planned(moves), _steps(moves), seen.shrink)
    for t in range(1, len(frames)):
        # What is looked at here is remembered; `_evidence` asks again.
        seen.peak(t - 1, t)
        planned.seen(seen, t - 1, t)
        if t >= 2:
            planned.seen(seen, t - 2, t)
        yield Progress("placing the frames", t, len(frames), "frames", frames[t].file)
    placing = _first_rounds(frames, plan, moves, seen)
    best, score = _improved(placing, seen)
    by_clock = _by_clock(placing, seen)
    if not np.array_equal(by_clock.cell, best.cell):
        # What the pictures suggested first may lead astray, such as bands in a plain sky.
        other, other_score = _improved(by_clock, seen)
        best = other if other_score > score else best
    yield Progress("placing the frames", len(frames), len(frames), "frames")
    return replace(best, transitions=None)


def _by_clock(placing: Placing, seen: Sightings) -> Placing:
    """Another beginning: the sweep as the clock alone has it."""
    old = placing.evidence
    blind = _evidence(placing.frames, placing.moves, placing.spreads, placing.rhythm, None, None)
    alignment = align(blind)
    cell, confidence = _decided(alignment)
    blind = replace(blind, step=old.step, step_over=old.step_over, apart=old.apart)
    return replace(placing, cell=cell, confidence=confidence, alignment=alignment, evidence=blind)


def _improved(first: Placing, seen: Sightings) -> tuple[Placing, float]:
    """The best explanation, with its score, until looking at the neighbours changes nothing.

    Lines take turns: those that judged each other at the same time would swing to and fro. Which
    ones begin decides which of two lines that contradict each other gives way, so both are tried.
    """
    best, best_score = first, _score(first, seen)
    for turns in ((0, 1), (1, 0)):
        placing = first
        for _ in range(_MOST_ROUNDS):
            before = placing
            for turn in turns:
                placing = _looked_again(placing, seen, turn)
                score = _score(placing, seen)
                if score >= best_score:
                    best, best_score = placing, score
            if np.array_equal(before.cell, placing.cell):
                break
        if np.array_equal(first.cell, placing.cell):
            break
    return best, best_score


def _score(placing: Placing, seen: Sightings) -> float:
    """Log likelihood ratio of just these placements, each pair of frames counted once."""
    evidence, cell = placing.evidence, placing.cell
    at = np.full(evidence.at.shape, _IMPOSSIBLE)
    at[cell >= 0, cell[cell >= 0]] = 0.0
    foreign = np.where(cell < 0, foreign_ratio(placing.frames), _IMPOSSIBLE)
    clamped = replace(evidence, at=at, foreign=foreign)
    alone = align(clamped, placing.transitions).log_evidence
    at_cell = _frames_of_cells(cell)
    pairs = {
        (min(t, other), max(t, other))
        for t, k in enumerate(cell)
        if k >= 0
        for other in _others(placing.moves, int(k), at_cell, t)
    }
    return alone + sum(
        float(_pair_ratio(placing, seen, first, second, cell[second : second + 1])[0])
        for first, second in sorted(pairs)
    )


def _first_rounds(frames: Sequence[Frame], plan: Plan, moves: Moves, seen: Sightings) -> Placing:
    """The most probable explanation, aligned once by itself and once with its neighbours."""
    rhythm = heard_rhythm(frames, plan.shoot.sweep.interval_s, line_length(moves))
    alone = _aligned(tuple(frames), moves, as_planned(moves), rhythm, seen, None)
    first = _next_round(alone, seen)
    if explained(first.moves, first.spreads, first.cell, seen) >= _EXPLAINED:
        return first
    tried = [alone]
    for guess, spreads in other_guesses(moves, seen, len(frames)):
        tried.append(_aligned(tuple(frames), guess, spreads, rhythm, seen, None))
    most = max(placing.alignment.log_evidence for placing in tried)
    # What the sweep alone cannot tell apart, such as up from down, its neighbours can.
    rounds = [
        _next_round(placing, seen)
        for placing in tried
        if placing.alignment.log_evidence > most - _NEARLY_AS_PROBABLE
    ]
    return max(rounds, key=lambda p: explained(p.moves, p.spreads, p.cell, seen))


def _next_round(placing: Placing, seen: Sightings) -> Placing:
    """Calibrate, look at the neighbours, align again."""
    moves, spreads = calibrated(placing.moves, placing.spreads, placing.cell, seen)
    rhythm = _rhythm_with_turns(placing)
    at = _neighbour_evidence(replace(placing, moves=moves, spreads=spreads), seen)
    return _aligned(placing.frames, moves, spreads, rhythm, seen, at)


def _looked_again(placing: Placing, seen: Sightings, turn: int) -> Placing:
    """Frames of even (0) or odd (1) lines look at their neighbours anew, the others keep still."""
    looks = (placing.cell < 0) | (placing.moves.line[placing.cell] % 2 == turn)
    at = np.where(looks[:, None], _neighbour_evidence(placing, seen), placing.evidence.at)
    foreign = _foreign(placing.frames, at)
    return _concluded(placing, replace(placing.evidence, at=at, foreign=foreign))


def _concluded(placing: Placing, evidence: Evidence) -> Placing:
    alignment = align(evidence, placing.transitions)
    cell, confidence = _decided(alignment)
    return replace(
        placing, cell=cell, confidence=confidence, alignment=alignment, evidence=evidence
    )


def _foreign(frames: Sequence[Frame], at: FloatArray) -> FloatArray:
    """Evidence for frames of no cell; one of the same scene may fit some cell by chance."""
    ratio: FloatArray = foreign_ratio(frames) + np.maximum(at.max(axis=1) + _BY_CHANCE, 0.0)
    return ratio


def _rhythm_with_turns(placing: Placing) -> Rhythm | None:
    if placing.rhythm is None:
        return None
    clock, cell, line = seconds(placing.frames), placing.cell, placing.moves.line
    gaps = [
        float(clock[t] - clock[t - 1])
        for t in range(1, len(cell))
        if cell[t - 1] >= 0 and cell[t] == cell[t - 1] + 1 and line[cell[t]] != line[cell[t - 1]]
    ]
    return with_turns(placing.rhythm, gaps)


def _aligned(
    frames: tuple[Frame, ...],
    moves: Moves,
    spreads: Spreads,
    rhythm: Rhythm | None,
    seen: Sightings,
    neighbours: FloatArray | None,
) -> Placing:
    evidence = _evidence(frames, moves, spreads, rhythm, seen, neighbours)
    known = transitions(evidence)
    alignment = align(evidence, known)
    cell, confidence = _decided(alignment)
    return Placing(frames, cell, confidence, alignment, moves, spreads, rhythm, evidence, known)


def _steps(moves: Moves) -> int:
    return most_steps(moves.count, line_length(moves))


def _evidence(
    frames: tuple[Frame, ...],
    moves: Moves,
    spreads: Spreads,
    rhythm: Rhythm | None,
    seen: Sightings | None,
    neighbours: FloatArray | None,
) -> Evidence:
    """All that is known; without `seen`, by the clock and the settings alone."""
    steps = _steps(moves)
    expected = _Expected.of(moves, spreads, steps, 1 if seen is None else seen.shrink)
    clock, count = seconds(frames), len(frames)
    shape = (count, steps + 1, moves.count)
    step, over, repeat = (np.zeros(shape, dtype=np.float32) for _ in range(3))
    apart = np.zeros(count)
    for t in range(1, count):
        beat = _beat(rhythm, float(clock[t] - clock[t - 1]), expected)
        step[t] = beat
        if seen is not None:
            step[t] += expected.seen(seen, t - 1, t)
            apart[t] = seen.elsewhere(t - 1, t)
        if t >= 2:
            longer = _beat(rhythm, float(clock[t] - clock[t - 2]), expected)
            repeat[t] = np.logaddexp(longer, beat) - np.log(2.0) - beat
            over[t] = longer
        if t >= 2 and seen is not None:
            # As against overlapping anyhow: that they do is no merit of the frame between.
            over[t] += expected.seen(seen, t - 2, t) - max(seen.elsewhere(t - 2, t), 0.0)
    at = np.zeros((count, moves.count)) if neighbours is None else neighbours
    return Evidence(step, over, repeat, at, _foreign(frames, at), apart)


def _decided(alignment: Alignment) -> tuple[NDArray[np.int64], FloatArray]:
    best = alignment.cell.argmax(axis=1)
    chance = alignment.cell[np.arange(len(best)), best]
    none = alignment.nowhere > chance
    return np.where(none, -1, best), np.where(none, alignment.nowhere, chance)


def _beat(rhythm: Rhythm | None, gap_s: float, expected: _Expected) -> FloatArray:
    if rhythm is None:
        return np.zeros(expected.turns.shape)
    beat = np.stack([rhythm.ratio(gap_s, n, expected.turns[n]) for n in range(len(expected.turns))])
    beat[0] = rhythm.repeat_ratio(gap_s)
    return beat


@dataclass(frozen=True, slots=True)
class _Expected:
    """What each move of the sweep should look like, equal ones looked up once.

    `kinds` (U, 3) are displacement and spread; `kind` (N + 1, K) indexes them, -1 where the
    move leaves no overlap; `turns` (N + 1, K) counts the changes of line.
    """

    kinds: FloatArray
    kind: NDArray[np.int64]
    turns: NDArray[np.int64]

    @classmethod
    def of(cls, moves: Moves, spreads: Spreads, steps: int, shrink: int) -> _Expected:
        count = moves.count
        n, k = np.meshgrid(np.arange(steps + 1), np.arange(count), indexing="ij")
        to = np.minimum(k + n, count - 1)
        shifts = moves.expected(k, to)
        turns = moves.line[to] - moves.line[k]
        spread = np.where(turns == 0, spreads.along_px, spreads.across_px)
        spread[0] = _REPEAT_SPREAD * moves.width_px
        # Two steps scatter more than one.
        spread = spread * np.sqrt(np.maximum(n, 1).clip(max=3) * (turns == 0) + (turns != 0))
        near = (moves.share(shifts) >= _LEAST_SHARE) & (k + n < count)
        coarse = np.maximum(spread / 4.0, shrink / 2.0)[near]
        keys = np.column_stack([np.round(shifts[near] / coarse[:, None]), np.round(coarse, 3)])
        _, first, inverse = np.unique(keys, axis=0, return_index=True, return_inverse=True)
        kinds = np.column_stack([shifts[near][first], spread[near][first]])
        kind = np.full(near.shape, -1, dtype=np.int64)
        kind[near] = inverse.ravel()
        return cls(kinds, kind, turns)

    def seen(self, seen: Sightings, first: int, second: int) -> FloatArray:
        """Log likelihood ratios (N + 1, K) of the moves by the pictures of two frames."""
        ratios = [
            seen.ratio(first, second, (float(dx), float(dy)), float(spread))
            for dx, dy, spread in self.kinds
        ]
        return np.array([*ratios, 0.0])[self.kind]


def _neighbour_evidence(placing: Placing, seen: Sightings) -> FloatArray:
    """Log likelihood ratios (T, K) from frames placed in the neighbouring lines."""
    moves, cell = placing.moves, placing.cell
    chance = placing.alignment.cell
    evidence = np.zeros(chance.shape)
    at_cell = _frames_of_cells(cell)
    for t, k in enumerate(cell):
        candidates = np.flatnonzero(chance[t] > 1e-6)
        around = np.arange(max(0, k - 3), min(moves.count, k + 4)) if k >= 0 else candidates
        candidates = np.union1d(candidates, around)
        centre = int(k) if k >= 0 else int(chance[t].argmax())
        if k < 0 and chance[t].max() < 1e-4:
            continue
        for other in _others(moves, centre, at_cell, t):
            evidence[t, candidates] += _pair_evidence(placing, seen, t, other, candidates)
    return evidence


def _frames_of_cells(cell: NDArray[np.int64]) -> dict[int, list[int]]:
    frames: dict[int, list[int]] = {}
    for t, k in enumerate(cell):
        if k >= 0:
            frames.setdefault(int(k), []).append(t)
    return frames


def _others(moves: Moves, centre: int, at_cell: dict[int, list[int]], t: int) -> list[int]:
    """Frames in the neighbouring lines that a frame at `centre` is compared with."""
    everyone = np.arange(moves.count)
    shifts = moves.expected(np.full(moves.count, centre), everyone)
    share = moves.share(shifts)
    share[moves.line == moves.line[centre]] = 0.0
    # A second take of the same cell, not just before or after: the sweep was started anew.
    chosen = [other for other in at_cell.get(centre, []) if abs(other - t) > 1]
    for line in (moves.line[centre] - 1, moves.line[centre] + 1):
        ranked = np.argsort(-np.where(moves.line == line, share, 0.0), kind="stable")[:3]
        cells = [int(c) for c in ranked if share[c] >= _LEAST_SHARE and moves.line[c] == line]
        chosen += [other for c in cells for other in at_cell.get(c, []) if abs(other - t) > 1]
    return chosen


def _pair_evidence(
    placing: Placing, seen: Sightings, t: int, other: int, candidates: NDArray[np.int64]
) -> FloatArray:
    """What frame `other`, wherever it may be, says of frame `t` being at each of `candidates`."""
    chance = placing.alignment.cell[other]
    places = np.flatnonzero(chance > 0.02)
    result = np.full(len(candidates), max(1.0 - float(chance[places].sum()), 1e-9))
    for place_of_other in places:
        ratios = _pair_ratio(placing, seen, other, t, candidates, int(place_of_other))
        result += chance[place_of_other] * np.exp(ratios)
    log_ratio: FloatArray = np.log(result)
    return log_ratio


def _pair_ratio(
    placing: Placing,
    seen: Sightings,
    first: int,
    second: int,
    candidates: NDArray[np.int64],
    home: int | None = None,
) -> FloatArray:
    """Log likelihood ratios of frame `second` at each of `candidates`, `first` being at `home`."""
    moves, spreads = placing.moves, placing.spreads
    home = int(placing.cell[first]) if home is None else home
    shifts = moves.expected(np.full(len(candidates), home), candidates)
    share = moves.share(shifts)
    ratios = np.zeros(len(candidates))
    for i, candidate in enumerate(candidates):
        if candidate == home:
            ratios[i] = seen.ratio(first, second, (0.0, 0.0), _REPEAT_SPREAD * moves.width_px)
        elif share[i] >= _LEAST_SHARE:
            same_line = moves.line[candidate] == moves.line[home]
            spread = spreads.along_px if same_line else spreads.across_px
            shift = (float(shifts[i, 0]), float(shifts[i, 1]))
            ratios[i] = seen.ratio(first, second, shift, spread)
    return ratios
