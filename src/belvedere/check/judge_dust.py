"""Dust on the sensor: dark specks at the same places of the frame, whatever it shows.

The scene changes from frame to frame and cancels in the mean; plain places count most, since there
a speck is all there is to see. Where two frames overlap it cancels at once: what is left differs by
the specks of both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check.model import Finding
from belvedere.check.small_overlaps import SmallOverlap
from belvedere.check.thresholds import (
    DUST_EV,
    DUST_ROUND,
    DUST_STAYS,
    SPOT_FRAMES,
    SPOT_MOST_FRAMES,
    SURE_DUST,
)
from belvedere.measure import linear_table
from belvedere.shoot import Frame

FloatImage = NDArray[np.float32]
Grey = NDArray[np.uint8]

#: Smoothing of specks, px, and of their surroundings against it; large specks are looked for in
#: pictures of half the size.
_SIGMA_PX, _AROUND, _SHRINKS = 1.5, 3.0, (1, 2)
#: Specks nearer to each other than this are one, px of the small picture.
_APART_PX = 9.0
#: Local contrast below which a place counts as plain, EV.
_PLAIN_EV = 0.01
#: One frame may say no more than so many of its own deviations.
_CLIPPED_AT = 2.0
#: The shoot in so many parts, in the order of the shutter.
_PARTS = 8
#: Levels as dark as this are noise.
_DARK = 8
_MARGIN_PX, _EDGE_PX = 5, 12
_NAMED = 5


@dataclass(frozen=True, slots=True)
class Speck:
    """A dark speck: its middle as shares of the width and height, its width and where it began.

    `width_share` is a share of the frame's width; `first` counts pictures from 0; `sure` is the
    evidence in standard errors.
    """

    across: float
    down: float
    width_share: float
    first: int
    sure: float


def judge_dust(
    frames: Sequence[Frame], pictures: Sequence[Grey], overlaps: Sequence[SmallOverlap] = ()
) -> list[Finding]:
    """One finding for all specks of dust; nothing in a shoot of few frames.

    `pictures` are the small ones of `frames`, both in the order of the shutter, all of one size;
    `overlaps`, some two hundred are enough, number their frames in that order.
    """
    specks = dust_specks(pictures, overlaps)
    if not specks:
        return []
    width_px = frames[0].width_px
    places = "; ".join(
        f"{speck.across:.0%} across, {speck.down:.0%} down, about "
        f"{speck.width_share * width_px:.0f} px wide"
        for speck in specks[:_NAMED]
    )
    more = f"; and {len(specks) - _NAMED} more" if len(specks) > _NAMED else ""
    first = min(speck.first for speck in specks)
    since = "in all frames" if first == 0 else f"from about {frames[first].file} on"
    one = len(specks) == 1
    what = "a dark speck stands" if one else "dark specks stand"
    says = (
        f"{what} at the same place of the frame {since} ({places}{more}): dust on the sensor; it "
        f"can be retouched, so nothing need be taken again, but have the sensor cleaned"
    )
    return [Finding("dust", says, value=float(len(specks)), unit="specks")]


def dust_specks(pictures: Sequence[Grey], overlaps: Sequence[SmallOverlap] = ()) -> list[Speck]:
    """Specks in small pictures (height, width) of one size, the surest first.

    The pictures come in the order of the shutter. Each one's detail, a difference of Gaussians of
    log2 luminance, is weighted by the inverse of its local variance; a speck is a round minimum
    of the mean that stands out of its standard error and is there in most parts of the shoot.
    """
    if len(pictures) < SPOT_FRAMES:
        return []
    chosen = np.unique(
        np.linspace(0, len(pictures) - 1, min(len(pictures), SPOT_MOST_FRAMES)).astype(int)
    )
    parts = np.array_split(chosen, _PARTS)
    specks: list[Speck] = []
    for shrink in _SHRINKS:
        total, weight = _sums(pictures, parts, shrink)
        if shrink == 1:
            _add_overlaps(total, weight, overlaps, len(pictures))
        specks += _minima(total, weight, parts)
    specks.sort(key=lambda speck: speck.sure, reverse=True)
    kept: list[Speck] = []
    for speck in specks:
        if all(_apart_px(speck, other, pictures[0].shape) > _APART_PX for other in kept):
            kept.append(speck)
    return kept


def _sums(
    pictures: Sequence[Grey], parts: Sequence[NDArray[np.intp]], shrink: int
) -> tuple[FloatImage, FloatImage]:
    """Weighted detail and weights of pictures made smaller, summed over each part (parts, …)."""
    height, width = (side // shrink for side in pictures[0].shape)
    light = _light()
    total = np.zeros((len(parts), height, width), dtype=np.float32)
    weight = np.zeros_like(total)
    for number, part in enumerate(parts):
        for place in part:
            seen = light[pictures[place]]
            if shrink > 1:
                seen = cv2.resize(seen, (width, height), interpolation=cv2.INTER_AREA)
            detail, share = _weighed(seen)
            total[number] += detail
            weight[number] += share
    return total, weight


def _add_overlaps(
    total: FloatImage, weight: FloatImage, overlaps: Sequence[SmallOverlap], frames: int
) -> None:
    """Add what overlaps say: a speck darkens its own frame's side of the difference."""
    light, (parts, height, width) = _light(), total.shape
    # Towards the edges of a frame misregistration is the same in all, and looks like specks.
    inner = np.zeros((height, width), dtype=np.float32)
    inner[_EDGE_PX:-_EDGE_PX, _EDGE_PX:-_EDGE_PX] = 1.0
    for one in overlaps:
        if not np.isfinite(one.misfit_px):
            continue
        in_a, in_b = (
            light[np.clip(side + 0.5, 0, 255).astype(np.uint8)] for side in (one.in_a, one.in_b)
        )
        detail, share = _weighed(in_b - in_a)
        rows = slice(one.top, one.top + detail.shape[0])
        columns = slice(one.left, one.left + detail.shape[1])
        part_a, part_b = one.a * parts // frames, one.b * parts // frames
        total[part_a, rows, columns] -= detail * inner[rows, columns]
        weight[part_a, rows, columns] += share * inner[rows, columns]
        to_b = one.b_from_a @ np.array([[1, 0, one.left], [0, 1, one.top], [0, 0, 1]], dtype=float)
        total[part_b] += cv2.warpPerspective(detail, to_b, (width, height)) * inner
        weight[part_b] += cv2.warpPerspective(share, to_b, (width, height)) * inner


