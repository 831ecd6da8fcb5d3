"""Random shoots for the check's bench: plan, camera, head, files and faults from one seed."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from datetime import timedelta
from typing import Literal

import numpy as np

from belvedere.foundation import PlanError
from belvedere.rehearse import (
    FILE_STYLES,
    HAZARDS,
    KINDS,
    CameraClock,
    CameraTraits,
    Fault,
    FileStyle,
    HeadTraits,
    Rehearsal,
    Scene,
    with_hazard,
)
from belvedere.shoot import Plan, make_plan, parse_shoot
from check_faults import draw_faults
from check_scenes import fits, known_kinds, make_scene, moves

#: A frame of about 1 MP on a small sensor; at 30.5 mm it covers 13.9° × 10.5°.
_WIDTH_PX, _HEIGHT_PX, _SENSOR_MM, _USUAL_MM = 1152, 864, 7.44, 30.5
_FEWEST, _MOST = 20, 200
#: Above 1, small grids are more frequent than even in the logarithm: the mean is near 60 cells.
_SMALLER = 1.6
#: A moving scene is looked at with any lens that keeps the grid within these.
_LONGEST_MM, _WIDEST_DEG, _HIGHEST_DEG = 120.0, 150.0, 52.0
_FULL_TURNS, _COUNTS_FREE = 0.04, 0.12
_HAZARD, _TWO_SWEEPS = 0.12, 0.03
#: Days of the bench: a market day is no other for scenes that are made without its crowd.
_DAYS = tuple(name for name in HAZARDS if name != "crowded")
_CLOCK_JUMPS, _CLOCK_SILENT, _ROLLS_OVER, _TURNED = 0.04, 0.03, 0.05, 0.08
_SIDES: tuple[Literal[3], Literal[6], Literal[8]] = (3, 6, 8)
_CORNERS = ("top-left", "top-right", "bottom-left", "bottom-right")
_TRIES = 60


@dataclass(frozen=True, slots=True)
class Case:
    """One rehearsed shoot of the bench; `second` is another sweep on the same card, if any."""

    number: int
    seed: int
    shoot_toml: str
    plan: Plan
    rehearsal: Rehearsal
    scene_name: str
    two_sweeps: bool = False

    def scene(self) -> Scene:
        """What is looked at: it follows from the seed as well."""
        rng = np.random.default_rng([self.seed, self.number, 1])
        return make_scene(self.scene_name, self.plan, rng)

    def words(self) -> dict[str, object]:
        """What a person needs to know about the case to look into it."""
        sweep, grid = self.plan.shoot.sweep, self.plan.shoot.grid
        style = next(
            (name for name, one in FILE_STYLES.items() if one.model == self.rehearsal.style.model),
            "",
        )
        return {
            "cells": len(self.plan.cells),
            "rows": self.plan.rows,
            "full_turn": grid.full_turn,
            "focal_length_mm": self.plan.shoot.lens.focal_length_mm,
            "order": sweep.order,
            "start": sweep.start,
            "serpentine": sweep.serpentine,
            "interval_s": sweep.interval_s,
            "files": style,
            "clock": self.rehearsal.style.clock_tags,
            "hazards": list(self.rehearsal.hazards),
            "two_sweeps": self.two_sweeps,
            "faults": [fault_words(fault) for fault in self.rehearsal.faults],
        }


def fault_words(fault: Fault) -> str:
    """A fault in short: its kind, its cell, its sizes."""
    said = asdict(fault)
    cell = said.pop("cell", None)
    where = "" if cell is None else f" {cell[0]},{cell[1]}"
    sizes = " ".join(f"{key}={value}" for key, value in said.items())
    return f"{KINDS[type(fault)]}{where} {sizes}".strip()


def case(number: int, seed: int) -> Case:
    """The shoot with this number: everything random about it follows from the seed."""
    rng = np.random.default_rng([seed, number])
    text, plan, scene_name = _planned(rng)
    rehearsal = Rehearsal(
        plan,
        _camera(rng),
        _head(rng),
        seed=int(rng.integers(1, 1_000_000)),
        first_number=_first_number(rng),
        style=_style(rng, plan),
    )
    rehearsal = replace(rehearsal, faults=draw_faults(rehearsal, rng))
    if rehearsal.faults and rng.random() < _HAZARD:
        rehearsal = _on_such_a_day(rehearsal, rng)
    two_sweeps = bool(rng.random() < _TWO_SWEEPS) and len(plan.cells) <= 80
    return Case(number, seed, text, plan, rehearsal, scene_name, two_sweeps)


def second_sweep(first: Rehearsal, last_number: int) -> Rehearsal:
    """The same sweep once more, without a fault, some minutes later on the same card."""
    interval_s = first.plan.shoot.sweep.interval_s or 3.0
    later = timedelta(seconds=2.0 * interval_s * len(first.plan.cells) + 240.0)
    return replace(
        first,
        faults=(),
        first_number=last_number + 1,
        start=first.start + later,
        began=first.start,
        hazards=(),
    )


def _planned(rng: np.random.Generator) -> tuple[str, Plan, str]:
    """The shoot file, its plan and a kind of scene that is large enough for it."""
    kinds = known_kinds()
    weights = np.array(list(kinds.values()))
    kind = list(kinds)[int(rng.choice(len(kinds), p=weights / weights.sum()))]
    for attempt in range(_TRIES):
        text = _shoot_toml(rng, kind)
        try:
            plan = make_plan(parse_shoot(text, "bench"))
        except PlanError:
            continue
        if _FEWEST * 0.75 <= len(plan.cells) <= _MOST * 1.1 and fits(kind, plan):
            return text, plan, kind
        if attempt >= _TRIES // 2:
            kind = "harbour"
    raise AssertionError("no plan of the wanted size was found")


def _shoot_toml(rng: np.random.Generator, kind: str) -> str:
    if moves(kind) and rng.random() < _FULL_TURNS:
        focal_mm, grid = _full_turn(rng, kind)
    else:
        focal_mm, grid = _rectangle(rng, kind)
    order = "rows" if rng.random() < 0.6 else "columns"
    serpentine = "true" if rng.random() < 0.5 else "false"
    return f"""[shoot]
