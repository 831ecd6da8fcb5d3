"""What a camera decides for itself, from a quick look at the light: time, white balance, focus.

All of it reacts to what is in the frame, which is why it harms a sweep: a frame full of sky comes
out darker, one full of bricks bluer, and one with nothing to hold on to out of focus.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel, ev100
from belvedere.rehearse.camera_model import (
    CameraSettings,
    CameraTraits,
    FrameConditions,
    Gains,
)
from belvedere.rehearse.scene import Scene
from belvedere.rehearse.view import view
from belvedere.sphere import bearing_elevation

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]

#: Meters aim at a mean of 18 % (common practice; the standards leave it to the maker).
METERED_GREY = 0.18
#: Exposure times go in thirds of a stop, between these.
_STEPS_PER_EV = 3.0
_SHORTEST_S, _LONGEST_S = 1.0 / 4000.0, 30.0
#: Deviation of the meter's weight from the middle, as a share of half the diagonal, and the
#: weight that the whole picture has beside it.
_CENTRE_SIZE, _EVERYWHERE = 0.45, 0.25
#: Automatic white balance does not go farther than this from its normal gains.
WHITE_BALANCE_LIMIT_EV = 0.45
_METER_PX = 64
_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
#: Autofocus needs this much fine contrast (deviation over mean) in its field, and this much light.
FOCUS_CONTRAST, FOCUS_LIGHT_EV100 = 0.03, -1.0
_FOCUS_FIELD, _FOCUS_FINEST_PX = 0.08, (48, 320)
#: Seconds of finding, and of hunting (common practice, no source).
_FINDS_S, _HUNTS_S = (0.15, 0.5), (1.2, 2.8)


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a frame is taken with, whoever chose it."""

    exposure_s: float
    white_balance: Gains
    focus_m: float | None
    focus_s: float
    focus_found: bool


def chosen(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    traits: CameraTraits,
    settings: CameraSettings,
    conditions: FrameConditions,
    rng: np.random.Generator,
) -> Chosen:
    """Settings by hand as they are, automatic ones from the light of this view."""
    result = Chosen(settings.exposure_s, settings.white_balance, settings.focus_m, 0.0, True)
    if "auto" in (settings.exposure_mode, settings.white_balance_mode):
        light = _small_view(scene, lens, camera_from_world, conditions)
        if settings.exposure_mode == "auto":
            time_s = automatic_exposure_s(light, settings, conditions)
            result = replace(result, exposure_s=time_s)
        if settings.white_balance_mode == "auto":
            result = replace(result, white_balance=automatic_white_balance(light))
    if settings.focus_mode == "auto":
        focus_m, focus_s, found = _autofocus(
            scene, lens, camera_from_world, traits, conditions, rng
        )
        result = replace(result, focus_m=focus_m, focus_s=focus_s, focus_found=found)
    return result


def automatic_exposure_s(
    light: LinearImage, settings: CameraSettings, conditions: FrameConditions
) -> float:
    """The time, in thirds of a stop, that brings the centre-weighted mean nearest to 18 %.

    `light` (height, width, 3) is the scene's as it falls at this moment, 0 to 1 where the scene
    is exposed as painted.
    """
    metered = float((_centre_weight(light.shape[:2]) * (light @ _LUMINANCE)).sum())
    wanted_ev = np.log2(METERED_GREY / max(metered, 1e-5)) + settings.compensation_ev
    at_one_second = conditions.light_ev100 - ev100(settings.f_number, 1.0, settings.iso)
    tv = round((at_one_second - wanted_ev) * _STEPS_PER_EV) / _STEPS_PER_EV
    return float(np.clip(2.0**-tv, _SHORTEST_S, _LONGEST_S))


def automatic_white_balance(light: LinearImage) -> Gains:
    """Gains that make the mean of the picture grey, within limits.

    The grey-world rule (G. Buchsbaum, "A spatial processor model for object colour perception",
    Journal of the Franklin Institute 310, 1980); green stays as it is.
    """
    red, green, blue = np.maximum(light.reshape(-1, 3).mean(axis=0, dtype=np.float64), 1e-5)
    farthest = 2.0**WHITE_BALANCE_LIMIT_EV
    gains = np.clip([green / red, green / blue], 1.0 / farthest, farthest)
    return float(gains[0]), 1.0, float(gains[1])


def focus_contrast(light: LinearImage) -> float:
    """Fine contrast of a field: deviation of what is finer than some five pixels, over the mean."""
    grey = (light @ _LUMINANCE).astype(np.float32)
    fine = grey - cv2.GaussianBlur(grey, (0, 0), 3.0)
    return float(fine.std() / max(float(grey.mean()), 1e-5))


def _small_view(
    scene: Scene, lens: LensModel, camera_from_world: FloatArray, conditions: FrameConditions
) -> LinearImage:
    """The light at this moment, in a picture as small as a meter's."""
    height = max(2, round(_METER_PX * lens.height_px / lens.width_px))
    small = lens.scaled(_METER_PX, height)
    return _lit(view(scene, small, camera_from_world, at_s=conditions.at_s), conditions)


def _lit(light: LinearImage, conditions: FrameConditions) -> LinearImage:
    share = np.array(conditions.illuminant) * 2.0**conditions.illumination_ev
    lit: LinearImage = light * share.astype(np.float32)
    return lit


def _centre_weight(shape: tuple[int, ...]) -> FloatArray:
    """Weights of a centre-weighted meter, (height, width), sum 1."""
    height, width = shape[:2]
    y, x = np.mgrid[0:height, 0:width]
    away = np.hypot(x - (width - 1) / 2.0, y - (height - 1) / 2.0) / (np.hypot(width, height) / 2.0)
    weight = _EVERYWHERE + np.exp(-0.5 * (away / _CENTRE_SIZE) ** 2)
    return np.asarray(weight / weight.sum())


def _autofocus(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    traits: CameraTraits,
    conditions: FrameConditions,
    rng: np.random.Generator,
) -> tuple[float, float, bool]:
    """Distance, seconds, and whether there was something to focus on."""
    wrong_per_m = float(rng.uniform(0.0, 1.0 / traits.nearest_focus_m))
    finds_s, hunts_s = float(rng.uniform(*_FINDS_S)), float(rng.uniform(*_HUNTS_S))
    bright_ev100 = conditions.light_ev100 + conditions.illumination_ev
    field = _focus_field(scene, lens, camera_from_world, conditions)
    if bright_ev100 < FOCUS_LIGHT_EV100 or focus_contrast(field) < FOCUS_CONTRAST:
        return 1.0 / max(wrong_per_m, 1e-6), hunts_s, False
    bearing, elevation = bearing_elevation(camera_from_world[2][None, :])
    distance_m = float(scene.distance_m(bearing, elevation, at_s=conditions.at_s)[0])
    return max(distance_m, traits.nearest_focus_m), finds_s, True


def _focus_field(
    scene: Scene, lens: LensModel, camera_from_world: FloatArray, conditions: FrameConditions
) -> LinearImage:
    """The middle of the picture, pixel by pixel."""
    width = int(np.clip(_FOCUS_FIELD * lens.width_px, *_FOCUS_FINEST_PX))
    width = min(width, lens.width_px)
    height = min(max(2, 3 * width // 4), lens.height_px)
    left, top = (lens.width_px - width) // 2, (lens.height_px - height) // 2
    field = replace(
        lens,
        width_px=width,
        height_px=height,
        centre_x_px=lens.centre_x_px - left,
        centre_y_px=lens.centre_y_px - top,
    )
    return view(scene, field, camera_from_world, at_s=conditions.at_s)