def _weighed(seen: FloatImage) -> tuple[FloatImage, FloatImage]:
    """Detail over its local variance, and the inverse of that variance."""
    window = int(8 * _SIGMA_PX) | 1
    detail = _smooth(seen, _SIGMA_PX)
    detail -= _smooth(detail, _SIGMA_PX * np.sqrt(_AROUND**2 - 1.0))
    variance = cv2.blur(detail * detail, (window, window)) + np.float32(_PLAIN_EV**2)
    most = np.sqrt(variance) * np.float32(_CLIPPED_AT)
    share = np.float32(1.0) / variance
    return np.clip(detail, -most, most) * share, share


def _light() -> FloatImage:
    """log2 of linear light of the 256 levels, the darkest ones alike."""
    table = linear_table()
    light: FloatImage = np.log2(np.maximum(table, table[_DARK])).astype(np.float32)
    return light


def _minima(
    total: FloatImage, weight: FloatImage, parts: Sequence[NDArray[np.intp]]
) -> list[Speck]:
    """Specks where the mean over the shoot is lowest, in the order of the rows."""
    mean = total.sum(axis=0) / weight.sum(axis=0)
    sure = -total.sum(axis=0) / np.sqrt(weight.sum(axis=0))
    lowest = mean == cv2.erode(mean, np.ones((5, 5), dtype=np.uint8))
    inside = np.zeros_like(lowest)
    inside[_MARGIN_PX:-_MARGIN_PX, _MARGIN_PX:-_MARGIN_PX] = True
    # What began later stands out less in the sum over all: the last half alone may be enough.
    half = len(parts) // 2
    later = -total[half:].sum(axis=0) / np.sqrt(weight[half:].sum(axis=0))
    candidates = np.argwhere(lowest & inside & (np.maximum(sure, later) > SURE_DUST))
    specks = []
    for y, x in candidates.tolist():
        if _roundness(mean, y, x, round(_SIGMA_PX)) < DUST_ROUND:
            continue
        speck = _speck(total[:, y, x], weight[:, y, x], parts)
        if speck is None:
            continue
        first, evidence = speck
        height, width = mean.shape
        wide = _width_px(mean, y, x) / width
        specks.append(Speck((x + 0.5) / width, (y + 0.5) / height, wide, first, evidence))
    return specks


