"""Drops on the lens: from a certain frame on, the same patch of the frame has lost its fine detail.

What a frame shows changes; where on the frame it lost detail does not. In each frame fine detail is
compared with coarser detail of the same place, so that bricks and sky count alike; a place whose
mean stands out among the places to its left and right, above and below, is under a drop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check.model import Finding
from belvedere.check.thresholds import (
    DROP_FRAMES,
    DROP_LOSS,
    DROP_STAYS,
    DROP_WIDTH,
    DROPS_SPOIL,
    SPOT_FRAMES,
    SPOT_MOST_FRAMES,
    SURE_DROP,
)
from belvedere.shoot import Frame

FloatArray = NDArray[np.float32]
Grey = NDArray[np.uint8]

#: Gaussians (px of the small picture) that part fine from coarse detail: for drops that take the
#: finest only, and for those that leave nothing else.
_SCALES_PX = ((0.0, 0.8, 2.0), (0.8, 2.0, 5.0))
#: Detail is summed over windows so wide, and kept at every fourth pixel.
_WINDOW_PX, _STEP_PX = 13, 4
#: Variance (grey levels squared) of coarse detail from which a place has any, and that of rounding.
_LEAST_DETAIL, _ROUNDING = 2.0, 0.15
_MOST_LOSS = 2.0
#: The sharp part of a row or a column begins at this quantile, so many deviations above the
#: middle (normal law); what scene and lens scatter at least.
_SHARP_PART, _LEAST_ERROR = (0.7, 0.524), 0.08
#: Share of a frame with detail, below which a few clouds would be measured by each other.
_LEAST_SHOWN = 0.2


@dataclass(frozen=True, slots=True)
class Drop:
    """A blurred patch: its middle as shares of the width and height, its size, and since when.

    `width_share` is the diameter as a share of the frame's width, `area_share` the share of the
    frame; `first` counts pictures from 0: the first in which it can be seen.
    """

    across: float
    down: float
    width_share: float
    area_share: float
    first: int


def judge_drops(
    frames: Sequence[Frame], pictures: Sequence[Grey]
) -> tuple[list[Finding], list[Finding]]:
    """One finding on the shoot for all drops, and the frames that they spoil.

    `pictures` are the small ones of `frames`, both in the order of the shutter, all of one size.
    In a shoot of few frames there is nothing to tell drops by.
    """
    drops = lens_drops(pictures)
    if not drops:
        return [], []
    spoilt = [
        Finding(
            "soft",
            f"drops on the lens blur {area:.0%} of the frame; dry it",
            frame.file,
            round(area, 3),
            "share",
        )
        for number, frame in enumerate(frames)
        if (area := sum(drop.area_share for drop in drops if drop.first <= number)) >= DROPS_SPOIL
        and fineness(pictures[number])[1].any()
    ]
    return [_on_the_shoot(frames, drops)], spoilt


def _on_the_shoot(frames: Sequence[Frame], drops: Sequence[Drop]) -> Finding:
    width_px = frames[0].width_px
    places = "; ".join(
        f"{drop.across:.0%} across, {drop.down:.0%} down, about {drop.width_share * width_px:.0f} "
        f"px wide, from {frames[drop.first].file} on"
        for drop in drops
    )
    area = sum(drop.area_share for drop in drops)
    one = len(drops) == 1
    what = "the same patch of the frame is" if one else "the same patches of the frame are"
    says = (
        f"{what} blurred in frame after frame ({places}; together {area:.0%} of the "
        f"frame): drops or a smear on the lens; dry it, and take the frames from there on again "
        f"unless a neighbour shows the same sharp"
    )
    return Finding("drops", says, value=round(area, 3), unit="share")


def lens_drops(pictures: Sequence[Grey]) -> list[Drop]:
    """Drops in small pictures (height, width) of one size in the order of the shutter."""
    if len(pictures) < SPOT_FRAMES:
        return []
    chosen = np.unique(
        np.linspace(0, len(pictures) - 1, min(len(pictures), SPOT_MOST_FRAMES)).astype(int)
    )
    found: list[Drop] = []
    shape = pictures[0].shape[0] // _STEP_PX, pictures[0].shape[1] // _STEP_PX
    taken = np.zeros(shape, dtype=bool)
    for scale in range(len(_SCALES_PX)):
        looked = [fineness(pictures[place], scale) for place in chosen]
        fine = np.stack([one for one, _ in looked])
        there = np.stack([has for _, has in looked])
        # The whole shoot first, then ever later beginnings: what began late drowns in the whole.
        for begin in _beginnings(len(chosen)):
            under, above = _under_drops(fine[begin:], there[begin:])
            for core in _patches(under & ~taken, pictures[0].shape):
                place = _whole(core, above)
                if (place & taken).any():
                    continue
                since = _first(fine, there, place)
                before = int(chosen[since - 1]) + 1 if since else 0
                first = _first_between(pictures, place, scale, before, int(chosen[since]))
                found.append(_drop(place, first))
                taken |= cv2.dilate(place.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    return sorted(found, key=lambda drop: drop.area_share, reverse=True)


def fineness(picture: Grey, scale: int = 0) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Fine against coarse detail (ln), its median removed, and where there is any to compare.

    Both (rows, columns), one value for every fourth pixel of the picture each way; `scale` is one
    of `_SCALES_PX`.
    """
    grey = picture.astype(np.float32)
    finest_px, fine_px, coarse_px = _SCALES_PX[scale]
    finest = cv2.GaussianBlur(grey, (0, 0), finest_px) if finest_px else grey
    fine = cv2.GaussianBlur(grey, (0, 0), fine_px)
    coarse = cv2.GaussianBlur(grey, (0, 0), coarse_px)
    rows, columns = picture.shape[0] // _STEP_PX, picture.shape[1] // _STEP_PX
    lost, kept = (
        cv2.blur(np.square(band), (_WINDOW_PX, _WINDOW_PX))[_STEP_PX // 2 :: _STEP_PX][
            :rows, _STEP_PX // 2 :: _STEP_PX
        ][:, :columns]
        for band in (finest - fine, fine - coarse)
    )
    there = kept > _LEAST_DETAIL
    ratio = np.log((lost + _ROUNDING) / (kept + _ROUNDING))
    if there.mean() < _LEAST_SHOWN:
        there = np.zeros_like(there)
    else:
        ratio = ratio - np.median(ratio[there])
    return np.clip(ratio, -_MOST_LOSS, _MOST_LOSS).astype(np.float32), there


