"""Synthetic sweeps for the tests of placing: evidence, and small pictures, with known truth."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.check.alignment import Alignment, Ways, align
from belvedere.check.band import Band
from belvedere.check.evidence import Evidence
from belvedere.shoot import Frame, Plan, make_plan, parse_shoot

START = datetime(2031, 5, 17, 10, 20, 0)
WIDTH, HEIGHT = 192, 144


def plan_of(
    rows: int,
    columns: int,
    *,
    overlap: float = 0.3,
    order: str = "rows",
    start: str = "top-left",
    serpentine: bool = False,
    interval_s: float = 3.0,
    lens_mm: float = 40.0,
    width_px: int = WIDTH,
    height_px: int = HEIGHT,
) -> Plan:
    """A plan of `rows` × `columns` cells around the horizon."""
    across = 2.0 * np.degrees(np.arctan(7.44 / 2.0 / lens_mm))
    down = across * height_px / width_px
    wide = across * (1.0 + (columns - 1) * (1.0 - overlap)) * 0.98
    high = down * (1.0 + (rows - 1) * (1.0 - overlap)) * 0.98
    return make_plan(
        parse_shoot(
            f"""
            [shoot]
            title = "Saltmere harbour from the mole"
            [camera]
            sensor_width_mm = 7.44
            image_width_px = {width_px}
            image_height_px = {height_px}
            [lens]
            focal_length_mm = {lens_mm}
            [grid]
            left_deg = {-wide / 2}
            right_deg = {wide / 2}
            top_deg = {high / 2}
            bottom_deg = {-high / 2}
            overlap = {overlap}
            rows = {rows}
            columns = {columns}
            [sweep]
            order = "{order}"
            start = "{start}"
            serpentine = {str(serpentine).lower()}
            interval_s = {interval_s}
            """
        )
    )


@dataclass(frozen=True)
class Shot:
    """One frame of a synthetic sweep: the cell it shows (-1 for none) and when it was taken."""

    cell: int
    second: float


def frames_of(shots: list[Shot], *, whole_seconds: bool = True) -> list[Frame]:
    frames = []
    for number, shot in enumerate(shots, start=401):
        taken_at = START + timedelta(seconds=shot.second)
        if whole_seconds:
            taken_at = taken_at.replace(microsecond=0)
        file = f"PIC_{number:04d}.JPG"
        frames.append(Frame(file, file, 1, WIDTH, HEIGHT, taken_at, not whole_seconds))
    return frames


def texture(seed: int, height: int, width: int) -> NDArray[np.uint8]:
    """Detail at many scales, everywhere."""
    rng = np.random.default_rng(seed)
    picture = np.zeros((height, width), dtype=np.float32)
    for cell in (2, 4, 8, 16, 32):
        noise = rng.normal(0.0, 1.0, (height // cell + 2, width // cell + 2)).astype(np.float32)
        picture += cv2.resize(noise, (width, height), interpolation=cv2.INTER_CUBIC)
    scaled = 128.0 + 40.0 * picture / picture.std()
    return np.clip(scaled, 0, 255).astype(np.uint8)


def pictures_of(
    plan: Plan, shots: list[Shot], seed: int, *, plain_rows: int = 0
) -> list[NDArray[np.uint8]]:
    """Small pictures cut from one flat scene; its top `plain_rows` of the grid are plain."""
    rng = np.random.default_rng([seed, 1])
    scale = plan.scale_px_per_deg
    left = min(c.bearing_deg for c in plan.cells)
    top = max(c.elevation_deg for c in plan.cells)
    width = round((max(c.bearing_deg for c in plan.cells) - left) * scale) + WIDTH + 40
    height = round((top - min(c.elevation_deg for c in plan.cells)) * scale) + HEIGHT + 40
    scene = texture(seed, height, width)
    if plain_rows:
        edge = round((plain_rows - 1) * plan.row_step_deg * scale) + HEIGHT + 24
        scene[:edge] = 170
    pictures = []
    for shot in shots:
        if shot.cell < 0:
            pictures.append(texture(int(rng.integers(1 << 30)), HEIGHT, WIDTH))
            continue
        cell = plan.cells[shot.cell]
        x = round((cell.bearing_deg - left) * scale) + 20 + int(rng.integers(-1, 2))
        y = round((top - cell.elevation_deg) * scale) + 20 + int(rng.integers(-1, 2))
        seen = scene[y : y + HEIGHT, x : x + WIDTH].astype(np.float32)
        noise = rng.normal(0.0, 0.6, seen.shape)
        pictures.append(np.clip(seen + noise, 0, 255).astype(np.uint8))
    return pictures


def evidence_of(
    cells: list[int], count: int, reach: int, rng: np.random.Generator, blind: float
) -> Evidence:
    """Log likelihood ratios as good pictures give them; a share `blind` of pairs say nothing.

    Frame t - 1 at cell a and frame t at cell b support just the move b - a. Frames that are -1
    match nothing.
    """
    frames = len(cells)
    step = np.zeros((frames, reach + 1, count))
    over = np.zeros_like(step)
    for t in range(1, frames):
        for lag, table in ((1, step), (2, over)):
            if t < lag or rng.random() < blind:
                continue
            a, b = cells[t - lag], cells[t]
            seen = rng.normal(-3.0, 0.5, (reach + 1, 1))
            # Only neighbours and repeats overlap; two cells on there is nothing to match.
            seen[2:] = 0.0
            if a >= 0 and 0 <= b - a <= 1:
                seen[b - a] = rng.normal(20.0, 4.0)
            # Over a frame in between it only counts how they overlap, not that they do.
            table[t] = seen if lag == 1 else seen - max(float(seen.max()), 0.0)
    return evidence_from(step, over)


def evidence_from(step: NDArray[np.float64], over: NDArray[np.float64]) -> Evidence:
    """Evidence (T, N + 1, K) of every move by itself, the clock being silent.

    `step` is for frames t - 1 and t, `over` for t - 2 and t.
    """
    frames, reach, count = step.shape
    silent = np.zeros((frames, reach, 1))
    last = np.zeros((frames, 1))
    return Evidence(
        kind=np.arange(reach * count).reshape(reach, count),
        turns=np.zeros((reach, count), dtype=np.int64),
        seen=np.column_stack([step.reshape(frames, -1), last]),
        seen_over=np.column_stack([over.reshape(frames, -1), last]),
        beat=silent,
        beat_over=silent,
        since_repeat=silent,
        apart=np.zeros(frames),
        anew=np.zeros(frames),
    )


def aligned(evidence: Evidence, at: NDArray[np.float64] | None = None) -> Alignment:
    """The alignment over all cells; `at` (T, K) is what else is known of each frame."""
    band = Band.whole(evidence.frames, evidence.cells)
    known = np.zeros(band.cells.shape) if at is None else at
    return align(Ways(evidence, band), known, np.zeros(evidence.frames))


def chances_of(found: Alignment) -> NDArray[np.float64]:
    """The probabilities (T, K) of an alignment."""
    return np.array([found.cell[t] for t in range(len(found.nowhere))])
