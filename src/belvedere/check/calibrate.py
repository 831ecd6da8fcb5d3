"""Learn from the card how the picture really moves from cell to cell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from belvedere.check.moves import Moves, Spreads
from belvedere.check.neighbours import neighbours
from belvedere.check.sightings import Sightings

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: Support (natural log) from which a peak anywhere, and one near its place, is taken for true.
_SURE_ANYWHERE = 14.0
_SURE_NEARBY = 9.0
#: Spreads as a share of the frame's width, before and after calibration.
_UNKNOWN_ALONG, _UNKNOWN_ACROSS = 0.05, 0.07
_GUESSED_ACROSS = 0.15
_LEAST_SPREAD = 0.008
#: Samples from which a picture should be recognised in its neighbours.
_TEXTURED = 150.0


def other_guesses(moves: Moves, seen: Sightings, count: int) -> list[tuple[Moves, Spreads]]:
    """Explanations worth trying where the plan's does not hold.

    A focal length or step other than planned changes the scale; a camera mounted upside down,
    or another start corner, the signs.
    """
    width = moves.width_px
    step = _first_step(moves)
    shifts = _sure_shifts(seen, count, 0.04 * width)
    if step is None or len(shifts) < 3:
        return []
    unit = step / np.linalg.norm(step)
    along = shifts @ unit
    mostly = np.abs(along) > 0.7 * np.linalg.norm(shifts, axis=1)
    folded = shifts[mostly] * np.sign(along[mostly])[:, None]
    if len(folded) < 3:
        return []
    turn = _turning(step, _commonest(folded, 0.05 * width))
    mirror = 2.0 * np.outer(unit, unit) - np.eye(2)
    spreads = Spreads(_UNKNOWN_ALONG * width, _GUESSED_ACROSS * width)
    guesses = [turn, -turn, turn @ mirror, -turn @ mirror]
    return [(replace(moves, linear=guess), spreads) for guess in guesses]


def as_planned(moves: Moves) -> Spreads:
    """Spreads to begin with where the plan is taken at its word."""
    return Spreads(_UNKNOWN_ALONG * moves.width_px, _UNKNOWN_ACROSS * moves.width_px)


def explained(moves: Moves, spreads: Spreads, cell: IntArray, seen: Sightings) -> float:
    """Share of the textured pairs, within and across lines, that move as expected.

    The worse of the two; 1 where there is nothing to see.
    """
    first, second = _pairs(moves, cell)
    if not len(first):
        return 1.0
    same_line = moves.line[cell[first]] == moves.line[cell[second]]
    expected = moves.expected(cell[first], cell[second])
    holds = np.full(len(first), np.nan)
    for i in range(len(first)):
        a, b = int(first[i]), int(second[i])
        if min(seen.texture(a), seen.texture(b)) < _TEXTURED:
            continue
        shift = (float(expected[i, 0]), float(expected[i, 1]))
        spread = spreads.along_px if same_line[i] else spreads.across_px
        holds[i] = seen.peak_near(a, b, shift, 3.0 * spread).support >= _SURE_NEARBY
    shares = [
        float(np.nanmean(holds[group]))
        for group in (same_line, ~same_line)
        if np.isfinite(holds[group]).any()
    ]
    return min(shares, default=1.0)


def calibrated(
    moves: Moves, spreads: Spreads, cell: IntArray, seen: Sightings
) -> tuple[Moves, Spreads]:
    """Moves and spreads fitted to the pairs that are surely seen, given where frames are."""
    first, second = _pairs(moves, cell)
    if not len(first):
        return moves, spreads
    a, b = cell[first], cell[second]
    planned = moves.planned(a, b)
    expected = planned @ moves.linear.T
    same_line = moves.line[a] == moves.line[b]
    found = np.full((len(a), 2), np.nan)
    for i in range(len(a)):
        reach = 3.0 * (spreads.along_px if same_line[i] else spreads.across_px)
        peak = seen.peak_near(
            int(first[i]), int(second[i]), (float(expected[i, 0]), float(expected[i, 1])), reach
        )
        if peak.support >= _SURE_NEARBY:
            found[i] = peak.dx_px, peak.dy_px
    sure = np.isfinite(found).all(axis=1) & np.isfinite(planned).all(axis=1)
    if sure.sum() < 3:
        return moves, spreads
    planned, found, same_line = planned[sure], found[sure], same_line[sure]
    linear = fitted(planned, found, moves.linear, moves.width_px)
    left = np.linalg.norm(found - planned @ linear.T, axis=1)
    least = max(_LEAST_SPREAD * moves.width_px, 0.75 * seen.shrink)
    return replace(moves, linear=linear), Spreads(
        _spread(left[same_line], spreads.along_px, least),
        _spread(left[~same_line], spreads.across_px, least),
    )


def _spread(left_px: FloatArray, before_px: float, least_px: float) -> float:
    """A spread along each axis, from the lengths of residuals; wider than they suggest."""
    if len(left_px) < 4:
        return before_px
    # The median length of a two-dimensional normal residual is 1.18 standard deviations.
    return float(min(max(1.5 * np.median(left_px) / 1.18, least_px), before_px))


def _first_step(moves: Moves) -> FloatArray | None:
    """The planned displacement between the first two cells of the sweep."""
    if moves.count < 2:
        return None
    step = moves.planned(np.array([0]), np.array([1]))[0]
    return step if np.isfinite(step).all() and np.linalg.norm(step) > 0 else None


def _sure_shifts(seen: Sightings, count: int, least_px: float) -> FloatArray:
    found = [seen.peak(t - 1, t) for t in range(1, count)]
    shifts = np.array(
        [(peak.dx_px, peak.dy_px) for peak in found if peak.support >= _SURE_ANYWHERE]
    ).reshape(-1, 2)
    moved: FloatArray = shifts[np.linalg.norm(shifts, axis=1) > least_px]
    return moved


def _commonest(shifts: FloatArray, radius_px: float) -> FloatArray:
    """The middle of the densest group of shifts."""
    apart = np.linalg.norm(shifts[:, None] - shifts[None], axis=2)
    group = apart[(apart < radius_px).sum(axis=1).argmax()] < radius_px
    middle: FloatArray = np.median(shifts[group], axis=0)
    return middle


def _turning(before: FloatArray, after: FloatArray) -> FloatArray:
    """The rotation and scale (2, 2) that turn `before` into `after`."""
    ratio = complex(*after) / complex(*before)
    return np.array([[ratio.real, -ratio.imag], [ratio.imag, ratio.real]])


def _pairs(moves: Moves, cell: IntArray) -> tuple[IntArray, IntArray]:
    """Frames that should overlap: neighbours in time, and the nearest of the line before."""
    pairs: list[tuple[int, int]] = []
    at_cell = {int(k): t for t, k in enumerate(cell) if k >= 0}
    near = neighbours(moves, 0.0)
    for t, k in enumerate(cell):
        if k < 0:
            continue
        if t and cell[t - 1] >= 0 and cell[t - 1] != k:
            pairs.append((t - 1, t))
        rows = near.rows(int(k))
        before = moves.line[near.cell[rows]] == moves.line[k] - 1
        if before.any():
            share = np.where(before, near.share[rows], 0.0)
            other = at_cell.get(int(near.cell[rows][share.argmax()]))
            if other is not None and share.max() > 0 and abs(other - t) > 1:
                pairs.append((other, t))
    both = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    overlap = moves.share(moves.expected(cell[both[:, 0]], cell[both[:, 1]])) > 0.0
    return both[overlap, 0], both[overlap, 1]


def fitted(planned: FloatArray, found: FloatArray, before: FloatArray, width_px: int) -> FloatArray:
    """Linear map from planned to found displacements, robustly, drawn a little to `before`."""
    p, d = planned / width_px, found / width_px
    linear = before
    draw = 0.02 * np.eye(2)
    for _ in range(12):
        left = np.linalg.norm(d - p @ linear.T, axis=1)
        scale = max(1.4826 * float(np.median(left)), 0.003)
        weight = 1.0 / (1.0 + (left / (2.0 * scale)) ** 2)  # Cauchy
        normal = (p * weight[:, None]).T @ p + draw
        linear = np.linalg.solve(normal, (p * weight[:, None]).T @ d + draw @ before.T).T
    return linear