def _beginnings(count: int) -> list[int]:
    return [count * eighth // 8 for eighth in range(8)]


def _under_drops(
    fine: FloatArray, there: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Places (rows, columns) whose mean over the frames stands out as blurred, and by how much."""
    seen = there.sum(axis=0)
    enough = seen >= DROP_FRAMES
    if enough.mean() < 0.3:
        return np.zeros_like(enough), np.zeros(enough.shape, dtype=np.float32)
    mean = (fine * there).sum(axis=0) / np.maximum(seen, 1)
    spread = np.sqrt((np.square(fine - mean) * there).sum(axis=0) / np.maximum(seen - 1, 1))
    usual = max(0.1, float(np.median(spread[enough])))
    above = _levelled(mean, enough, usual / float(np.sqrt(np.median(seen[enough]))))
    blurred = there & (fine - (mean - above) < -DROP_LOSS / 2.0)
    stays = blurred.sum(axis=0) >= DROP_STAYS * seen
    standing_out: NDArray[np.bool_] = (
        enough & stays & (above < -DROP_LOSS) & (-above * np.sqrt(seen) > SURE_DROP * usual)
    )
    return standing_out, above


def _whole(core: NDArray[np.bool_], above: FloatArray) -> NDArray[np.bool_]:
    """A drop to where half of its loss is left."""
    half = (above < float(above[core].mean()) / 2.0) | core
    _, labels = cv2.connectedComponents(half.astype(np.uint8), connectivity=4)
    y, x = np.nonzero(core)
    whole: NDArray[np.bool_] = labels == labels[y[0], x[0]]
    return whole


def _levelled(mean: FloatArray, enough: NDArray[np.bool_], error: float) -> FloatArray:
    """The mean against that of its row and its column: a horizon in every frame is no drop.

    Not against their medians, since drops may cover half of them: against a higher quantile, less
    what scatter by `error` makes of it.
    """
    left = np.where(enough, mean, np.nan).astype(np.float32)
    quantile, deviations = _SHARP_PART
    lift = np.float32(deviations * max(error, _LEAST_ERROR))
    for _ in range(2):
        for axis in (1, 0):
            left -= _quantile(left, quantile, axis) - lift
    filled: FloatArray = np.nan_to_num(left)
    return filled


def _quantile(values: FloatArray, quantile: float, axis: int) -> FloatArray:
    """Along an axis, which is kept, whatever is nan left out; nan where all is.

    In one sort: NumPy's own function goes line by line.
    """
    ordered = np.sort(values, axis=axis)  # what is nan comes last
    last = np.maximum(np.isfinite(values).sum(axis=axis, keepdims=True) - 1, 0)
    place = quantile * last
    low = place.astype(np.intp)
    below = np.take_along_axis(ordered, low, axis)
    above = np.take_along_axis(ordered, np.minimum(low + 1, last), axis)
    found: FloatArray = (below + (above - below) * (place - low)).astype(np.float32)
    return found


def _patches(under: NDArray[np.bool_], shape: tuple[int, int]) -> list[NDArray[np.bool_]]:
    """Connected places that are wide enough for a drop."""
    side = max(2, round(DROP_WIDTH * shape[1] / _STEP_PX))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    closed = cv2.morphologyEx(under.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, disc)
    count, labels = cv2.connectedComponents(opened)
    return [labels == label for label in range(1, count)]


def _first(fine: FloatArray, there: NDArray[np.bool_], place: NDArray[np.bool_]) -> int:
    """The frame from which the place is blurred: the step that parts the frames best.

    Least squares of one step (D. V. Hinkley, "Inference about the change-point in a sequence of
    random variables", Biometrika 57, 1970).
    """
    weight = (there & place).sum(axis=(1, 2)).astype(np.float64)
    value = (fine * (there & place)).sum(axis=(1, 2)) / np.maximum(weight, 1.0)
    weight = (weight > 0.25 * place.sum()).astype(np.float64)
    total, count = np.cumsum(weight * value), np.cumsum(weight)
    before_n, before = count[:-1], total[:-1]
    after_n, after = count[-1] - before_n, total[-1] - before
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = before**2 / before_n + after**2 / after_n - total[-1] ** 2 / count[-1]
        fall = before / before_n - after / after_n
    gain = np.where((before_n > 0) & (after_n > 0) & (fall > DROP_LOSS), gain, 0.0)
    if gain.size and gain.max() > 1.0:
        return int(gain.argmax()) + 1
    shown = (weight > 0.0) & (value < -DROP_LOSS)
    return int(shown.argmax())


def _first_between(
    pictures: Sequence[Grey], place: NDArray[np.bool_], scale: int, begin: int, end: int
) -> int:
    """The first of the pictures from `begin` to `end`, the last of which shows the drop."""
    for number in range(begin, end):
        fine, there = fineness(pictures[number], scale)
        seen = there & place
        if seen.sum() > 0.25 * place.sum() and fine[seen].mean() < -DROP_LOSS:
            return number
    return end


def _drop(place: NDArray[np.bool_], first: int) -> Drop:
    rows, columns = place.shape
    y, x = np.nonzero(place)
    area = float(place.mean())
    wide = 2.0 * float(np.sqrt(len(y) / np.pi)) / columns
    return Drop(float(x.mean() + 0.5) / columns, float(y.mean() + 0.5) / rows, wide, area, first)