title = "Saltmere, a rehearsal of the bench"

[camera]
sensor_width_mm = {_SENSOR_MM}
image_width_px = {_WIDTH_PX}
image_height_px = {_HEIGHT_PX}

[lens]
focal_length_mm = {focal_mm:.1f}

[grid]
{grid}

[sweep]
order = "{order}"
start = "{_CORNERS[int(rng.integers(4))]}"
serpentine = {serpentine}
interval_s = {round(float(rng.uniform(3.0, 8.0)) * 2.0) / 2.0:.1f}
"""


def _rectangle(rng: np.random.Generator, kind: str) -> tuple[float, str]:
    """Focal length in mm, and the [grid] of a rectangle."""
    count = _FEWEST * (_MOST / _FEWEST) ** float(rng.random() ** _SMALLER)
    shape = float(np.exp(rng.uniform(np.log(0.8), np.log(5.0))))
    rows = max(2, round(float(np.sqrt(count / shape))))
    columns = max(3, round(count / rows))
    overlap = float(rng.uniform(0.24, 0.38))
    focal_mm = _focal_mm(rng, kind, rows, columns, overlap)
    fov_across, fov_down = _fov_deg(focal_mm)
    half_across = (columns - (columns - 1) * overlap) * fov_across / 2.0
    half_down = (rows - (rows - 1) * overlap) * fov_down / 2.0
    middle = _middle_deg(rng, kind, 2.0 * half_down)
    fixed = f"rows = {rows}\ncolumns = {columns}"
    if rng.random() < _COUNTS_FREE:
        fixed = ""
    return (
        focal_mm,
        f"""left_deg = {-half_across:.2f}
right_deg = {half_across:.2f}
top_deg = {middle + half_down:.2f}
bottom_deg = {middle - half_down:.2f}
overlap = {overlap - 0.02:.2f}
{fixed}""",
    )


def _full_turn(rng: np.random.Generator, kind: str) -> tuple[float, str]:
    """Focal length in mm, and the [grid] all the way round."""
    focal_mm = float(rng.uniform(13.0, 24.0))
    _, fov_down = _fov_deg(focal_mm)
    rows, overlap = int(rng.integers(2, 5)), float(rng.uniform(0.26, 0.36))
    half_down = (rows - (rows - 1) * overlap) * fov_down / 2.0
    middle = _middle_deg(rng, kind, 2.0 * half_down)
    return (
        focal_mm,
        f"""full_turn = true
