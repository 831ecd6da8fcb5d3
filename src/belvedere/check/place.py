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

from belvedere.check.alignment import Alignment, Ways, align, certain
from belvedere.check.band import band_of
from belvedere.check.beside import Beside
from belvedere.check.calibrate import as_planned, calibrated, explained, other_guesses
from belvedere.check.gathering import evidence_of, kinds_of
from belvedere.check.lost_lines import other_lines
from belvedere.check.moves import Moves, Spreads, line_length
from belvedere.check.neighbours import neighbours
from belvedere.check.oddities import foreign_ratio
from belvedere.check.path_score import path_score
from belvedere.check.rhythm import Rhythm, heard_rhythm, seconds, with_turns
from belvedere.check.sightings import Sightings
from belvedere.foundation import Progress, Steps
from belvedere.shoot import Frame, Plan

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_MOST_ROUNDS = 6
#: Share of textured pairs that must move as planned, or other explanations are tried as well.
_EXPLAINED = 0.6
#: Log of the chance that a picture of the scene, taken anywhere, fits some cell.
_BY_CHANCE = -4.0
#: An explanation whose score is so far behind another's is not tried in other ways.
_FAR_BEHIND = 200.0
#: One that differs by single frames and is so far behind will not catch up.
_HOPELESS = 30.0
#: Explanations this near to the best one in log evidence are looked at twice.
_NEARLY_AS_PROBABLE = 5.0


@dataclass(frozen=True, slots=True)
class Placing:
    """Frames on cells. `cell` (T,) is the index in sweep order, -1 for none.

    `confidence` (T,) is the probability of just that.
    """

    frames: tuple[Frame, ...]
    cell: IntArray
    confidence: FloatArray
    alignment: Alignment
    moves: Moves
    spreads: Spreads
    rhythm: Rhythm | None


@dataclass(frozen=True, slots=True)
class _Trial:
    """One explanation of the card, with all it rests on."""

    placing: Placing
    ways: Ways
    at: FloatArray
    beside: Beside

    @property
    def cell(self) -> IntArray:
        return self.placing.cell


def place(frames: Sequence[Frame], seen: Sightings, plan: Plan) -> Steps[Placing]:
    """Place `frames` (in shutter order) on the cells of `plan`.

    `seen` knows the frames by the same indices; it may know more after them.
    """
    moves = Moves.of_plan(plan, next((f.width_px for f in frames if f.width_px), 0))
    for t in range(1, len(frames)):
        # What is looked at here is remembered.
        seen.peak(t - 1, t)
        yield Progress("placing the frames", t, len(frames), "frames", frames[t].file)
    trial = _first_rounds(tuple(frames), plan, moves, seen)
    best = _with_lines_settled(_best_of_all(trial))
    yield Progress("placing the frames", len(frames), len(frames), "frames")
    return best.placing


def _best_of_all(first: _Trial) -> _Trial:
    """The best explanation from several beginnings."""
    best, score = _improved(first, False)
    by_clock = _by_clock(first)
    # What the pictures suggested first may lead astray, such as bands in a plain sky, or clouds.
    beginnings = [(best, True)] if best.beside.moved(best.cell) else []
    if _worth_trying(by_clock, best, score):
        beginnings += [(by_clock, False), (by_clock, True)]
    for beginning, drifting in beginnings:
        other, other_score = _improved(beginning, drifting, score)
        if other_score > score:
            best, score = other, other_score
    return best


def _worth_trying(other: _Trial, best: _Trial, score: float) -> bool:
    """Whether another beginning may lead elsewhere: not if it differs here and there by a frame."""
    differs = np.flatnonzero(other.cell != best.cell)
    if not len(differs):
        return False
    in_a_row = np.diff(differs, prepend=-2, append=len(other.cell) + 2) == 1
    several = bool((in_a_row[:-1] & in_a_row[1:]).any())
    return several or _score(other) > score - _HOPELESS


def _with_lines_settled(best: _Trial) -> _Trial:
    """The same where every line has frames; else the likeliest way to leave so many lines out."""
    ways = [best.cell, *other_lines(best.cell, best.placing.moves.line)]
    if len(ways) == 1:
        return best
    scores = np.array([_score(best, cell) for cell in ways])
    chances = np.exp(scores - scores.max())
    chances /= chances.sum()
    cell = ways[int(scores.argmax())]
    if not np.array_equal(cell, best.cell):
        band = best.ways.band.with_cells(cell)
        confidence = np.where(cell >= 0, 1.0, best.placing.confidence)
        moved = replace(best.placing, cell=cell, confidence=confidence)
        moved = replace(moved, alignment=certain(band, cell))
        ways_there = Ways(best.ways.evidence, band)
        at = np.zeros(band.cells.shape)
        best = replace(best, placing=moved, ways=ways_there, at=at)
        for turn in (0, 1):
            best = _looked_again(best, turn, best.beside.moved(cell))
        if not np.array_equal(best.cell, cell):
            # It does not stand by itself, so nothing is sure.
            chances[:] = 1.0 / len(ways)
    agree = np.array([way == best.cell for way in ways]).T @ chances
    return replace(best, placing=_less_sure(best.placing, agree))


def _less_sure(placing: Placing, factor: FloatArray) -> Placing:
    """The same placing with every frame's probabilities times a factor (T,)."""
    alignment = replace(placing.alignment, cell=placing.alignment.cell.times(factor))
    return replace(placing, confidence=placing.confidence * factor, alignment=alignment)


