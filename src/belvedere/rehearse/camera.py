"""A simulated camera: light through a lens onto a sensor, into an 8-bit picture.

The order is nature's: the scene's light is gathered over each pixel's area through the distorted
lens, blurred by the lens, by defocus and by motion, dimmed towards the corners, counted as
electrons with their noise, white-balanced, and put through the sRGB curve.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.rehearse.blur import Blur, blur_margin_px, blurred
from belvedere.rehearse.scene import Scene
from belvedere.rehearse.tone import srgb_of_linear
from belvedere.rehearse.view import view

_STRIP_ROWS = 64

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class CameraTraits:
    """What a camera and its lens are like, beyond the plan.

    Attributes
    ----------
    focal_length_error
        How far the true focal length is off the one the plan states, as a share of it.
    corner_pull
        How far the corners are pulled inwards by barrel distortion, as a share of their distance
        from the centre; in pixels that is what the eye sees, whatever the focal length.
    centre_offset_px
        Where the optical axis meets the sensor, right and down from the middle of the picture.
    corner_falloff_ev
        How much darker the corners are than the middle.
    full_well_e
        Electrons at white.
    read_noise_e
        Electrons of noise that are there in the dark.
    lens_blur_px
        Standard deviation of the blur of a well-focused lens.
    gain_jitter_ev
        Standard deviation of the exposure from frame to frame.
    jpeg_quality
        1 to 100.
    """

    focal_length_error: float = 0.002
    corner_pull: float = 0.004
    centre_offset_px: tuple[float, float] = (1.3, -0.8)
    corner_falloff_ev: float = 0.4
    full_well_e: float = 10_000.0
    read_noise_e: float = 5.0
    lens_blur_px: float = 0.45
    gain_jitter_ev: float = 0.01
    jpeg_quality: int = 93

    def lens(self, width_px: int, height_px: int, planned_focal_length_px: float) -> LensModel:
        """The true lens for frames of one size."""
        focal_length = planned_focal_length_px * (1.0 + self.focal_length_error)
        corner = np.hypot(width_px, height_px) / 2.0 / focal_length
        return LensModel(
            width_px,
            height_px,
            focal_length,
            (width_px - 1) / 2.0 + self.centre_offset_px[0],
            (height_px - 1) / 2.0 + self.centre_offset_px[1],
            k1=-self.corner_pull / corner**2,
        )


@dataclass(frozen=True, slots=True)
class Exposure:
    """How one frame was exposed.

    `ev` is the exposure against the shoot's normal one, `white_balance` the camera's gains for
    red, green and blue against its normal ones.
    """

    ev: float = 0.0
    white_balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    blur: Blur = field(default_factory=Blur)


def render_frame(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    traits: CameraTraits,
    exposure: Exposure,
    rng: np.random.Generator,
) -> Pixels:
    """One picture, (height, width, 3) uint8 RGB; the same for the same generator state."""
    margin = blur_margin_px(exposure.blur, traits.lens_blur_px)
    light = view(scene, lens, camera_from_world, margin)
    light = blurred(light, exposure.blur, traits.lens_blur_px, margin)
    arrives = np.float32(2.0**exposure.ev) * falloff(lens, traits.corner_falloff_ev)
    gains = np.asarray(exposure.white_balance, dtype=np.float32)
    picture = np.empty(light.shape, dtype=np.uint8)
    for top in range(0, lens.height_px, _STRIP_ROWS):  # strips stay in the processor's cache
        strip = slice(top, top + _STRIP_ROWS)
        counted = sensed(light[strip] * arrives[strip, :, None], traits, rng)
        picture[strip] = srgb_of_linear(counted * gains)
    return picture


def falloff(lens: LensModel, corner_falloff_ev: float) -> LinearImage:
    """The share of the light that arrives, (height, width), 1 in the middle.

    The natural cos⁴ law (B. K. P. Horn, "Robot Vision", 1986, section 10.3), with the barrel's
    share added in r⁴ so that the corner farthest from the axis loses `corner_falloff_ev`.
    """
    x = (np.arange(lens.width_px) - lens.centre_x_px) / lens.focal_length_px
    y = (np.arange(lens.height_px) - lens.centre_y_px) / lens.focal_length_px
    r2 = (x * x)[None, :] + (y * y)[:, None]
    r2 = r2.astype(np.float32)
    corner = float(r2.max())
    barrel_ev = max(0.0, corner_falloff_ev - 2.0 * float(np.log2(1.0 + corner)))
    share: LinearImage = np.exp2(r2 * r2 * np.float32(-barrel_ev / corner**2))
    share /= np.square(np.float32(1.0) + r2)
    return share


def sensed(light: LinearImage, traits: CameraTraits, rng: np.random.Generator) -> LinearImage:
    """Light 0..1 as the sensor counts it: photon noise, read noise, and an end at the full well.

    J. R. Janesick, "Photon Transfer", SPIE Press 2007: the variance in electrons is the mean plus
    the square of the read noise. Photon counts are taken as normal, which holds above some
    twenty electrons.
    """
    well = np.float32(traits.full_well_e)
    dark = np.float32(traits.read_noise_e**2 / traits.full_well_e**2)
    counted: LinearImage = rng.standard_normal(light.shape, dtype=np.float32)
    counted *= np.sqrt(np.maximum(light, 0.0) / well + dark)
    counted += light
    return np.clip(counted, 0.0, 1.0, out=counted)
