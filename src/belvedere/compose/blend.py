"""One block of one level: the frames' bands, weighed along the seams, on the coarser level.

P. J. Burt and E. H. Adelson, "A multiresolution spline with application to image mosaics", ACM
Transactions on Graphics 2(4), 1983, turned round: their pyramid is built coarse to fine in mosaic
geometry, ::

    out[k] = expand(out[k + 1]) + Σ weight[k] · (frame[k] - expand(frame[k + 1]))

with every frame[k] warped straight from the frame shrunk k times. So a block needs the coarser
level of the mosaic and a margin of a few pixels, whatever the number of levels, and out[k] *is*
level k of the pyramid. Where one frame stands alone the coarser terms cancel and out[k] is
frame[k], bit for bit.

All values are whole numbers of steps of 1/32 grey level, all weights of 1/256 and all expansions
of 1/16: float32 holds their sums and products exactly, in any order. That is why the result does
not depend on how the mosaic is cut into blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.compose.model import Layout, Window
from belvedere.compose.outlines import Outlines, smoothed
from belvedere.compose.warp import FrameMap

Values = NDArray[np.float32]
Mask = NDArray[np.bool_]

#: Pixels around a frame's footprint, at any level, where its edge is repeated for the blend.
_RIM = 6
#: Pixels around a place that the interpolation reads, and some more.
_KERNEL = 6
#: What covering a pixel counts against claims, which lie between 0 and 1.
_COVERED = np.float32(2.0)


class Frames(Protocol):
    """Corrected pixels of numbered frames; `FrameStore` is one."""

    def size(self, level: int) -> tuple[int, int]:
        """Width and height of a frame at `level`."""
        ...

    def part(self, number: int, level: int, window: Window) -> NDArray[np.uint16]:
        """A window of a frame."""
        ...


@dataclass(frozen=True, slots=True)
class Placed:
    """A frame where it lies in the mosaic: its footprint at level 0, not cut at the edges."""

    number: int
    footprint: Window
    mapping: FrameMap

    def at(self, level: int) -> Window:
        """Its footprint at `level` with the rim."""
        f = self.footprint
        return Window(
            f.left >> level, f.top >> level, -(-f.right >> level), -(-f.bottom >> level)
        ).grown(_RIM)


@dataclass(frozen=True, slots=True)
class Placements:
    """All frames of a mosaic, and which of them a window touches."""

    placed: tuple[Placed, ...]
    edges: NDArray[np.int64]

    @classmethod
    def of(cls, placed: Sequence[Placed]) -> Placements:
        """With their footprints gathered, to be searched at once."""
        edges = [
            (p.footprint.left, p.footprint.top, p.footprint.right, p.footprint.bottom)
            for p in placed
        ]
        return cls(tuple(placed), np.array(edges, np.int64).reshape(-1, 4).T)

    def touching(self, level: int, window: Window) -> list[Placed]:
        """The frames whose footprint, with its rim, meets `window` of `level`, in their order."""
        if window.empty:
            return []
        left, top, right, bottom = self.edges
        meets = (
            ((left >> level) - _RIM < window.right)
            & ((top >> level) - _RIM < window.bottom)
            & (-(-right >> level) + _RIM > window.left)
            & (-(-bottom >> level) + _RIM > window.top)
        )
        return [self.placed[i] for i in np.flatnonzero(meets)]


@dataclass(frozen=True, slots=True)
class Block:
    """What was made: (height, width, 3) values in steps, and where some frame covers."""

    values: Values
    covered: Mask


@dataclass(frozen=True, slots=True)
class _Share:
    """What one frame has in a block: where, how much, and the mapping there."""

    placed: Placed
    window: Window
    weight: Values
    x: Values
    y: Values


@dataclass(frozen=True, slots=True)
class Blender:
    """Renders blocks of one mosaic. `top` is the coarsest level that is blended."""

    layout: Layout
    placed: Placements
    outlines: Outlines
    frames: Frames
    top: int

    def render(self, level: int, window: Window, coarser: Values | None) -> Block:
        """A block of `level`.

        Parameters
        ----------
        level
            0 to `top`.
        window
            Of that level; its left and top are even.
        coarser
            `out` of the next level on `coarser_window(window)`; None at `top`.
        """
        shares, covered = self._shares(level, window)
        if coarser is None:
            return Block(self._mean(level, window, shares), covered)
        if len(shares) == 1 and shares[0].window == window and shares[0].weight.min() == 1.0:
            return Block(self._alone(level, window, shares[0], coarser), covered)
        values = enlarged(coarser, coarser_window(window), window)
        for share in shares:
            band = self._warped(level, share) - self._coarser(level, share)
            values[_inside(share.window, window)] += band * share.weight[..., None]
        return Block(np.rint(values), covered)

    def _alone(self, level: int, window: Window, share: _Share, coarser: Values) -> Values:
        """One frame only: itself, and what its neighbours' coarser levels do to it."""
        values = self._warped(level, share)
        around = coarser_window(window)
        own = self._padded(level + 1, around, share.placed)
        if not np.array_equal(own, coarser):
            values += enlarged(coarser, around, window) - enlarged(own, around, window)
        return values

    def _mean(self, level: int, window: Window, shares: list[_Share]) -> Values:
        """The coarsest level: the weighted mean of the frames."""
        values = np.zeros((window.height, window.width, 3), np.float32)
        total = np.zeros((window.height, window.width, 1), np.float32)
        for share in shares:
            here = _inside(share.window, window)
            values[here] += self._warped(level, share) * share.weight[..., None]
            total[here] += share.weight[..., None]
        return np.rint(values / np.maximum(total, 1.0 / 256.0))

    def _warped(self, level: int, share: _Share) -> Values:
        return warp(self.frames, share.placed.number, level, share.x, share.y)

    def _coarser(self, level: int, share: _Share) -> Values:
        around = coarser_window(share.window)
        return enlarged(self._padded(level + 1, around, share.placed), around, share.window)

    def _padded(self, level: int, window: Window, placed: Placed) -> Values:
        """A frame warped to `window` of `level`; past the level's edge its edge goes on."""
        width, height = self.layout.size_at(level)
        across = Window(window.left, 0, window.right, height)
        valid = window.within(across if self.layout.full_turn else Window(0, 0, width, height))
        values = warp(self.frames, placed.number, level, *placed.mapping.over(level, valid))
        return np.pad(
            values,
            (
                (valid.top - window.top, window.bottom - valid.bottom),
                (valid.left - window.left, window.right - valid.right),
                (0, 0),
            ),
            mode="edge",
        )

    def _shares(self, level: int, window: Window) -> tuple[list[_Share], Mask]:
        """Who is in charge: every frame's weight in the block, and what is covered.

        The outlines decide among the frames that cover a pixel; where none of those near it
        does, the first that covers it; where none covers it, the outlines alone.
        """
        around = window.grown(2)
        contest = _Contest.over(around)
        present = self.outlines.present(level, around)
        for placed in self.placed.touching(level, around):
            if placed.number in present:
                part = placed.at(level).within(around)
                claim = self.outlines.claim(level, part, placed.number)
                contest.enter(level, placed, part, claim)
        # Grown, so that the smoothed weights of what is won there find their room.
        open_part = contest.uncovered(margin=2)
        for placed in self.placed.touching(level, open_part):
            contest.enter(level, placed, placed.at(level).within(open_part), None)
        shares = []
        for place, entry in enumerate(contest.entries):
            inner = entry.window.within(window)
            if inner.empty:
                continue
            mine = contest.owner[_inside(entry.window, around)] == place
            weight = smoothed(mine.astype(np.float32))
            part = _bounds(weight[_inside(inner, entry.window)] > 0.0, inner)
            if not part.empty:
                here = _inside(part, entry.window)
                shares.append(
                    _Share(entry.placed, part, weight[here], entry.x[here], entry.y[here])
                )
        return shares, contest.covered()[2:-2, 2:-2]