def _by_clock(trial: _Trial) -> _Trial:
    """Another beginning: the sweep as the clock alone has it."""
    evidence, frames = trial.ways.evidence, trial.placing.frames
    nothing = np.zeros_like(evidence.seen)
    blind = replace(evidence, seen=nothing, seen_over=nothing, apart=np.zeros_like(evidence.apart))
    ways = Ways(blind, band_of(blind, foreign_ratio(frames)), once=True)
    placing = _concluded(trial.placing, ways, np.zeros(ways.band.cells.shape))
    band = trial.ways.band.with_cells(placing.cell)
    return replace(trial, placing=placing, ways=Ways(evidence, band), at=np.zeros(band.cells.shape))


def _improved(first: _Trial, drifting: bool, to_beat: float = -np.inf) -> tuple[_Trial, float]:
    """The best explanation, with its score, until looking at the neighbours changes nothing.

    Lines take turns: those that judged each other at the same time would swing to and fro. Which
    ones begin decides which of two lines that contradict each other gives way, so both are tried.
    `drifting`: see `Beside.evidence`. A beginning that falls behind the score `to_beat` is given
    up.
    """
    best, best_score = first, _score(first)
    for turns in ((0, 1), (1, 0)):
        trial, score = first, _score(first)
        for _ in range(_MOST_ROUNDS):
            before, score_before = trial, score
            for turn in turns:
                trial = _looked_again(trial, turn, drifting)
                score = _score(trial)
                if score >= best_score:
                    best, best_score = trial, score
            if np.array_equal(before.cell, trial.cell):
                break
            if score + max(score - score_before, 0.0) < to_beat:
                # It gains too little to catch up.
                break
        if np.array_equal(first.cell, trial.cell) or best_score < to_beat - _FAR_BEHIND:
            break
    return best, best_score


def _score(trial: _Trial, cell: IntArray | None = None) -> float:
    """Log likelihood ratio of just these placements, or `cell`; each pair is counted once."""
    cell = trial.cell if cell is None else cell
    foreign = np.where(cell < 0, foreign_ratio(trial.placing.frames), 0.0)
    alone = path_score(trial.ways.evidence, cell, foreign)
    return alone + trial.beside.together(cell)


def _first_rounds(frames: tuple[Frame, ...], plan: Plan, moves: Moves, seen: Sightings) -> _Trial:
    """The most probable explanation, aligned once by itself and once with its neighbours."""
    rhythm = heard_rhythm(frames, plan.shoot.sweep.interval_s, line_length(moves))
    alone = _aligned(frames, moves, as_planned(moves), rhythm, seen)
    first = _next_round(alone, seen)
    if _explained(first, seen) >= _EXPLAINED:
        return first
    tried = [alone]
    for guess, spreads in other_guesses(moves, seen, len(frames)):
        tried.append(_aligned(frames, guess, spreads, rhythm, seen))
    most = max(trial.placing.alignment.log_evidence for trial in tried)
    # What the sweep alone cannot tell apart, such as up from down, its neighbours can.
    rounds = [
        _next_round(trial, seen)
        for trial in tried
        if trial.placing.alignment.log_evidence > most - _NEARLY_AS_PROBABLE
    ]
    return max(rounds, key=lambda trial: _explained(trial, seen))


def _explained(trial: _Trial, seen: Sightings) -> float:
    placing = trial.placing
    return explained(placing.moves, placing.spreads, placing.cell, seen)


def _next_round(trial: _Trial, seen: Sightings) -> _Trial:
    """Calibrate, look at the neighbours, align again."""
    placing = trial.placing
    moves, spreads = calibrated(placing.moves, placing.spreads, placing.cell, seen)
    rhythm = _rhythm_with_turns(placing)
    near = neighbours(moves)
    beside = Beside(moves, spreads, near, seen)
    band = trial.ways.band
    kinds = kinds_of(moves, near, spreads, seen.shrink)
    ways = Ways(evidence_of(placing.frames, kinds, rhythm, seen, band), band)
    every = np.ones(len(placing.frames), dtype=bool)
    at = beside.evidence(placing.cell, placing.alignment, band, every, False)
    placing = replace(placing, moves=moves, spreads=spreads, rhythm=rhythm)
    return _Trial(_concluded(placing, ways, at), ways, at, beside)


def _looked_again(trial: _Trial, turn: int, drifting: bool) -> _Trial:
    """Frames of even (0) or odd (1) lines look at their neighbours anew, the others keep still."""
    cell, line = trial.cell, trial.placing.moves.line
    looks = (cell < 0) | (line[cell] % 2 == turn)
    anew = trial.beside.evidence(cell, trial.placing.alignment, trial.ways.band, looks, drifting)
    at = np.where(looks[:, None], anew, trial.at)
    return replace(trial, placing=_concluded(trial.placing, trial.ways, at), at=at)


def _concluded(placing: Placing, ways: Ways, at: FloatArray) -> Placing:
    alignment = align(ways, at, _foreign(placing.frames, at))
    cell, confidence = _decided(alignment)
    return replace(placing, cell=cell, confidence=confidence, alignment=alignment)


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
) -> _Trial:
    """The sweep by itself: what neighbouring lines show is not looked at."""
    near = neighbours(moves)
    kinds = kinds_of(moves, near, spreads, seen.shrink)
    evidence = evidence_of(frames, kinds, rhythm, seen, None)
    ways = Ways(evidence, band_of(evidence, foreign_ratio(frames)))
    at = np.zeros(ways.band.cells.shape)
    alignment = align(ways, at, _foreign(frames, at))
    cell, confidence = _decided(alignment)
    placing = Placing(frames, cell, confidence, alignment, moves, spreads, rhythm)
    return _Trial(placing, ways, at, Beside(moves, spreads, near, seen))


def _decided(alignment: Alignment) -> tuple[IntArray, FloatArray]:
    best, chance = alignment.cell.likeliest()
    none = alignment.nowhere > chance
    return np.where(none, -1, best), np.where(none, alignment.nowhere, chance)
