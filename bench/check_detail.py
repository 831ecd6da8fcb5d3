"""How much of a frame shows lasting detail where other frames overlap it.

The check compares frames where they overlap. What is plain there, and what looks different a
moment later (waves, clouds, birds), can tell nobody whether a frame is sharp.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.rehearse import Exposure, Rehearsal, Scene, Shot, photograph, releases

FloatArray = NDArray[np.float64]
Levels = NDArray[np.float32]

#: A patch has detail when its fine contrast is above so many levels, and lasts when it looks alike
#: an interval later.
_PATCH_PX, _DETAIL_LEVELS, _ALIKE = 64, 2.5, 0.6
#: A frame can be judged when so many of its patches in overlaps have lasting detail: of some 230
#: in a frame and some 110 in its overlaps.
LEAST_SHARE = 0.08


def lasting_detail(
    rehearsal: Rehearsal, documents: Sequence[Mapping[str, Any]], file: str, scene: Scene
) -> float:
    """Share of a frame's patches that have lasting detail and lie in an overlap.

    The frame is photographed anew without fault or noise, at its moment and an interval later.
    """
    frames = {f["file"]: f for document in documents for f in document["frames"]}
    frame = frames[file]
    shot = _shot(rehearsal, frame)
    interval_s = rehearsal.plan.shoot.sweep.interval_s or 3.0
    now = _fine(_clean(rehearsal, shot, scene, 0.0))
    later = _fine(_clean(rehearsal, shot, scene, interval_s))
    power, power_later = _patches(now * now), _patches(later * later)
    alike = _patches(now * later) / np.sqrt(np.maximum(power * power_later, 1e-9))
    lasting = (np.sqrt(power) > _DETAIL_LEVELS) & (alike > _ALIKE)
    others = [
        np.array(one["camera_from_world"])
        for one in frames.values()
        if one["kept_share"] >= 1.0
        and one["role"] != "before the sweep"
        and one["cell"] != frame["cell"]
    ]
    shared = _shared(np.array(frame["camera_from_world"]), others, rehearsal.lens())
    return float(np.mean(lasting & (shared > 0)))


def _shot(rehearsal: Rehearsal, frame: Mapping[str, Any]) -> Shot:
    asked_at = frame["asked_at"]
    return next(
        shot
        for shot in releases(rehearsal)
        if shot.asked_at.isoformat(timespec="microseconds") == asked_at
    )


def _clean(rehearsal: Rehearsal, shot: Shot, scene: Scene, later_s: float) -> NDArray[np.uint8]:
    conditions = replace(
        shot.conditions,
        at_s=shot.conditions.at_s + later_s,
        drops=0,
        dust_grains=0,
        flicker=None,
        oscillation=None,
    )
    settings = replace(
        rehearsal.camera_settings(),
        focus_mode="manual",
        exposure_mode="manual",
        white_balance_mode="manual",
    )
    clean = replace(shot, exposure=Exposure(), conditions=conditions, settings=settings)
    quiet = replace(rehearsal.camera, full_well_e=1e9, read_noise_e=0.0)
    return photograph(clean, scene, rehearsal.lens(), quiet, rehearsal.optic())


def _fine(picture: NDArray[np.uint8]) -> Levels:
    luma = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(np.float32)
    fine = cv2.GaussianBlur(luma, (0, 0), 0.6) - cv2.GaussianBlur(luma, (0, 0), 2.0)
    return np.asarray(fine, dtype=np.float32)


def _patches(picture: Levels) -> Levels:
    height, width = (size // _PATCH_PX for size in picture.shape)
    small = cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.float32)


def _shared(rotation: FloatArray, others: Sequence[FloatArray], lens: LensModel) -> Levels:
    """For each patch whether its middle lies in another frame, (rows, columns)."""
    rows, columns = lens.height_px // _PATCH_PX, lens.width_px // _PATCH_PX
    x = (np.arange(columns) + 0.5) * lens.width_px / columns
    y = (np.arange(rows) + 0.5) * lens.height_px / rows
    rays = lens.unproject(np.stack(np.meshgrid(x, y), axis=-1)) @ rotation
    shared = np.zeros((rows, columns), dtype=np.float32)
    half_diagonal = np.hypot(lens.width_px, lens.height_px) / 2.0 / lens.focal_length_px
    for other in others:
        if float(rotation[2] @ other[2]) < np.cos(min(1.4, 2.2 * np.arctan(half_diagonal))):
            continue
        seen = rays @ other.T
        ahead = seen[..., 2] > 0.3
        at = lens.project(np.where(ahead[..., None], seen, [0.0, 0.0, 1.0]))
        inside = (at[..., 0] > 0) & (at[..., 0] < lens.width_px - 1)
        inside &= (at[..., 1] > 0) & (at[..., 1] < lens.height_px - 1)
        shared += (inside & ahead).astype(np.float32)
    return shared
