"""Frames at every level: decoded, shrunk, remembered while they are needed."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.compose.light import Corrected, Rings, correct, gain_table, make_rings
from belvedere.compose.model import Window
from belvedere.compose.ports import Scratch
from belvedere.foundation import CardError, Progress, Steps
from belvedere.measure import FrameSource
from belvedere.optics import LensModel
from belvedere.orient import Orientation

Pixels = NDArray[np.uint8]

_HALVING = np.array([-1, -1, 5, 13, 13, 5, -1, -1], np.float32) / 32.0
#: Correction tables kept, of 0.4 MB each.
_TABLES = 64


@dataclass(frozen=True, slots=True)
class _Lit:
    """A frame at one level with the table that brings it to the mosaic's light."""

    rgb: Pixels
    table: Corrected


class FrameStore:
    """Frames at levels 0 (full size) to `levels`, by their number in the orientation.

    Level 0 is decoded from the source when it is asked for; the others are shrunk once and wait
    in the scratch. What was used last stays in memory, up to `budget_bytes`. With a `base` the
    levels that others name begin so many halvings further down.
    """

    def __init__(
        self,
        orientation: Orientation,
        source: FrameSource,
        scratch: Scratch,
        levels: int,
        budget_bytes: int,
        base: int = 0,
    ) -> None:
        self._orientation = orientation
        self._source = source
        self._scratch = scratch
        self._base = base
        self._levels = levels + base
        self._budget_bytes = budget_bytes
        self._rings: list[Rings] = [
            make_rings(orientation.lens, orientation.falloff, 1 << k)
            for k in range(levels + base + 1)
        ]
        self._kept: OrderedDict[tuple[int, int], _Lit] = OrderedDict()
        self._kept_bytes = 0
        self._lock = threading.Lock()
        self._busy: dict[tuple[int, int], threading.Lock] = {}
        self._table = lru_cache(maxsize=_TABLES)(self._made_table)

    def prepare(self) -> Steps[None]:
        """Decode every frame once and put its coarser levels into the scratch."""
        lens = self._orientation.lens
        frames = self._orientation.frames
        for k in range(1, self._levels + 1):
            height, width = _shrunk_size(lens, k)
            self._scratch.create(f"frames-{k}", (len(frames), height, width, 3), np.uint8)
        for number, frame in enumerate(frames):
            yield Progress("read the frames", number, len(frames), "frames", frame.file)
            shrunk = self._decoded(number)
            for k in range(1, self._levels + 1):
                shrunk = halved(shrunk)
                self._scratch.write(f"frames-{k}", (number,), shrunk)
        yield Progress("read the frames", len(frames), len(frames), "frames")

    def size(self, level: int) -> tuple[int, int]:
        """Width and height of a frame at `level`."""
        height, width = _shrunk_size(self._orientation.lens, level + self._base)
        return width, height

    def part(self, number: int, level: int, window: Window) -> Corrected:
        """A window of a frame in the mosaic's light; see `light.correct`."""
        lit = self._lit(number, level + self._base)
        inside = np.s_[window.top : window.bottom, window.left : window.right]
        ring = self._rings[level + self._base].number
        return correct(
            np.ascontiguousarray(lit.rgb[inside]),
            lit.table,
            None if ring is None else ring[inside],
        )

    def forget(self) -> None:
        """Empty the memory."""
        with self._lock:
            self._kept.clear()
            self._kept_bytes = 0

    def _lit(self, number: int, level: int) -> _Lit:
        key = (number, level)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
            busy = self._busy.setdefault(key, threading.Lock())
        with busy:
            with self._lock:
                if key in self._kept:
                    return self._kept[key]
            lit = self._load(number, level)
            with self._lock:
                self._keep(key, lit)
                self._busy.pop(key, None)
        return lit

    def _load(self, number: int, level: int) -> _Lit:
        rgb = (
            self._decoded(number)
            if level == 0
            else self._scratch.read(f"frames-{level}", (number,))
        )
        return _Lit(rgb, self._table(number))

    def _made_table(self, number: int) -> Corrected:
        """A frame's table: the same at every level."""
        return gain_table(self._orientation.frames[number].gain, self._rings[0].ratios)

    def _keep(self, key: tuple[int, int], lit: _Lit) -> None:
        self._kept[key] = lit
        self._kept_bytes += lit.rgb.nbytes
        while self._kept_bytes > self._budget_bytes and len(self._kept) > 1:
            _, old = self._kept.popitem(last=False)
            self._kept_bytes -= old.rgb.nbytes

    def _decoded(self, number: int) -> Pixels:
        lens = self._orientation.lens
        file = self._orientation.frames[number].file
        rgb = self._source.colour(file)
        if rgb.shape[:2] != (lens.height_px, lens.width_px):
            raise CardError(
                f"{file} has {rgb.shape[1]} × {rgb.shape[0]} px, the other frames "
                f"{lens.width_px} × {lens.height_px} px.",
                "Frames of one mosaic must have one size: take it out of the folder.",
            )
        return rgb


def _shrunk_size(lens: LensModel, level: int) -> tuple[int, int]:
    return -(-lens.height_px >> level), -(-lens.width_px >> level)


def halved(rgb: Pixels) -> Pixels:
    """A picture at half its size, rounded up; its edge goes on to fill the last row and column.

    Eight taps that keep what is coarse (0.95 at half the new Nyquist frequency) and let little
    of what is finer fold back. Frames of the same scene must look alike when shrunk, however
    their pixels fall: means of 2 × 2 pixels left errors of 2.5 grey levels beside seams near
    strong edges, these leave 0.8 (bench/mosaic_truth.py).
    """
    whole = cv2.sepFilter2D(
        rgb, -1, _HALVING, _HALVING, anchor=(3, 3), borderType=cv2.BORDER_REPLICATE
    )
    return np.ascontiguousarray(whole[::2, ::2])
