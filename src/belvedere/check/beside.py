"""What the frames of neighbouring lines say of where a frame is."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.check.alignment import Alignment
from belvedere.check.band import Band
from belvedere.check.drift import PRICE, Drift, drift_of, fit_of
from belvedere.check.gathering import REPEAT_SPREAD
from belvedere.check.moves import Moves, Spreads, line_length
from belvedere.check.neighbours import Neighbours
from belvedere.check.sightings import Sightings
from belvedere.check.thresholds import FIRM_PLACES, LEAST_SHARE

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Cells of each neighbouring line that a frame is compared with.
_BESIDE = 3
#: A cell's chance from which it is asked about, and from which a neighbour is taken to be there.
_ASKED, _THERE = 1e-6, 0.02
#: A neighbour is somewhere else with less than this chance: not worth weighing.
_SURELY = 1e-6
#: A frame without a cell is asked about from this chance of its likeliest one.
_PERHAPS = 1e-4
#: Cells around the present one that are always asked about.
_AROUND = 3
#: Log of the chance that what two lines' frames both show moved in between: clouds, boats.
_MOVED = -4.0
#: Log of the chance that a frame shows what nobody beside it knows: waves, passing clouds.
_UNKNOWN_TO_ALL = -3.0
_KNOWN = float(np.log1p(-np.exp(_UNKNOWN_TO_ALL)))
#: The most (natural log) that two frames say of each other's lines where one has hardly any hard
#: detail: by the time of the next line clouds have sailed on.
_FROM_CLOUDS = 3.0
#: What is left of evidence against frames where their fellows fit as badly: a knocked tripod.
_KNOCKED = 0.1


class Beside:
    """Frames compared with those of the neighbouring lines; every comparison is remembered."""

    def __init__(self, moves: Moves, spreads: Spreads, near: Neighbours, seen: Sightings) -> None:
        self._moves = moves
        self._spreads = spreads
        self._near = near
        self._seen = seen
        self._chosen: dict[int, tuple[int, ...]] = {}
        self._known: dict[tuple[int, int, int, Drift | None, Drift | None], FloatArray] = {}
        self._drifts: dict[tuple[int, bytes], tuple[Drift | None, float]] = {}
        self._far = line_length(moves) // 2
        self._firm: NDArray[np.bool_] | None = None

    def evidence(
        self,
        cell: IntArray,
        alignment: Alignment,
        band: Band,
        looks: NDArray[np.bool_],
        drifting: bool,
    ) -> FloatArray:
        """Log likelihood ratios (T, B) of the frames at the cells of `band`, given `alignment`.

        0 for frames that do not look, by `looks` (T,). `drifting`: what moved as a whole between
        lines that are at `cell` is allowed for.
        """
        found = np.zeros(band.cells.shape)
        unfit = np.zeros(len(cell), dtype=bool)
        at_cell = frames_of_cells(cell)
        moved = self._drifting(cell, at_cell) if drifting else {}
        drifts = {line: drift for line, (drift, _) in moved.items()}
        likely = alignment.cell.all_above(_ASKED)
        there = alignment.cell.all_above(_THERE)
        for t in np.flatnonzero(looks).tolist():
            asked, centre = _asked(int(cell[t]), *likely[t], band.cells[t])
            others = self.others(centre, at_cell, t) if len(asked) else []
            if not others:
                continue
            candidates = band.cells[t, asked]
            for other in others:
                found[t, asked] += self._from_other(there[other], t, other, candidates, drifts)
            # One cause for all that is not recognised, not one for each neighbour.
            found[t, asked] = np.logaddexp(found[t, asked] + _KNOWN, _UNKNOWN_TO_ALL)
            unfit[t] = float(found[t, asked].max()) < 0.0
        fellows = np.zeros_like(unfit)
        fellows[1:] |= unfit[:-1]
        fellows[:-1] |= unfit[1:]
        found[unfit & fellows] *= _KNOCKED
        return found

    def others(self, centre: int, at_cell: dict[int, list[int]], t: int) -> list[int]:
        """Frames that frame `t` at cell `centre` is compared with.

        Those of the neighbouring lines, of the other end of a full turn, and another take of the
        same cell; not the ones just before and after, which the alignment knows.
        """
        if centre not in self._chosen:
            self._chosen[centre] = self._choose(centre)
        cells = (centre, *self._chosen[centre])
        return [other for c in cells for other in at_cell.get(c, ()) if abs(other - t) > 1]

    def _choose(self, centre: int) -> tuple[int, ...]:
        rows = self._near.rows(centre)
        cells, share = self._near.cell[rows], self._near.share[rows]
        order = np.argsort(-share, kind="stable")
        cells = cells[order]
        line = self._moves.line[cells] - self._moves.line[centre]
        chosen = [*cells[line == -1][:_BESIDE], *cells[line == 1][:_BESIDE]]
        chosen += list(cells[(line == 0) & (np.abs(cells - centre) > self._far)][:_BESIDE])
        return tuple(int(c) for c in chosen)

    def _from_other(
        self,
        there: tuple[IntArray, FloatArray],
        t: int,
        other: int,
        candidates: IntArray,
        drifts: dict[int, Drift | None],
    ) -> FloatArray:
        """What frame `other`, wherever it may be, says of frame `t` at each of `candidates`."""
        places, chances = there
        if len(places) == 1 and chances[0] > 1.0 - _SURELY:
            return self._ratios(other, t, int(places[0]), candidates, drifts)
        result = np.full(len(candidates), max(1.0 - float(chances.sum()), 1e-9))
        for place, chance in zip(places, chances, strict=True):
            result += chance * np.exp(self._ratios(other, t, int(place), candidates, drifts))
        log_ratio: FloatArray = np.log(result)
        return log_ratio

    def _ratios(
        self,
        first: int,
        second: int,
        home: int,
        candidates: IntArray,
        drifts: dict[int, Drift | None],
    ) -> FloatArray:
        """Log likelihood ratios of frame `second` at each cell, frame `first` being at `home`."""
        rows = self._near.rows(home)
        cells = self._near.cell[rows]
        line = int(self._moves.line[home])
        before, after = drifts.get(line - 1), drifts.get(line)
        key = (first, second, home, before, after)
        if key not in self._known:
            lines = self._moves.line[cells] - line
            spread = np.where(lines == 0, self._spreads.along_px, self._spreads.across_px)
            spread[cells == home] = REPEAT_SPREAD * self._moves.width_px
            shift = self._near.shift[rows].copy()
            if after is not None:
                shift[lines == 1] += after.between(second - first)
            if before is not None:
                shift[lines == -1] -= before.between(first - second)
            known = self._seen.ratios(first, second, shift, spread)
            # What both show may have moved between them, and agree on a wrong place.
            moved = _MOVED + self._seen.elsewhere(first, second)
            known = np.where(lines == 0, known, np.logaddexp(known, moved))
            self._known[key] = np.minimum(known, self._most(first, second))
        place = np.minimum(np.searchsorted(cells, candidates), len(cells) - 1)
        ratios: FloatArray = np.where(cells[place] == candidates, self._known[key][place], 0.0)
        return ratios

    def _most(self, first: int, second: int) -> float:
        """The most that two frames may say; where one shows only clouds, or haze, little."""
        if self._firm is None:
            self._firm = self._seen.likeness().firm >= FIRM_PLACES
        return np.inf if self._firm[first] and self._firm[second] else _FROM_CLOUDS

    def moved(self, cell: IntArray) -> bool:
        """Whether anything moved as a whole between lines, the frames being at `cell`."""
        drifts = self._drifting(cell, frames_of_cells(cell)).values()
        return any(drift is not None for drift, _ in drifts)

    def together(self, cell: IntArray) -> float:
        """Log likelihood ratio of all frames being just at `cell`, each pair counted once."""
        at_cell = frames_of_cells(cell)
        total = sum(fit for _, fit in self._drifting(cell, at_cell).values())
        for a, b in self._pairs(cell, at_cell):
            if abs(self._moves.line[cell[a]] - self._moves.line[cell[b]]) != 1:
                total += float(self._ratios(a, b, int(cell[a]), cell[b : b + 1], {})[0])
        return total

    def _pairs(self, cell: IntArray, at_cell: dict[int, list[int]]) -> list[tuple[int, int]]:
        pairs = {
            (min(t, other), max(t, other))
            for t, k in enumerate(cell)
            if k >= 0
            for other in self.others(int(k), at_cell, t)
        }
        return sorted(pairs)

    def _drifting(
        self, cell: IntArray, at_cell: dict[int, list[int]]
    ) -> dict[int, tuple[Drift | None, float]]:
        """For each line, what moved on the way to the next one, and how well both fit then."""
        of_line: dict[int, list[tuple[int, int]]] = {}
        line = self._moves.line
        for a, b in self._pairs(cell, at_cell):
            if line[cell[b]] - line[cell[a]] == 1:
                of_line.setdefault(int(line[cell[a]]), []).append((a, b))
            elif line[cell[a]] - line[cell[b]] == 1:
                of_line.setdefault(int(line[cell[b]]), []).append((b, a))
        return {number: self._drift(number, pairs, cell) for number, pairs in of_line.items()}

    def _drift(
        self, number: int, pairs: list[tuple[int, int]], cell: IntArray
    ) -> tuple[Drift | None, float]:
        both = np.array(pairs)
        a, b = cell[both[:, 0]], cell[both[:, 1]]
        key = (number, np.column_stack([both, a, b]).tobytes())
        if key not in self._drifts:
            moves = self._moves
            expected = moves.expected(a, b)
            spread = self._spreads.across_px
            most = np.array([self._most(int(a), int(b)) for a, b in both])
            drift, fit = drift_of(both, expected, spread, self._seen, moves.width_px, most)
            if drift is not None:
                # What lies side by side now are other pairs.
                anew, expected = self._side_by_side(both, cell, drift)
                most = np.array([self._most(int(a), int(b)) for a, b in anew])
                fit = max(fit, fit_of(anew, expected, spread, self._seen, most) - PRICE)
            self._drifts[key] = drift, fit
        return self._drifts[key]

    def _side_by_side(
        self, pairs: IntArray, cell: IntArray, drift: Drift
    ) -> tuple[IntArray, FloatArray]:
        """Pairs of two lines' frames that share most after a drift, and their displacements."""
        a, b = np.unique(pairs[:, 0]), np.unique(pairs[:, 1])
        first, second = (side.ravel() for side in np.meshgrid(a, b, indexing="ij"))
        moved = np.array([drift.between(int(n)) for n in second - first])
        expected = self._moves.expected(cell[first], cell[second]) + moved
        share = self._moves.share(expected).reshape(len(a), len(b))
        chosen = np.zeros(share.shape, dtype=bool)
        np.put_along_axis(chosen, np.argsort(-share, axis=1)[:, :_BESIDE], True, axis=1)
        np.put_along_axis(chosen, np.argsort(-share, axis=0)[:_BESIDE], True, axis=0)
        chosen &= share >= LEAST_SHARE
        kept = chosen.ravel()
        return np.column_stack([first, second])[kept], expected[kept]


def _asked(
    cell: int, likely: IntArray, chances: FloatArray, band: IntArray
) -> tuple[IntArray, int]:
    """Indices of the cells of the band that the neighbours are asked about, and the middle one."""
    if cell < 0 and chances.max(initial=0.0) < _PERHAPS:
        return np.zeros(0, dtype=np.int64), -1
    centre = cell if cell >= 0 else int(likely[chances.argmax()])
    asked = np.zeros(len(band), dtype=bool)
    asked[np.minimum(np.searchsorted(_ascending(band), likely), len(band) - 1)] = True
    if cell >= 0:
        asked |= np.abs(band - cell) <= _AROUND
    return np.flatnonzero(asked & (band >= 0)), centre


def _ascending(band: IntArray) -> IntArray:
    """Cells of a band with what is beyond the last put last."""
    return np.where(band >= 0, band, np.iinfo(np.int64).max)


def frames_of_cells(cell: IntArray) -> dict[int, list[int]]:
    """For each cell that has any, its frames."""
    frames: dict[int, list[int]] = {}
    for t, k in enumerate(cell):
        if k >= 0:
            frames.setdefault(int(k), []).append(t)
    return frames