def _speck(
    total: NDArray[np.float32], weight: NDArray[np.float32], parts: Sequence[NDArray[np.intp]]
) -> tuple[int, float] | None:
    """The first frame and the evidence of a speck, from its parts' sums; None if it does not stay.

    A later beginning is believed only where it explains clearly more.
    """
    suffix = -np.cumsum(total[::-1])[::-1] / np.sqrt(np.cumsum(weight[::-1])[::-1])
    begin = int(np.argmax(suffix - 1.5 * (np.arange(len(suffix)) > 0)))
    total, weight = total[begin:], weight[begin:]
    depth = -float(total.sum() / weight.sum())
    if suffix[begin] < SURE_DUST or depth < DUST_EV or len(total) < 2:
        return None
    expected = depth * np.sqrt(weight)
    could = expected > 1.0
    shown = -total / np.sqrt(weight) > 0.3 * expected
    if could.sum() < 2 or shown[could].mean() < DUST_STAYS:
        return None
    return int(parts[begin][0]), float(suffix[begin])


def _roundness(mean: FloatImage, y: int, x: int, step: int) -> float:
    """Ratio of the lesser to the greater curvature at a minimum; below 0 at a saddle."""
    here = float(mean[y, x])
    xx = float(mean[y, x - step] + mean[y, x + step]) - 2.0 * here
    yy = float(mean[y - step, x] + mean[y + step, x]) - 2.0 * here
    xy = mean[y + step, x + step] + mean[y - step, x - step]
    xy = float(xy - mean[y + step, x - step] - mean[y - step, x + step]) / 4.0
    middle, swing = (xx + yy) / 2.0, float(np.hypot((xx - yy) / 2.0, xy))
    return (middle - swing) / max(middle + swing, 1e-9)


def _width_px(mean: FloatImage, y: int, x: int) -> float:
    """Full width at half depth, the smoothing taken out, px."""
    reach = round(6 * _SIGMA_PX)
    top, left = max(0, y - reach), max(0, x - reach)
    near = mean[top : y + reach + 1, left : x + reach + 1] < mean[y, x] / 2.0
    _, parts = cv2.connectedComponents(near.astype(np.uint8), connectivity=4)
    area = float((parts == parts[y - top, x - left]).sum())
    seen = 2.0 * np.sqrt(area / np.pi)
    return float(np.sqrt(max(1.0, seen**2 - (2.355 * _SIGMA_PX) ** 2)))


def _apart_px(one: Speck, other: Speck, shape: tuple[int, ...]) -> float:
    across, down = one.across - other.across, one.down - other.down
    return float(np.hypot(across * shape[1], down * shape[0]))


def _smooth(image: FloatImage, sigma_px: float) -> FloatImage:
    smoothed = cv2.GaussianBlur(image, (0, 0), float(sigma_px), borderType=cv2.BORDER_REFLECT_101)
    return np.asarray(smoothed, dtype=np.float32)
