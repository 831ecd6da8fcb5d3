"""An orientation as a file: schema ``belvedere/orientation/1``, see docs/orientation.md."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError
from scipy.spatial.transform import Rotation

from belvedere.check import Finding
from belvedere.foundation import StoreError
from belvedere.optics import LensModel
from belvedere.orient import Orientation, OrientedFrame, PairResidual
from belvedere.sphere import bearing_elevation_roll
from belvedere.store import write_json

SCHEMA = "belvedere/orientation/1"

_Number = Annotated[float, Field(allow_inf_nan=False)]
_Three = tuple[_Number, _Number, _Number]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid")


class _Lens(_Strict):
    width_px: Annotated[int, Field(gt=0)]
    height_px: Annotated[int, Field(gt=0)]
    focal_length_px: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    centre_x_px: _Number
    centre_y_px: _Number
    k1: _Number
    k2: _Number
    p1: _Number
    p2: _Number
    k3: _Number


class _Frame(_Strict):
    file: str
    row: Annotated[int, Field(ge=0)]
    column: Annotated[int, Field(ge=0)]
    quaternion_xyzw: tuple[_Number, _Number, _Number, _Number]
    bearing_deg: _Number
    elevation_deg: _Number
    roll_deg: _Number
    bend: tuple[_Three, _Three, _Three] | None = None
    gain: _Three


class _Pair(_Strict):
    file_a: str
    file_b: str
    tie_points: Annotated[int, Field(ge=0)]
    inliers: Annotated[int, Field(ge=0)]
    residual_px_rms: _Number | None


class _Finding(_Strict):
    kind: str
    says: str
    file: str = ""
    value: _Number | None = None
    unit: str = ""


class _Document(_Strict):
    schema_name: Literal["belvedere/orientation/1"] = Field(alias="schema")
    lens: _Lens
    held: list[str]
    falloff: list[_Number]
    residual_px_rms: _Number
    tie_points: Annotated[int, Field(ge=0)]
    frames: list[_Frame]
    pairs: list[_Pair]
    findings: list[_Finding]


def orientation_document(orientation: Orientation) -> dict[str, Any]:
    """The orientation as plain data, ready for JSON."""
    return {
        "schema": SCHEMA,
        "lens": asdict(orientation.lens),
        "held": list(orientation.held),
        "falloff": list(orientation.falloff),
        "residual_px_rms": orientation.residual_px_rms,
        "tie_points": orientation.tie_points,
        "frames": [_frame_document(frame) for frame in orientation.frames],
        "pairs": [
            asdict(pair) | {"residual_px_rms": pair.residual_px_rms if pair.inliers else None}
            for pair in orientation.pairs
        ],
        "findings": [asdict(finding) for finding in orientation.findings],
    }


def save_orientation(path: Path, orientation: Orientation) -> None:
    """Write the orientation to `path`, whole or not at all."""
    write_json(path, orientation_document(orientation))


def load_orientation(path: Path) -> Orientation:
    """The orientation in the file at `path`.

    Raises
    ------
    StoreError
        Where the file cannot be read or is not such a document.
    """
    try:
        document = _Document.model_validate_json(path.read_bytes())
    except OSError as error:
        raise StoreError(f"{path} cannot be read: {error.strerror or error}.") from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"])) or "the file"
        raise StoreError(
            f"{path} is not an orientation: {where}: {first['msg']}.",
            "Let `belvedere assemble` write it anew.",
        ) from error
    return Orientation(
        lens=LensModel(**document.lens.model_dump()),
        frames=tuple(_frame(frame) for frame in document.frames),
        residual_px_rms=document.residual_px_rms,
        tie_points=document.tie_points,
        falloff=tuple(document.falloff),
        held=tuple(document.held),
        pairs=tuple(_pair(pair) for pair in document.pairs),
        findings=tuple(Finding(**finding.model_dump()) for finding in document.findings),
    )


def _frame_document(frame: OrientedFrame) -> dict[str, Any]:
    bearing, elevation, roll = bearing_elevation_roll(frame.camera_from_world)
    document: dict[str, Any] = {
        "file": frame.file,
        "row": frame.row,
        "column": frame.column,
        "quaternion_xyzw": Rotation.from_matrix(frame.camera_from_world).as_quat().tolist(),
        "bearing_deg": bearing,
        "elevation_deg": elevation,
        "roll_deg": roll,
    }
    if not np.array_equal(frame.bend, np.eye(3)):
        document["bend"] = frame.bend.tolist()
    return document | {"gain": frame.gain.tolist()}


def _frame(frame: _Frame) -> OrientedFrame:
    return OrientedFrame(
        frame.file,
        Rotation.from_quat(frame.quaternion_xyzw).as_matrix(),
        np.array(frame.gain),
        frame.row,
        frame.column,
        np.eye(3) if frame.bend is None else np.array(frame.bend),
    )


def _pair(pair: _Pair) -> PairResidual:
    rms = float("nan") if pair.residual_px_rms is None else pair.residual_px_rms
    return PairResidual(pair.file_a, pair.file_b, pair.tie_points, pair.inliers, rms)
