"""A simulated camera: light through a lens onto a sensor, into an 8-bit picture.

The order is nature's: the scene's light is gathered over each pixel's area through the distorted
lens, blurred by drops, lens, depth and motion, dimmed towards the corners and under dust, counted
as electrons with their noise, made whole numbers, white-balanced, and put through the sRGB curve.

All that follows the gathering is done in strips of rows, so that beside the gathered light and
the picture little memory is needed.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import PlanError
from belvedere.optics import LensModel, ev100
from belvedere.rehearse.automatic import Chosen, chosen
from belvedere.rehearse.blurring import Blurring, blurred_rows, fault_kernels, kernel_summary
from belvedere.rehearse.camera_model import (
    NORMAL_F_NUMBER,
    CameraSettings,
    CameraTraits,
    Exposure,
    Flicker,
    Frame,
    FrameConditions,
    FrameRecord,
    Optic,
)
from belvedere.rehearse.dust import behind_drops, dust_shadow, grains
from belvedere.rehearse.lens_blur import DepthLayers, defocus_px, depth_layers, lens_kernel
from belvedere.rehearse.scene import Scene
from belvedere.rehearse.sensor import (
    counted,
    counting,
    flicker_of_rows,
    numbers,
    wrong_pixels,
)
from belvedere.rehearse.tone import CodeTable
from belvedere.rehearse.vibration import gust_path_px, joined, oscillation_path_px, path_kernel
from belvedere.rehearse.view import view

__all__ = ["CameraTraits", "Exposure", "falloff", "render_frame", "take_frame"]

_STRIP_ROWS = 64
#: Exposures longer than this see things move; the light is then the mean of so many moments.
MOVING_FROM_S = 1.0 / 30.0
_MOMENTS_EVERY_S, _MOMENTS = 0.1, (3, 5)
_STILL = 0.004  # of white: what a small picture may change before something has moved
_SMALL_PX = 256

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]
Pixels = NDArray[np.uint8]


def render_frame(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    traits: CameraTraits,
    exposure: Exposure,
    rng: np.random.Generator,
) -> Pixels:
    """One picture, (height, width, 3) uint8 RGB; the same for the same generator state.

    The short way to `take_frame`, for a camera set by hand, at the start of the shoot.
    """
    settings = CameraSettings(white_balance=exposure.white_balance)
    conditions = FrameConditions(error_ev=exposure.ev, blur=exposure.blur)
    return take_frame(scene, lens, camera_from_world, traits, settings, conditions, rng).picture


def take_frame(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    traits: CameraTraits,
    settings: CameraSettings,
    conditions: FrameConditions,
    rng: np.random.Generator,
    optic: Optic | None = None,
) -> Frame:
    """One picture, and what was really used for it; the same for the same generator state.

    Parameters
    ----------
    rng
        A generator of the frame's own: it decides noise, gusts and where autofocus strays.
    optic
        With it, diffraction and the depth of the scene blur the picture, and dust has a size.
        Without it the lens blurs by `CameraTraits.lens_blur_px`, whatever aperture and distance.

    Raises
    ------
    PlanError
        For dust without an optic, and for settings that cannot be.
    """
    focus_rng, gust_rng, pixel_rng = rng.spawn(3)
    used = chosen(scene, lens, camera_from_world, traits, settings, conditions, focus_rng)
    layers, spread_px = _depth(
        scene, lens, camera_from_world, optic, settings.f_number, used.focus_m, conditions.at_s
    )
    blurring = _blurring(lens, traits, settings, conditions, used, optic, layers, gust_rng)
    light = _gathered(
        scene, lens, camera_from_world, conditions.at_s, used.exposure_s, blurring.reach_px
    )
    if conditions.drops:
        behind_drops(light, traits.camera_seed, conditions.drops, blurring.reach_px)
    ev = (
        conditions.light_ev100
        + conditions.illumination_ev
        + conditions.error_ev
        - ev100(settings.f_number, used.exposure_s, settings.iso)
    )
    arrives = _Arriving(lens, traits, settings, conditions, used.exposure_s, ev, optic)
    picture = _developed(light, blurring, arrives, traits, settings, used, (rng, pixel_rng))
    record = FrameRecord(
        exposure_s=used.exposure_s,
        f_number=settings.f_number,
        iso=settings.iso,
        ev=ev,
        white_balance=used.white_balance,
        focus_m=used.focus_m,
        focus_s=used.focus_s,
        focus_found=used.focus_found,
        defocus_px=spread_px,
        kernel=kernel_summary(blurring),
    )
    return Frame(picture, record)


def falloff(
    lens: LensModel,
    corner_falloff_ev: float,
    f_number: float = NORMAL_F_NUMBER,
    rows: slice = slice(None),
) -> LinearImage:
    """The share of the light that arrives, (rows, width), 1 in the middle.

    The natural cos⁴ law (B. K. P. Horn, "Robot Vision", 1986, section 10.3), with the barrel's
    share added in r⁴ so that the corner farthest from the axis loses `corner_falloff_ev` at
    f/5.6. The barrel's share goes as the area of the aperture: closing by a stop halves its EV.
    """
    x = (np.arange(lens.width_px) - lens.centre_x_px) / lens.focal_length_px
    y = (np.arange(lens.height_px) - lens.centre_y_px) / lens.focal_length_px
    corner = float(np.square(x).max() + np.square(y).max())
    barrel_ev = max(0.0, corner_falloff_ev - 2.0 * float(np.log2(1.0 + corner)))
    barrel_ev *= (NORMAL_F_NUMBER / f_number) ** 2
    r2 = ((x * x)[None, :] + (y * y)[rows, None]).astype(np.float32)
    share: LinearImage = np.exp2(r2 * r2 * np.float32(-barrel_ev / corner**2))
    share /= np.square(np.float32(1.0) + r2)
    return share


class _Arriving:
    """The share of the light that arrives at each pixel of a strip, in all its colours."""

    def __init__(
        self,
        lens: LensModel,
        traits: CameraTraits,
        settings: CameraSettings,
        conditions: FrameConditions,
        exposure_s: float,
        ev: float,
        optic: Optic | None,
    ) -> None:
        self._lens, self._corner_ev = lens, traits.corner_falloff_ev
        self._f_number = settings.f_number
        scale = 2.0**ev * np.array(conditions.illuminant)
        self._same = np.float32(scale[0]) if np.ptp(scale) == 0.0 else None
        self._scale = scale.astype(np.float32)
        self._rows = _rows_lit(conditions.flicker, lens, exposure_s, traits)
        self._dust = _dust(lens, traits, settings, conditions, optic)

    def dim(self, light: LinearImage, top: int) -> LinearImage:
        """The strip of rows from `top` on, as it arrives."""
        rows = slice(top, top + light.shape[0])
        share = falloff(self._lens, self._corner_ev, self._f_number, rows)
        if self._rows is not None:
            share *= self._rows[rows, None]
        if self._dust is not None:
            share *= self._dust[rows]
        if self._same is None:
            shares = [share * scale for scale in self._scale]
        else:
            shares = [share * self._same] * 3
        arriving: LinearImage = cv2.merge(shares).astype(np.float32, copy=False)
        arriving *= light
        return arriving


def _developed(
    light: LinearImage,
    blurring: Blurring,
    arrives: _Arriving,
    traits: CameraTraits,
    settings: CameraSettings,
    used: Chosen,
    rngs: tuple[np.random.Generator, np.random.Generator],
) -> Pixels:
    """From gathered light to the picture."""
    noise_rng, pixel_rng = rngs
    height, width = (side - 2 * blurring.reach_px for side in light.shape[:2])
    how = counting(traits, settings.iso, used.exposure_s, settings.dark_frame)
    wrong = wrong_pixels(
        traits, (height, width), how, used.exposure_s, settings.dark_frame, pixel_rng
    )
    table = CodeTable(how.largest, used.white_balance)
    picture = np.empty((height, width, 3), dtype=np.uint8)
    # Strips stay in the processor's cache; wide blurs need taller ones to be worth their halo.
    strip = max(_STRIP_ROWS, 4 * blurring.reach_px)
    for top in range(0, height, strip):
        rows = blurred_rows(light, blurring, top, min(strip, height - top))
        signal = counted(arrives.dim(rows, top), how, noise_rng)
        wrong.put_into(signal, top)
        picture[top : top + strip] = table.codes(numbers(signal, how))
    return picture


def _gathered(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    at_s: float,
    exposure_s: float,
    margin_px: int,
) -> LinearImage:
    """The light on the sensor; where things move in a long exposure, the mean of moments."""
    if not _moves(scene, lens, camera_from_world, at_s, exposure_s):
        return view(scene, lens, camera_from_world, margin_px, at_s)
    count = int(np.clip(np.ceil(exposure_s / _MOMENTS_EVERY_S), *_MOMENTS))
    moments = at_s + (np.arange(count) + 0.5) / count * exposure_s
    light = view(scene, lens, camera_from_world, margin_px, float(moments[0]))
    for moment in moments[1:]:
        light += view(scene, lens, camera_from_world, margin_px, float(moment))
    light *= np.float32(1.0 / count)
    return light


def _moves(
    scene: Scene, lens: LensModel, camera_from_world: FloatArray, at_s: float, exposure_s: float
) -> bool:
    """Whether anything in the view moves during the exposure, by a look at a small picture."""
    if exposure_s <= MOVING_FROM_S:
        return False
    shrink = max(1.0, lens.width_px / _SMALL_PX)
    small = lens.scaled(round(lens.width_px / shrink), max(1, round(lens.height_px / shrink)))
    before = view(scene, small, camera_from_world, at_s=at_s)
    after = view(scene, small, camera_from_world, at_s=at_s + exposure_s)
    return bool(np.abs(after - before).max() > _STILL)


def _depth(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    optic: Optic | None,
    f_number: float,
    focus_m: float | None,
    at_s: float,
) -> tuple[DepthLayers | None, tuple[float, float]]:
    """Layers of the blur by depth, and its least and greatest diameter in px."""
    if optic is None or focus_m is None:
        return None, (0.0, 0.0)
    diameters = defocus_px(scene, lens, camera_from_world, optic, f_number, focus_m, at_s)
    return depth_layers(diameters), (float(diameters.min()), float(diameters.max()))


def _blurring(
    lens: LensModel,
    traits: CameraTraits,
    settings: CameraSettings,
    conditions: FrameConditions,
    used: Chosen,
    optic: Optic | None,
    layers: DepthLayers | None,
    rng: np.random.Generator,
) -> Blurring:
    motion = _motion_kernel(lens, conditions, used.exposure_s, rng)
    kernels = (() if motion is None else (motion,)) + fault_kernels(conditions.blur)
    if optic is None:
        return Blurring(traits.lens_blur_px, kernels, layers)
    focused = lens_kernel(traits.lens_blur_px, optic, settings.f_number)
    return Blurring(0.0, (focused, *kernels), layers)


def _motion_kernel(
    lens: LensModel, conditions: FrameConditions, exposure_s: float, rng: np.random.Generator
) -> LinearImage | None:
    focal_px, path = lens.focal_length_px, None
    if conditions.oscillation is not None:
        path = oscillation_path_px(conditions.oscillation, exposure_s, focal_px)
    if conditions.gusts is not None:
        blown = gust_path_px(conditions.gusts, exposure_s, focal_px, rng)
        path = blown if path is None else joined(path, blown)
    return None if path is None else path_kernel(path)


def _rows_lit(
    flicker: Flicker | None, lens: LensModel, exposure_s: float, traits: CameraTraits
) -> LinearImage | None:
    if flicker is None:
        return None
    return flicker_of_rows(flicker, lens.height_px, exposure_s, traits.readout_s)


def _dust(
    lens: LensModel,
    traits: CameraTraits,
    settings: CameraSettings,
    conditions: FrameConditions,
    optic: Optic | None,
) -> LinearImage | None:
    if not conditions.dust_grains:
        return None
    if optic is None:
        raise PlanError(
            f"{conditions.dust_grains} grains of dust have no size without the pixel pitch.",
            "Give the optic: focal length and pixel pitch.",
        )
    lying = grains(traits.camera_seed, conditions.dust_grains)
    return dust_shadow(lying, lens.width_px, lens.height_px, optic, settings.f_number)
