"""The whole way from an orientation to a pyramid: prepare, seams, levels from coarse to fine."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.compose.blend import Blender, Placed, Placements, coarser_window
from belvedere.compose.crop import covered_window
from belvedere.compose.frames import FrameStore
from belvedere.compose.layout import (
    centre_scale_px_per_deg,
    cropped,
    footprints,
    frame_extent,
)
from belvedere.compose.light import STEPS_PER_LEVEL
from belvedere.compose.model import Layout, Window
from belvedere.compose.outlines import map_level
from belvedere.compose.ports import BlockSink, Scratch
from belvedere.compose.seams import find_outlines
from belvedere.compose.warp import frame_map
from belvedere.foundation import Progress, Steps
from belvedere.measure import FrameSource
from belvedere.orient import Orientation

Pixels = NDArray[np.uint8]
Values = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Making:
    """How the work is done.

    `block_px` is the side of a block at every level, `memory_bytes` what decoded frames may
    take, `workers` the number of threads: the pixels depend on none of them. `doubtful` names
    files that should show only where no other does.
    """

    block_px: int = 512
    memory_bytes: int = 512 << 20
    workers: int = max(1, os.cpu_count() or 1)
    doubtful: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Composed:
    """What was made: how many levels, and how much of the rectangle some frame covers."""

    levels: int
    covered_share: float


#: Where no frame covers: a dark grey, which blocks of pixels at the edge do not ring against.
UNCOVERED_RGB = (32, 32, 32)
#: The coarsest blended level has frames about this wide on their short side.
_COARSEST_FRAME_PX = 32.0


def compose(
    orientation: Orientation,
    source: FrameSource,
    layout: Layout,
    sink: BlockSink,
    scratch: Scratch,
    making: Making | None = None,
) -> Steps[Composed]:
    """Render the mosaic, all levels of it, into `sink`.

    Memory: the frames' budget, a few blocks per worker, and the label map (at most 16 MP). In the
    scratch: the frames at half size and smaller (one byte per pixel and colour), and one level
    of the mosaic after the other (two bytes).
    """
    making = making or Making()
    base = shrink_levels(layout, orientation)
    side = min(orientation.lens.width_px, orientation.lens.height_px) / float(1 << base)
    levels = pyramid_levels(layout, sink.tile_px)
    top = max(1, round(float(np.log2(max(2.0, side / _COARSEST_FRAME_PX)))))
    outline_level = map_level(layout, side)
    placements = place_frames(orientation, layout, base)
    frames = FrameStore(
        orientation, source, scratch, max(top, outline_level), making.memory_bytes, base
    )
    yield from frames.prepare()
    doubtful = {n for n, f in enumerate(orientation.frames) if f.file in making.doubtful}
    outlines = yield from find_outlines(layout, placements, frames, outline_level, doubtful)
    frames.forget()
    sink.begin(layout, levels)
    blender = Blender(layout, placements, outlines, frames, top)
    run = _Run(blender, frames, sink, scratch, levels, making)
    covered_share = yield from run.all_levels()
    return Composed(levels, covered_share)


def crop_to_covered(orientation: Orientation, layout: Layout) -> Layout:
    """The part of the layout that is a rectangle without a gap."""
    placements = place_frames(orientation, layout, shrink_levels(layout, orientation))
    return cropped(layout, covered_window(layout, placements))


def shrink_levels(layout: Layout, orientation: Orientation) -> int:
    """How many times frames are halved before they are warped: 0 unless the scale is small."""
    ratio = centre_scale_px_per_deg(orientation.lens) / layout.scale_px_per_deg
    return max(0, round(float(np.log2(ratio))))


def pyramid_levels(layout: Layout, tile_px: int) -> int:
    """Levels until the mosaic fits into one tile."""
    levels = 1
    while max(layout.size_at(levels - 1)) > tile_px:
        levels += 1
    return levels


def place_frames(orientation: Orientation, layout: Layout, base: int = 0) -> Placements:
    """Every frame with its mapping and its footprints."""
    lens = orientation.lens
    return Placements.of(
        [
            Placed(number, footprint, frame_map(layout, lens, frame.rays_from_world, base))
            for number, frame in enumerate(orientation.frames)
            for footprint in footprints(layout, frame_extent(lens, frame.rays_from_world))
        ]
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """One composition under way."""

    blender: Blender
    frames: FrameStore
    sink: BlockSink
    scratch: Scratch
    levels: int
    making: Making

    def all_levels(self) -> Steps[float]:
        """Coarse to fine; returns the share of the mosaic that some frame covers."""
        blended = range(self.blender.top, -1, -1)
        total = sum(1 for level in blended for _ in self._windows(level))
        done, covered_share = 0, 0.0
        for level in blended:
            width, height = self.blender.layout.size_at(level)
            if level > 0:
                self.scratch.create(f"mosaic-{level}", (height, width, 3), np.int16)
            if level == self.blender.top:
                self.scratch.create("covered", (height, width), np.uint8)
            # Each level wants its frames at another size: the last ones' go back first.
            self.frames.forget()
            for _ in self._rendered(level):
                done += 1
                yield Progress("blend", done, total, "blocks", f"level {level}")
            if level == self.blender.top:
                covered_share = self._overviews()
            else:
                self.scratch.drop(f"mosaic-{level + 1}")
        return covered_share

    def _windows(self, level: int) -> Iterator[Window]:
        """The blocks of a level, along its short side: so each frame is needed for a short time.

        In strips, where the frames that a walk along the whole short side needs at once would
        not fit into the memory for them.
        """
        width, height = self.blender.layout.size_at(level)
        side = self.making.block_px
        lefts, tops = range(0, width, side), range(0, height, side)
        if width >= height:
            strip = self._strip_blocks(level, height)
            places = [
                (left, top)
                for first in range(0, len(tops), strip)
                for left in lefts
                for top in tops[first : first + strip]
            ]
        else:
            strip = self._strip_blocks(level, width)
            places = [
                (left, top)
                for first in range(0, len(lefts), strip)
                for top in tops
                for left in lefts[first : first + strip]
            ]
        for left, top in places:
            yield Window(left, top, min(left + side, width), min(top + side, height))

    def _strip_blocks(self, level: int, short_px: int) -> int:
        """How many blocks across a strip the memory for frames allows, about."""
        width, height = self.blender.frames.size(level)
        frames = len(self.blender.placed.placed) * width * height * 3.0 * 1.25
        mosaic = float(np.prod(self.blender.layout.size_at(level), dtype=np.float64))
        long_side, side = float(max(width, height)), self.making.block_px
        allowed = self.making.memory_bytes * mosaic / (frames * (side + long_side)) - long_side
        blocks = -(-short_px // side)
        return int(np.clip(allowed // side, min(2, blocks), blocks))

    def _rendered(self, level: int) -> Iterator[None]:
        """Render a level's blocks on the workers, never more than two each in waiting."""
        waiting: deque[Future[None]] = deque()
        with ThreadPoolExecutor(self.making.workers) as pool:
            try:
                for window in self._windows(level):
                    waiting.append(pool.submit(self._render, level, window))
                    while len(waiting) > 2 * self.making.workers:
                        yield waiting.popleft().result()
                while waiting:
                    yield waiting.popleft().result()
            finally:
                for future in waiting:
                    future.cancel()

    def _render(self, level: int, window: Window) -> None:
        coarser = None
        if level < self.blender.top:
            coarser = self._coarser(level + 1, coarser_window(window))
        block = self.blender.render(level, window, coarser)
        if level > 0:
            self.scratch.write(f"mosaic-{level}", _slices(window), block.values.astype(np.int16))
        if level < self.levels:
            self.sink.put(level, window, finished(block.values, block.covered))
        if level == self.blender.top:
            self.scratch.write("covered", _slices(window), block.covered.astype(np.uint8))

    def _coarser(self, level: int, window: Window) -> Values:
        """Part of a finished level; past its edges the edge goes on, or the turn comes round."""
        layout = self.blender.layout
        width, height = layout.size_at(level)
        inside = window.within(Window(0, 0, width, height))
        values = self.scratch.read(f"mosaic-{level}", _slices(inside))
        left, right = inside.left - window.left, window.right - inside.right
        if layout.full_turn and (left or right):
            rows = slice(inside.top, inside.bottom)
            before = self.scratch.read(f"mosaic-{level}", (rows, slice(width - left, width)))
            after = self.scratch.read(f"mosaic-{level}", (rows, slice(0, right)))
            values = np.concatenate([before, values, after], axis=1)
            left = right = 0
        above, below = inside.top - window.top, window.bottom - inside.bottom
        edges = ((above, below), (left, right), (0, 0))
        return np.pad(values, edges, mode="edge").astype(np.float32)

    def _overviews(self) -> float:
        """The levels above the blended ones, small enough to be halved in memory."""
        top = self.blender.top
        width, height = self.blender.layout.size_at(top)
        whole = Window(0, 0, width, height)
        values = self.scratch.read(f"mosaic-{top}", _slices(whole)).astype(np.float32)
        covered = self.scratch.read("covered", _slices(whole)).astype(np.float32)
        covered_share = float(covered.mean())
        for level in range(top + 1, self.levels):
            values, covered = _halved(values), _halved(covered)
            height, width = covered.shape
            for window in _tiles(width, height, self.making.block_px):
                here = _slices(window)
                self.sink.put(level, window, finished(values[here], covered[here] >= 0.5))
        return covered_share


def finished(values: Values, covered: NDArray[np.bool_]) -> Pixels:
    """Steps to 8-bit RGB; what no frame covers is filled."""
    levels = np.rint(values * np.float32(1.0 / STEPS_PER_LEVEL))
    rgb: Pixels = np.clip(levels, 0, 255).astype(np.uint8)
    rgb[~covered] = UNCOVERED_RGB
    return rgb


def _tiles(width: int, height: int, side: int) -> Iterator[Window]:
    for top in range(0, height, side):
        for left in range(0, width, side):
            yield Window(left, top, min(left + side, width), min(top + side, height))


def _halved(values: Values) -> Values:
    """Means of 2 × 2; the last row and column repeat to fill up."""
    edges = ((0, values.shape[0] % 2), (0, values.shape[1] % 2), (0, 0))[: values.ndim]
    even = np.pad(values, edges, mode="edge")
    size = (even.shape[1] // 2, even.shape[0] // 2)
    return np.asarray(cv2.resize(even, size, interpolation=cv2.INTER_AREA), np.float32)


def _slices(window: Window) -> tuple[slice, slice]:
    return slice(window.top, window.bottom), slice(window.left, window.right)
