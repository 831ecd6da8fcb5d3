"""Whether a frame shows just what the frame before showed: the head had not moved.

The match of the two around no displacement says much, but windows match as well a few windows on,
and clouds sail. So what stands still must be the same down to the noise; and where hardly anything
is to be seen, the smooth brightness of the whole frame tells: it stays where it is, or has moved on
by a step of the head. All by log likelihood ratios, derived on 34 repeats and 11,685 other pairs of
rehearsed shoots.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.check.likeness import Likeness
from belvedere.measure import shared_part

FloatImage = NDArray[np.float32]
FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Hard places, and those that show something, from which being the same says anything; hard ones
#: from which being other does.
_FEWEST_HARD, _FEWEST_SHOWN, _MANY_HARD = 12, 12, 60
#: Log likelihood ratio of a repeat by the share of hard places that are the same, of others, and
#: by the share of hard ones that show something else.
_HARD_SHARES, _HARD_SAYS = (0.3, 0.5, 0.8, 0.95), (0.0, 1.0, 4.0, 8.0)
_SOFT_SHARES, _SOFT_SAYS = (0.1, 0.2, 0.4, 0.9), (0.0, 2.0, 3.0, 6.0)
_OTHER_SHARES, _OTHER_SAYS = (0.6, 0.8), (0.0, -5.0)
#: The most that a match by displacement may say for a repeat whose hard places show other things.
_MOVED_LIKENESS = 6.0
#: Log likelihood ratio of a repeat by how much better the smooth brightness lies on itself unmoved
#: than moved on by a step (natural log of the ratio).
_SMOOTHER, _SMOOTH_SAYS = (
    (-1.2, -0.5, -0.1, 0.1, 0.7, 1.6, 2.5),
    (-4.0, -2.0, 0.0, 0.0, 2.5, 5.0, 7.0),
)
#: The most that places say where the scene repeats itself.
_MOST_PERIODIC = 2.0
#: All that stands still may say.
_MOST_SAID = 10.0
#: Error (natural log of brightness) of the falloff in the corners as learnt, at least and usually;
#: below the third two pictures are the same; pairs that it is learnt from.
_LEAST_FALLOFF, _USUAL_FALLOFF, _PLAIN_ALIKE, _FEWEST_PLAIN = 0.001, 0.004, 0.002, 5
#: Difference (natural log of brightness) from every faint frame elsewhere that makes a frame known.
_OWN = 0.02
#: Faint frames elsewhere that one is compared with, at least and about at most.
_FEWEST_OTHERS, _MOST_OTHERS = 2, 24
#: Frames on either side that tell what is usual.
_AROUND = 3
#: Frames that the falloff in the corners is learnt from, about, and pairs looked at at a time.
_ENOUGH_FRAMES, _AT_ONCE = 200, 128
#: Cells of the smooth brightness in common that it is compared in, at least.
_LEAST_CELLS = 96


def repeat_ratios(
    found: Likeness, matched: FloatArray, periodic: BoolArray, steps: FloatArray
) -> FloatArray:
    """Log likelihood ratio (T,) of each frame showing the cell of the one before once more.

    `matched` (T,) is what the match of the two around no displacement says by itself, `periodic`
    (T,) whether others match as well: windows, a fence. `steps` (S, 2) are the displacements that
    the sweep's next cell may have, as shares of the frame.
    """
    told = np.isfinite(found.smooth[:, 0, 0])
    told[1:] &= told[:-1].copy()
    other = np.interp(found.hard_other / np.maximum(found.hard, 1.0), _OTHER_SHARES, _OTHER_SAYS)
    other = np.where(found.hard >= _MANY_HARD, other, 0.0)
    hard = np.interp(found.hard_same / np.maximum(found.hard, 1.0), _HARD_SHARES, _HARD_SAYS)
    soft = np.interp(found.same / np.maximum(found.shows, 1.0), _SOFT_SHARES, _SOFT_SAYS)
    soft = np.where(found.shows >= _FEWEST_SHOWN, soft, 0.0)
    still = np.where(found.hard >= _FEWEST_HARD, hard, soft)
    still = np.where(periodic, np.minimum(still, _MOST_PERIODIC), still)
    smoother = _smoother(found.smooth, steps)
    smooth = np.interp(smoother - _usual_around(smoother, told), _SMOOTHER, _SMOOTH_SAYS)
    # What stands still and is not the same is no repeat, whatever it resembles when moved.
    capped = np.where((other < -1.0) | ~told, np.minimum(matched, _MOVED_LIKENESS), matched)
    faint = told & (found.shows < _FEWEST_SHOWN)
    own = _own_brightness(found.smooth, faint)
    # Where nothing else shows, all pictures share what the camera adds.
    capped = np.where(faint, capped - _usual_around(matched, faint), capped)
    capped = np.where(faint & ~own, np.minimum(capped, 0.0), capped)
    said = np.where(faint & ~own, np.minimum(smooth, 0.0), np.minimum(still + smooth, _MOST_SAID))
    ratios: FloatArray = capped + other + said
    return ratios


def _own_brightness(smooth: FloatImage, faint: BoolArray) -> BoolArray:
    """Whether a faint frame (T,) has a smooth brightness that faint frames elsewhere have not.

    Else it is plain sky, and what its pictures share is the camera's.
    """
    own = np.zeros(len(smooth), dtype=bool)
    frames = np.flatnonzero(faint)
    others = frames[:: max(1, len(frames) // _MOST_OTHERS)]
    for t in frames:
        unlike = smooth[others[np.abs(others - t) > 2]]
        if len(unlike) >= _FEWEST_OTHERS:
            alike = max(_OWN, 4.0 * float(_residuals(smooth[t : t + 1] - smooth[t - 1])[0]))
            own[t] = _residuals(smooth[t] - unlike).min() > alike
    return own


def _usual_around(values: FloatArray, chosen: BoolArray) -> FloatArray:
    """The median (T,) of `values` in the `_AROUND` chosen frames next to each, 0 or more."""
    usual = np.zeros(len(values))
    frames = np.flatnonzero(chosen)
    for place, t in enumerate(frames):
        beside = frames[max(0, place - _AROUND) : place + _AROUND + 1]
        beside = beside[(beside != t) & (np.abs(beside - t) <= 2 * _AROUND)]
        if len(beside) >= _AROUND:
            usual[t] = max(float(np.median(values[beside])), 0.0)
    return usual


def _smoother(smooth: FloatImage, steps: FloatArray) -> FloatArray:
    """Log of how much worse (T,) the smooth brightness lies on itself after a step than unmoved.

    0 where it cannot be told.
    """
    result = np.zeros(len(smooth))
    usable = np.isfinite(smooth[:, 0, 0])
    both = np.flatnonzero(usable[1:] & usable[:-1]) + 1
    if not len(both):
        return result
    falloff = np.median(smooth[usable][:: max(1, int(usable.sum()) // _ENOUGH_FRAMES)], axis=0)
    unmoved = np.zeros(len(both))
    apart = np.full((len(both), max(len(steps), 1)), np.inf)
    for first in range(0, len(both), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        before, now = smooth[both[some] - 1], smooth[both[some]]
        unmoved[some] = _residuals(now - before)
        before, now = before - falloff, now - falloff
        for number, step in enumerate(steps):
            high, wide = smooth.shape[1:]
            right, down = float(step[0]) * wide, float(step[1]) * high
            here = shared_part((high, wide), right, down)
            there = shared_part((high, wide), -right, -down)
            earlier, later = before[:, here[0], here[1]], now[:, there[0], there[1]]
            if earlier[0].size >= _LEAST_CELLS:
                apart[some, number] = _residuals(later - earlier)
    stepped = apart.min(axis=1)
    told = np.isfinite(stepped)
    if not told.any():
        return result
    plain = stepped[told & (unmoved < _PLAIN_ALIKE)]
    floor = float(np.median(plain)) if len(plain) >= _FEWEST_PLAIN else _USUAL_FALLOFF
    floor = max(floor, _LEAST_FALLOFF)
    beyond = np.sqrt(np.maximum(np.square(stepped[told]) - floor**2, 0.0))
    result[both[told]] = np.log((beyond + floor) / (unmoved[told] + floor))
    return result


def _residuals(differences: FloatImage) -> FloatArray:
    """Root mean squares (N,) of (N, rows, columns) about their medians; exposure is free.

    Single large differences are cut.
    """
    flat = differences.reshape(len(differences), -1)
    about = np.clip(flat - np.median(flat, axis=1, keepdims=True), -0.5, 0.5)
    spread: FloatArray = np.sqrt(np.mean(about * about, axis=1)).astype(np.float64)
    return spread
