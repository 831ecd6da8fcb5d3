"""The truth about a rehearsal as a document, schema belvedere/truth/1."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from scipy.spatial.transform import Rotation

from belvedere.optics import LensModel
from belvedere.rehearse.camera_model import CameraTraits, FrameRecord
from belvedere.rehearse.driving import stance_at_end
from belvedere.rehearse.faults import (
    KINDS,
    STATES,
    Dust,
    Fault,
    LostRow,
    Place,
    TrialPictures,
    at_work,
    never_released,
)
from belvedere.rehearse.head import HeadTraits, Stance
from belvedere.rehearse.makers import FILE_STYLES, FileStyle
from belvedere.rehearse.recording import LostRelease, Recorded
from belvedere.rehearse.rehearsal import Rehearsal
from belvedere.rehearse.shot import Shot
from belvedere.rehearse.shutter_chain import ChainTraits
from belvedere.rehearse.stated import card_number
from belvedere.rehearse.states import GRAVITY, Usual, frame_states, usual_of
from belvedere.sphere import bearing_elevation_roll

SCHEMA = "belvedere/truth/1"


@dataclass(frozen=True, slots=True)
class CardEnd:
    """Where a card ended, so that the next one can go on from there."""

    seed: int
    scene: str
    head: HeadTraits
    last_number: int
    last_release: datetime
    began: datetime
    files: str | None
    stands: Stance | None
    hazards: tuple[str, ...]
    grains: int


def card_end(document: Mapping[str, Any]) -> CardEnd:
    """The end of the card that a truth document tells of.

    Raises
    ------
    KeyError, TypeError, ValueError, IndexError
        Where it is no such document.
    """
    if document["schema"] != SCHEMA:
        raise ValueError(document["schema"])
    told = {key: value for key, value in document["head"].items() if key != "base_from_world"}
    # Cards of earlier rehearsals do not say their last number; their files are named as usual.
    last = document.get("last_number") or card_number(document["frames"][-1]["file"])
    return CardEnd(
        int(document["seed"]),
        str(document["scene"]),
        HeadTraits(**{name: float(value) for name, value in told.items()}),
        int(last),
        datetime.fromisoformat(document["frames"][-1]["taken_at"]),
        datetime.fromisoformat(document.get("began", document["start"])),
        document.get("files"),
        _stance(document.get("left_standing")),
        tuple(str(name) for name in document.get("hazards", ())),
        sum(int(f["grains"]) for f in document["faults"] if f["kind"] == Dust.__name__),
    )


def _stance(told: Mapping[str, Any] | None) -> Stance | None:
    if told is None:
        return None
    pan, tilt = told["behind_deg"]
    return Stance(
        tuple(tuple(float(x) for x in row) for row in told["base_from_world"]),
        (float(pan), float(tilt)),
    )


def truth_document(
    rehearsal: Rehearsal, card: Recorded, files: Mapping[int, str], scene: str
) -> dict[str, Any]:
    """Everything that is true about a card, ready for JSON.

    Parameters
    ----------
    card
        What `rehearsal` left on it.
    files
        File number to the path relative to the card.
    scene
        What was looked at, in words.
    """
    usual = usual_of(card.shots, card.records)
    document: dict[str, Any] = {
        "schema": SCHEMA,
        "title": rehearsal.plan.shoot.title,
        "scene": scene,
        "seed": rehearsal.seed,
        "start": rehearsal.start.isoformat(),
        "began": (rehearsal.began or rehearsal.start).isoformat(),
        "camera": _camera(rehearsal.camera, rehearsal.lens()),
        "head": {
            **asdict(rehearsal.head),
            "base_from_world": _matrix(rehearsal.base()),
        },
        "left_standing": asdict(stance_at_end(rehearsal)),
        "chain": _chain(rehearsal.camera_chain()),
        "files": _style_name(rehearsal.style),
        "last_number": max(files),
        "hazards": list(rehearsal.hazards),
        "crowd": rehearsal.crowd,
        "faults": [_fault(fault) for fault in rehearsal.faults],
        "frames": [_frame(shot, files[shot.number], rehearsal, card, usual) for shot in card.shots],
        "cells": _cells(rehearsal, card, files, usual),
        "lost": [_lost(release) for release in card.lost],
    }
    if card.empty_entry is not None:
        document["empty_entry"] = files[card.empty_entry]
    return document


def _chain(chain: ChainTraits) -> dict[str, Any]:
    """The chain's figures; a card of endless rate has none."""
    told = asdict(chain)
    if np.isinf(chain.write_bytes_per_s):
        told["write_bytes_per_s"] = None
    return told


def _style_name(style: FileStyle) -> str | None:
    """The word that asks for this way of writing files; None for one of its own."""
    digits = style.subsecond_digits
    named = (name for name, one in FILE_STYLES.items() if _with_digits(one, digits) == style)
    return next(named, None)


def _with_digits(style: FileStyle, digits: int) -> FileStyle:
    return replace(style, subsecond_digits=digits)