top_deg = {middle + half_down:.2f}
bottom_deg = {middle - half_down:.2f}
overlap = {overlap:.2f}""",
    )


def _focal_mm(
    rng: np.random.Generator, kind: str, rows: int, columns: int, overlap: float
) -> float:
    if not moves(kind):
        return _USUAL_MM
    usual_across, usual_down = _fov_deg(_USUAL_MM)
    across = (columns - (columns - 1) * overlap) * usual_across / _WIDEST_DEG
    down = (rows - (rows - 1) * overlap) * usual_down / _HIGHEST_DEG
    shortest = _USUAL_MM * max(0.8, across, down)
    return float(np.exp(rng.uniform(np.log(shortest), np.log(max(shortest, _LONGEST_MM)))))


def _middle_deg(rng: np.random.Generator, kind: str, height_deg: float) -> float:
    """Elevation of the grid's middle: in half-sky grids the horizon is in the lower part."""
    if kind == "harbour, half sky":
        return height_deg * float(rng.uniform(0.1, 0.35))
    if kind == "harbour":
        return height_deg * float(rng.uniform(-0.35, 0.1))
    return float(rng.uniform(-4.0, 4.0))


def _fov_deg(focal_mm: float) -> tuple[float, float]:
    half = np.array([_SENSOR_MM, _SENSOR_MM * _HEIGHT_PX / _WIDTH_PX]) / 2.0
    across, down = 2.0 * np.degrees(np.arctan(half / focal_mm))
    return float(across), float(down)


def _camera(rng: np.random.Generator) -> CameraTraits:
    return CameraTraits(
        focal_length_error=float(rng.uniform(-0.004, 0.004)),
        corner_pull=float(rng.uniform(-0.002, 0.006)),
        corner_falloff_ev=float(rng.uniform(0.1, 0.8)),
        full_well_e=float(rng.uniform(5_000.0, 15_000.0)),
        read_noise_e=float(rng.uniform(3.0, 8.0)),
        lens_blur_px=float(rng.uniform(0.4, 0.65)),
        gain_jitter_ev=float(rng.uniform(0.0, 0.02)),
        jpeg_quality=int(rng.integers(88, 97)),
    )


def _head(rng: np.random.Generator) -> HeadTraits:
    return HeadTraits(
        pointing_error_deg=float(rng.uniform(0.01, 0.05)),
        base_tilt_deg=float(rng.uniform(0.0, 1.5)),
        step_scale_error=float(rng.normal(0.0, 0.001)),
        interval_jitter_s=float(rng.uniform(0.02, 0.15)),
        backlash_deg=float(rng.choice([0.0, 0.05, 0.1])),
    )


def _style(rng: np.random.Generator, plan: Plan) -> FileStyle:
    """How the camera writes its files; at times its clock jumps, or was never set."""
    style = list(FILE_STYLES.values())[int(rng.integers(len(FILE_STYLES)))]
    if rng.random() < 0.3:
        style = replace(style, subsecond_digits=int(rng.integers(0, 4)))
    luck = float(rng.random())
    if luck < _CLOCK_SILENT:
        style = replace(style, clock_tags="none")
    elif luck < _CLOCK_SILENT + _CLOCK_JUMPS:
        at_s = float(rng.uniform(0.2, 0.8)) * 4.0 * len(plan.cells)
        jump_s = float(rng.choice([3600.0, -3600.0, 47.0, -13.0]))
        style = replace(style, clock=CameraClock(jumps=((round(at_s, 1), jump_s),)))
    else:
        style = replace(style, clock=CameraClock(float(rng.choice([0.0, 3600.0, -97.0])), 0.5))
    if rng.random() < _TURNED:
        style = replace(style, orientation=_SIDES[int(rng.integers(3))])
    return style


def _first_number(rng: np.random.Generator) -> int:
    """Number of the first file; at times the numbers pass from 9999 to 0001 in the sweep."""
    if rng.random() < _ROLLS_OVER:
        return int(9999 - rng.integers(1, 20))
    return int(rng.integers(1, 9000))


def _on_such_a_day(rehearsal: Rehearsal, rng: np.random.Generator) -> Rehearsal:
    name = _DAYS[int(rng.integers(len(_DAYS)))]
    try:
        return with_hazard(rehearsal, name)
    except PlanError:
        return rehearsal
