"""The card that the check's speed is measured on: a wide painted plain, cut into frames.

No frame repeats another, files are as large as a camera's, and making 200 frames of 12 MP takes
two minutes. A frame's place is the plan's, but for a few pixels that the head errs.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.imagefiles import encode_as
from belvedere.rehearse import FileStyle
from belvedere.shoot import Settings, make_plan, parse_shoot

SENSOR_WIDTH_MM, OVERLAP, INTERVAL_S = 7.44, 0.30, 4.0
#: For each column: the plain is flat, so the whole view must stay near the horizon.
_FOCAL_LENGTH_MM = 5.0
#: Distances between the knots of the noise, px, and their strength in grey levels.
_OCTAVES = ((3, 16.0), (11, 18.0), (47, 22.0), (211, 26.0))
_HEAD_ERROR_PX = 6.0
_NOISE = 2.6
_SEED = 6

Grey = NDArray[np.uint8]
FloatImage = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Card:
    """A card to make: its grid, the size of its frames, and if their files have thumbnails."""

    folder: Path
    rows: int
    columns: int
    width_px: int
    height_px: int
    quality: int
    thumbnails: bool = True

    @property
    def focal_length_mm(self) -> float:
        """Long enough for the view to be 30° wide, however many columns there are."""
        return _FOCAL_LENGTH_MM * self.columns

    @property
    def frames(self) -> int:
        """How many files it holds."""
        return self.rows * self.columns

    @property
    def shoot(self) -> Path:
        """The shoot file beside it."""
        return self.folder / "shoot.toml"

    @property
    def files(self) -> Path:
        """The folder of the frames."""
        return self.folder / "card"


def make(card: Card, workers: int = 2) -> None:
    """Make the card, unless it is there."""
    done = card.folder / "made"
    if done.exists():
        return
    card.files.mkdir(parents=True, exist_ok=True)
    card.shoot.write_text(_shoot_toml(card), "utf-8")
    print(f"making {card.frames} frames of {card.width_px} × {card.height_px} px", flush=True)
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        list(pool.map(_write, [card] * card.frames, range(card.frames), chunksize=4))
    done.touch()


def _shoot_toml(card: Card) -> str:
    px_per_deg = _px_per_deg(card)
    across = card.width_px / px_per_deg * (card.columns - (card.columns - 1) * OVERLAP)
    down = card.height_px / px_per_deg * (card.rows - (card.rows - 1) * OVERLAP)
    return f"""[shoot]
title = "Saltmere, a card for the stopwatch"

[camera]
sensor_width_mm = {SENSOR_WIDTH_MM}
image_width_px = {card.width_px}
image_height_px = {card.height_px}

[lens]
focal_length_mm = {card.focal_length_mm}

[grid]
left_deg = {-across / 2.0:.3f}
right_deg = {across / 2.0:.3f}
top_deg = {down / 2.0:.3f}
bottom_deg = {-down / 2.0:.3f}
overlap = {OVERLAP}
rows = {card.rows}
columns = {card.columns}

[sweep]
order = "rows"
start = "top-left"
serpentine = false
interval_s = {INTERVAL_S}
"""


def _px_per_deg(card: Card) -> float:
    field_deg = 2.0 * np.degrees(np.arctan(SENSOR_WIDTH_MM / 2.0 / card.focal_length_mm))
    return float(card.width_px / field_deg)


@cache
def _knots(card: Card) -> tuple[Grey, ...]:
    rng = np.random.default_rng(_SEED)
    wide, high = card.columns * card.width_px, card.rows * card.height_px
    return tuple(
        rng.integers(0, 256, (high // step + 8, wide // step + 8), dtype=np.uint8)
        for step, _ in _OCTAVES
    )


@cache
def _grain(card: Card) -> FloatImage:
    rng = np.random.default_rng(_SEED + 1)
    shape = (card.height_px + 500, card.width_px + 500)
    return _NOISE * rng.standard_normal(shape, dtype=np.float32)


@cache
def _places(card: Card) -> NDArray[np.intp]:
    """Left and top pixel of each frame, in the order of the sweep."""
    plan = make_plan(parse_shoot(_shoot_toml(card), "speed"))
    degrees = np.array([(cell.bearing_deg, -cell.elevation_deg) for cell in plan.cells])
    rng = np.random.default_rng(_SEED + 2)
    places = (degrees - degrees.min(axis=0)) * _px_per_deg(card)
    error = np.clip(rng.normal(0.0, _HEAD_ERROR_PX, places.shape), -20.0, 20.0)
    return np.asarray(np.round(places + error + 24.0), dtype=np.intp)


def _octave(card: Card, number: int, left: int, top: int) -> FloatImage:
    """One octave of the plain, about -1 to 1, as seen in the frame at (left, top)."""
    step, _ = _OCTAVES[number]
    knots = _knots(card)[number]
    x, y = left // step, top // step
    high, wide = card.height_px // step + 5, card.width_px // step + 5
    near = knots[y : y + high, x : x + wide].astype(np.float32) / 128.0 - 1.0
    matrix = np.array(
        [[1.0 / step, 0.0, left / step - x + 1.0], [0.0, 1.0 / step, top / step - y + 1.0]]
    )
    near = np.pad(near, 1, mode="edge")
    size = (card.width_px, card.height_px)
    seen = cv2.warpAffine(near, matrix, size, flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP)
    return np.asarray(seen, dtype=np.float32)


def _write(card: Card, number: int) -> None:
    cv2.setNumThreads(1)
    left, top = (int(v) for v in _places(card)[number])
    rng = np.random.default_rng([_SEED, number])
    octaves = [_octave(card, n, left, top) for n in range(len(_OCTAVES))]
    walls = 24.0 * np.sign(octaves[2])
    busy = np.clip(0.55 + 0.9 * octaves[3], 0.15, 1.0)
    luma = 118.0 + walls * busy + _OCTAVES[3][1] * octaves[3]
    for octave, (_, strength) in zip(octaves[:3], _OCTAVES[:3], strict=True):
        luma += strength * busy * octave
    luma = cv2.GaussianBlur(luma.astype(np.float32), (0, 0), 0.7)
    y, x = rng.integers(0, 500, 2)
    luma = luma * np.float32(2.0 ** rng.normal(0.0, 0.01))
    luma += _grain(card)[y : y + card.height_px, x : x + card.width_px]
    tint = 14.0 * octaves[3]
    picture = cv2.merge([luma + tint, luma, luma - tint])
    picture = cv2.convertScaleAbs(np.clip(picture, 0.0, 255.0))
    content = encode_as(
        FileStyle(maker="Harbour Optical", model="HO-1", has_thumbnail=card.thumbnails),
        np.asarray(picture, dtype=np.uint8),
        Settings(
            exposure_time_s=1 / 250, f_number=8.0, iso=100.0, focal_length_mm=card.focal_length_mm
        ),
        datetime(2026, 5, 4, 10, 0, 0) + timedelta(seconds=INTERVAL_S * number),
        quality=card.quality,
    )
    (card.files / f"PIC_{number + 1:04d}.JPG").write_bytes(content)