def _lost(release: LostRelease) -> dict[str, Any]:
    return {
        "cell": _place(release.cell),
        "asked_at": release.asked_at.isoformat(timespec="microseconds"),
        "why": release.why,
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
    if isinstance(fault, TrialPictures | LostRow | Dust):
        return {"kind": name, "state": STATES.get(type(fault)), "cell": None, **said}
    return {"kind": name, "state": STATES.get(type(fault)), "cell": _place(fault.cell), **said}


def _frame(
    shot: Shot, file: str, rehearsal: Rehearsal, card: Recorded, usual: Usual
) -> dict[str, Any]:
    bearing, elevation, roll = bearing_elevation_roll(shot.camera_from_world)
    exposure, record = shot.exposure, card.records.get(shot.number)
    shown = rehearsal.style.clock.shows(shot.taken_at, rehearsal.began or rehearsal.start)
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
        "asked_at": shot.asked_at.isoformat(timespec="microseconds"),
        "taken_at": shot.taken_at.isoformat(timespec="microseconds"),
        "shown_at": shown.isoformat(timespec="microseconds"),
        "illumination_ev": shot.conditions.illumination_ev,
        "illuminant_gains": list(shot.conditions.illuminant),
        **({} if record is None else _used(record)),
        "wrong": frame_states(shot, rehearsal.camera, record, usual),
        "happened": _happened(rehearsal, shot),
    }


def _used(record: FrameRecord) -> dict[str, Any]:
    """What the camera really did."""
    return {
        "exposure_s": record.exposure_s,
        "f_number": record.f_number,
        "iso": record.iso,
        "picture_ev": record.ev,
        "used_white_balance_gains": list(record.white_balance),
        "focus_m": _finite(record.focus_m),
        "focus_s": record.focus_s,
        "focus_found": record.focus_found,
        "depth_blur_px": list(record.defocus_px),
        "kernel": asdict(record.kernel),
    }


def _happened(rehearsal: Rehearsal, shot: Shot) -> list[str]:
    """The faults that were at work on a frame, in the words that ask for them."""
    words = [KINDS[Dust]] if shot.conditions.dust_grains else []
    if shot.role == "given up" or shot.sent_to is None:
        return words
    places = [(cell.row, cell.column) for cell in rehearsal.visited()]
    visited = places[: places.index(shot.sent_to) + 1]
    return [KINDS[type(fault)] for fault in at_work(rehearsal.faults, visited)] + words


def _cells(
    rehearsal: Rehearsal, card: Recorded, files: Mapping[int, str], usual: Usual
) -> list[dict[str, Any]]:
    """What happened to each cell that was visited; the best of its frames counts."""
    frames: dict[Place | None, list[Shot]] = {}
    for shot in card.shots:
        frames.setdefault(shot.cell, []).append(shot)
    cut_off = _cut_off(card, files)
    cells = []
    for cell in rehearsal.visited():
        place = (cell.row, cell.column)
        states = [
            frame_states(shot, rehearsal.camera, card.records.get(shot.number), usual)
            for shot in frames.get(place, [])
        ]
        gravest = [(wrong or ["good"])[0] for wrong in states]
        entry = [cut_off[1]] if cut_off is not None and cut_off[0] == place else []
        gravest += ["corrupt" for _ in entry]
        cells.append(
            {
                "row": cell.row,
                "column": cell.column,
                "bearing_deg": cell.bearing_deg,
                "elevation_deg": cell.elevation_deg,
                "state": max(gravest, key=GRAVITY.index, default="missing"),
                "files": [files[shot.number] for shot in frames.get(place, [])] + entry,
                "happened": _events(rehearsal, card.lost, place),
            }
        )
    return cells


def _cut_off(card: Recorded, files: Mapping[int, str]) -> tuple[Place | None, str] | None:
    """The cell whose file never came further than an entry without content, and that entry."""
    cells = [release.cell for release in card.lost if release.why == "power pulled"]
    if card.empty_entry is None or not cells:
        return None
    return cells[0], files[card.empty_entry]


def _events(rehearsal: Rehearsal, lost: Sequence[LostRelease], place: Place) -> list[str]:
    """What happened at a cell, in the order of events: faults that began there, lost releases."""
    silent = never_released(rehearsal.visited(), rehearsal.faults).get(place)
    began = [
        KINDS[type(fault)]
        for fault in rehearsal.faults
        if not isinstance(fault, TrialPictures | LostRow | Dust) and fault.cell == place
    ]
    if silent is not None and silent not in began:
        began.append(silent)
    for release in lost:
        if release.cell == place and release.why not in began:
            began.append(release.why)
    return began


def _finite(value: float | None) -> float | None:
    """JSON has no infinity: focus there is told as None, as where nobody looked at focus."""
    return None if value is None or np.isinf(value) else value


def _place(place: Place | None) -> list[int] | None:
    return None if place is None else list(place)


def _matrix(matrix: np.ndarray[Any, np.dtype[np.float64]]) -> list[list[float]]:
    return [[float(value) for value in row] for row in matrix]