@dataclass(frozen=True, slots=True)
class _Entry:
    placed: Placed
    window: Window
    x: Values
    y: Values


@dataclass(frozen=True, slots=True)
class _Contest:
    """Pixel by pixel, which entry is in charge of `window`: the best claim, covering first."""

    window: Window
    best: Values
    owner: NDArray[np.int32]
    entries: list[_Entry]

    @classmethod
    def over(cls, window: Window) -> _Contest:
        shape = (window.height, window.width)
        return cls(window, np.zeros(shape, np.float32), np.full(shape, -1, np.int32), [])

    def enter(self, level: int, placed: Placed, part: Window, claim: Values | None) -> None:
        """Let a frame win what it can of `part`; without a claim, only what is uncovered."""
        x, y = placed.mapping.over(level, part)
        covering = covers(placed.mapping, level, x, y)
        here = _inside(part, self.window)
        best = self.best[here]
        if claim is None:
            offer = np.where(covering & (best < _COVERED), np.float32(_COVERED), np.float32(0.0))
        else:
            offer = np.where(claim > 0.0, claim + _COVERED * covering, np.float32(0.0))
        wins = offer > best
        if wins.any():
            best[wins] = offer[wins]
            self.owner[here][wins] = len(self.entries)
            self.entries.append(_Entry(placed, part, x, y))

    def covered(self) -> Mask:
        covered: Mask = self.best >= _COVERED
        return covered

    def uncovered(self, margin: int) -> Window:
        """The window around all pixels that no entry covers; empty where every one is."""
        bare = self.best < _COVERED
        if not bare.any():
            return Window(0, 0, 0, 0)
        return _bounds(bare, self.window).grown(margin).within(self.window)


