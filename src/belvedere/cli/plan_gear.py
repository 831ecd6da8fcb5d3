"""`belvedere plan --sample`, `--find-camera`, `--find-lens`: lines for the shoot file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.text import Text

from belvedere.foundation import PlanError
from belvedere.workflows.gear import (
    MOST_CHOICES,
    CameraChoice,
    as_toml,
    camera_name,
    camera_says,
    camera_unknown,
    find_cameras,
    find_lenses,
    lens_says,
    lens_values,
    sample_values,
    sensor_size_mm,
)
from belvedere.workflows.sample_picture import read_sample

_WIDTH = 78


def print_gear(
    out: Console, camera_query: str | None, lens_query: str | None, sample: Path | None
) -> None:
    """What a sample picture or the database of lenses knows, and what it does not.

    Raises
    ------
    CardError, PlanError
        Where the picture cannot be read, or nothing of that name is known.
    """
    if sample is not None:
        _print_sample(out, sample)
    if camera_query is None and lens_query is not None:
        raise PlanError(
            "A lens is looked up for a camera, as its mount decides.",
            "Add --find-camera with your camera's name.",
        )
    if camera_query is not None:
        camera = _print_cameras(out, camera_query, one_needed=lens_query is not None)
        if lens_query is not None and camera is not None:
            _print_lenses(out, lens_query, camera)


def _print_sample(out: Console, file: Path) -> None:
    sample = read_sample(file)
    _say(out, [*sample.says, *(f"Not known: {says}" for says in sample.unknown)])
    _lines(out, as_toml(sample_values(sample)))


def _print_cameras(out: Console, query: str, one_needed: bool) -> CameraChoice | None:
    found = find_cameras(query)
    if not found:
        raise PlanError(
            f'No camera like "{query}" is in the database.',
            "Give its sizes by hand, or a picture it took with --sample.",
        )
    if len(found) > 1:
        _choices(out, [camera_says(camera) for camera in found], "cameras")
        if one_needed:
            _say(out, ["Give more of the camera's name: which lenses fit depends on it."])
        return None
    camera = found[0]
    _say(out, [camera_says(camera), *(f"Not known: {s}" for s in camera_unknown(camera))])
    out.print()
    _say(
        out,
        [
            f"For a shoot file: a sensor of crop factor {camera.crop_factor:.3g} is "
            f"{_width_mm(camera, 3, 2):.2f} mm wide if its pictures are 3:2, and "
            f"{_width_mm(camera, 4, 3):.2f} mm if they are 4:3."
        ],
    )
    return camera


def _width_mm(camera: CameraChoice, across: int, down: int) -> float:
    return sensor_size_mm(camera.crop_factor, across, down)[0]


def _print_lenses(out: Console, query: str, camera: CameraChoice) -> None:
    found = find_lenses(query, camera)
    if not found:
        raise PlanError(
            f'No lens like "{query}" fits {camera_name(camera)} in the database.',
            "Give its focal length by hand.",
        )
    if len(found) > 1:
        _choices(out, [lens_says(lens) for lens in found], "lenses")
        return
    _say(out, [lens_says(found[0])])
    _lines(out, as_toml(lens_values(found[0])))


def _choices(out: Console, lines: Sequence[str], what: str) -> None:
    _say(out, [f"{len(lines)} {what} go by that name; give more of it to choose:"])
    _say(out, [f"- {line}" for line in lines[:MOST_CHOICES]])
    if len(lines) > MOST_CHOICES:
        _say(out, [f"- and {len(lines) - MOST_CHOICES} more"])


def _say(out: Console, lines: Sequence[str]) -> None:
    for line in lines:
        out.print(Text(line), width=min(out.width, _WIDTH))


def _lines(out: Console, toml: str) -> None:
    out.print()
    out.print(toml.strip(), markup=False, soft_wrap=True)
