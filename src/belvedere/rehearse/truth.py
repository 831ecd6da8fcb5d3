"""The truth about a rehearsal as a document, schema belvedere/truth/1."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import numpy as np
from scipy.spatial.transform import Rotation

from belvedere.optics import LensModel
from belvedere.rehearse.camera import CameraTraits
from belvedere.rehearse.faults import STATES, Fault, Place, TrialPictures
from belvedere.rehearse.head import HeadTraits
from belvedere.rehearse.rehearsal import Rehearsal, Shot
from belvedere.rehearse.stated import card_number
from belvedere.sphere import bearing_elevation_roll

SCHEMA = "belvedere/truth/1"

#: Gravest first, in the words and the order of the check.
_GRAVITY = ("missing", "corrupt", "soft", "shaken", "exposure", "colour", "good")


@dataclass(frozen=True, slots=True)
class CardEnd:
    """Where a card ended, so that the next one can go on from there."""

    seed: int
    scene: str
    head: HeadTraits
    last_number: int
    last_release: datetime


def card_end(document: Mapping[str, Any]) -> CardEnd:
    """The end of the card that a truth document tells of.

    Raises
    ------
    KeyError, TypeError, ValueError, IndexError
        Where it is no such document.
    """
    if document["schema"] != SCHEMA:
        raise ValueError(document["schema"])
    head = {name: float(document["head"][name]) for name in HeadTraits.__dataclass_fields__}
    return CardEnd(
        int(document["seed"]),
        str(document["scene"]),
        HeadTraits(**head),
        card_number(document["frames"][-1]["file"]),
        datetime.fromisoformat(document["frames"][-1]["taken_at"]),
    )


def truth_document(
    rehearsal: Rehearsal, taken: Sequence[Shot], files: Mapping[int, str], scene: str
) -> dict[str, Any]:
    """Everything that is true about a card, ready for JSON.

    Parameters
    ----------
    taken
        The shots of `rehearsal`.
    files
        File number to the path relative to the card.
    scene
        What was looked at, in words.
    """
    return {
        "schema": SCHEMA,
        "title": rehearsal.plan.shoot.title,
        "scene": scene,
        "seed": rehearsal.seed,
        "start": rehearsal.start.isoformat(),
        "camera": _camera(rehearsal.camera, rehearsal.lens()),
        "head": {
            **asdict(rehearsal.head),
            "base_from_world": _matrix(rehearsal.base()),
        },
        "faults": [_fault(fault) for fault in rehearsal.faults],
        "frames": [_frame(shot, files[shot.number], rehearsal) for shot in taken],
        "cells": _cells(rehearsal, taken, files),
    }


def _camera(traits: CameraTraits, lens: LensModel) -> dict[str, Any]:
    return {
        "lens": asdict(lens),
        "corner_falloff_ev": traits.corner_falloff_ev,
        "full_well_e": traits.full_well_e,
        "read_noise_e": traits.read_noise_e,
        "lens_blur_px": traits.lens_blur_px,
    }


def _fault(fault: Fault) -> dict[str, Any]:
    name = type(fault).__name__
    said = {key: value for key, value in asdict(fault).items() if key != "cell"}
    if isinstance(fault, TrialPictures):
        return {"kind": name, "state": None, "cell": None, **said}
    return {"kind": name, "state": STATES.get(type(fault)), "cell": _place(fault.cell), **said}


def _frame(shot: Shot, file: str, rehearsal: Rehearsal) -> dict[str, Any]:
    bearing, elevation, roll = bearing_elevation_roll(shot.camera_from_world)
    exposure = shot.exposure
    return {
        "file": file,
        "role": shot.role,
        "cell": _place(shot.cell),
        "sent_to": _place(shot.sent_to),
        "bearing_deg": bearing,
        "elevation_deg": elevation,
        "roll_deg": roll,
        "camera_from_world": _matrix(shot.camera_from_world),
        "quaternion_xyzw": [
            float(part) for part in Rotation.from_matrix(shot.camera_from_world).as_quat()
        ],
        "exposure_ev": exposure.ev,
        "white_balance_gains": list(exposure.white_balance),
        "defocus_px": exposure.blur.defocus_px,
        "motion_px": exposure.blur.motion_px,
        "motion_direction_deg": exposure.blur.motion_direction_deg,
        "kept_share": shot.kept,
        "stated_exposure_s": shot.stated_exposure_s,
        "taken_at": shot.taken_at.isoformat(timespec="microseconds"),
        "wrong": frame_states(shot, rehearsal.camera),
    }


def frame_states(shot: Shot, traits: CameraTraits) -> list[str]:
    """What is wrong with a frame, in the check's words for states; gravest first.

    An exposure is wrong from a sixth of a stop (or six times the usual jitter, if more).
    """
    wrong = set()
    if shot.kept < 1.0:
        wrong.add("corrupt")
    if shot.exposure.blur.defocus_px > 0.0:
        wrong.add("soft")
    if shot.exposure.blur.motion_px > 0.0:
        wrong.add("shaken")
    if abs(shot.exposure.ev) > max(1.0 / 6.0, 6.0 * traits.gain_jitter_ev):
        wrong.add("exposure")
    if shot.exposure.white_balance != (1.0, 1.0, 1.0):
        wrong.add("colour")
    return sorted(wrong, key=_GRAVITY.index)


def _cells(
    rehearsal: Rehearsal, taken: Sequence[Shot], files: Mapping[int, str]
) -> list[dict[str, Any]]:
    """What happened to each cell that was visited; the best of its frames counts."""
    cells = []
    for cell in rehearsal.visited():
        frames = [shot for shot in taken if shot.cell == (cell.row, cell.column)]
        states = [
            min([*frame_states(shot, rehearsal.camera), "good"], key=_GRAVITY.index)
            for shot in frames
        ]
        cells.append(
            {
                "row": cell.row,
                "column": cell.column,
                "bearing_deg": cell.bearing_deg,
                "elevation_deg": cell.elevation_deg,
                "state": max(states, key=_GRAVITY.index, default="missing"),
                "files": [files[shot.number] for shot in frames],
            }
        )
    return cells


def _place(place: Place | None) -> list[int] | None:
    return None if place is None else list(place)


def _matrix(matrix: np.ndarray[Any, np.dtype[np.float64]]) -> list[list[float]]:
    return [[float(value) for value in row] for row in matrix]