def coarser_window(window: Window) -> Window:
    """The window of the next level that a block is built on: one pixel more all round.

    It may reach past the level's edge, where the edge goes on (or the turn comes round).
    """
    return Window(
        (window.left >> 1) - 1,
        (window.top >> 1) - 1,
        -(-window.right >> 1) + 1,
        -(-window.bottom >> 1) + 1,
    )


def enlarged(coarser: Values, at: Window, wanted: Window) -> Values:
    """Twice as large, bilinearly: `coarser` is `at` of one level, the result `wanted` of the next.

    Pixels keep their edges, so the weights are 9, 3, 3 and 1 sixteenths; rounded to whole steps.
    """
    twice = cv2.resize(coarser, None, fx=2, fy=2, interpolation=cv2.INTER_LINEAR)
    whole = Window(2 * at.left, 2 * at.top, 2 * at.right, 2 * at.bottom)
    return np.asarray(np.rint(twice[_inside(wanted, whole)]), np.float32)


def warp(frames: Frames, number: int, level: int, x: Values, y: Values) -> Values:
    """A frame's pixels at places x, y (height, width) of its `level`; its edge goes on outside.

    Lanczos (8 × 8) for the full picture; cubic for its smaller levels, which are means already
    and for which four times the work shows nothing.
    """
    width, height = frames.size(level)
    needed = Window(
        int(np.floor(np.clip(x.min(), 0, width - 1))) - _KERNEL,
        int(np.floor(np.clip(y.min(), 0, height - 1))) - _KERNEL,
        int(np.floor(np.clip(x.max(), 0, width - 1))) + _KERNEL + 1,
        int(np.floor(np.clip(y.max(), 0, height - 1))) + _KERNEL + 1,
    ).within(Window(0, 0, width, height))
    pixels = frames.part(number, level, needed)
    warped = cv2.remap(
        pixels,
        x - np.float32(needed.left),
        y - np.float32(needed.top),
        cv2.INTER_LANCZOS4 if level == 0 else cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(warped, np.float32)


def covers(mapping: FrameMap, level: int, x: Values, y: Values) -> Mask:
    """Where places x, y of a frame's `level` lie inside the frame."""
    unit = float(1 << (level + mapping.base))
    right, bottom = mapping.lens.width_px / unit - 0.5, mapping.lens.height_px / unit - 0.5
    inside: Mask = (x >= -0.5) & (x <= right) & (y >= -0.5) & (y <= bottom)
    return inside


def _inside(part: Window, whole: Window) -> tuple[slice, slice]:
    return (
        slice(part.top - whole.top, part.bottom - whole.top),
        slice(part.left - whole.left, part.right - whole.left),
    )


def _bounds(mask: Mask, window: Window) -> Window:
    """The smallest part of `window` with all true pixels of a mask over it; may be empty."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not rows.size:
        return Window(window.left, window.top, window.left, window.top)
    return Window(
        window.left + int(columns[0]),
        window.top + int(rows[0]),
        window.left + int(columns[-1]) + 1,
        window.top + int(rows[-1]) + 1,
    )
