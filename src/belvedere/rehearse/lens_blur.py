"""What the lens makes of a point: diffraction, its own faults, and depth out of focus."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.optics import GREEN_NM, LensModel, defocus_blur_mm
from belvedere.rehearse.blur import disc_kernel
from belvedere.rehearse.camera_model import NORMAL_F_NUMBER, Optic
from belvedere.rehearse.scene import Scene
from belvedere.sphere import bearing_elevation

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]

#: Blur that differs by less across a picture is not worth a layer of its own, px of diameter.
LEAST_BLUR_PX = 0.3
#: Discs differ by so much, or by this share of their diameter, from layer to layer.
_LAYER_PX, _LAYER_SHARE = 0.75, 0.35
_MOST_LAYERS = 7
#: No disc is drawn wider than this.
MOST_DISC_PX = 160.0
#: Pixels from point to point where distances are asked for, and how many points at most.
_LATTICE_PX, _MOST_POINTS = 24, 96
_FREQUENCIES = 128
#: A kernel reaches as many λN as this, or so many px (larger ones take far longer) if that is more
#: than the least; what is left out is spread over it.
_REACH_LAMBDA_N, _QUICK_REACH_PX, _LEAST_REACH_LAMBDA_N = 4.0, 5, 2.5


def lens_kernel(lens_blur_px: float, optic: Optic, f_number: float) -> LinearImage:
    """The kernel of a focused lens at an aperture: odd size, sum 1.

    Diffraction has the contrast of a round aperture in green light (see
    `belvedere.optics.diffraction_mtf`). The lens's own faults are what makes `lens_blur_px` of it
    at f/5.6; where diffraction alone is softer than that, there are none. They shrink with the
    aperture's diameter, so that their contrast is taken to the power (5.6 / N)².
    """
    wanted = _gaussian_mtf(lens_blur_px)
    at_normal = _diffraction_mtf(optic, NORMAL_F_NUMBER)
    faults = np.minimum(wanted / np.maximum(at_normal, wanted), 1.0)
    here = _diffraction_mtf(optic, f_number) * faults ** ((NORMAL_F_NUMBER / f_number) ** 2)
    return _kernel_of(here, _reach_px(lens_blur_px, optic, f_number))


def defocus_px(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    optic: Optic,
    f_number: float,
    focus_m: float,
    at_s: float,
) -> LinearImage:
    """Diameters of the blur disc over the picture, px, on a coarse lattice (rows, columns).

    The lattice's first and last points are the middles of the picture's outer pixels.
    """
    columns, rows = (
        int(np.clip(size // _LATTICE_PX + 1, 2, _MOST_POINTS))
        for size in (lens.width_px, lens.height_px)
    )
    x, y = np.linspace(0, lens.width_px - 1, columns), np.linspace(0, lens.height_px - 1, rows)
    rays = lens.unproject(np.stack(np.meshgrid(x, y), axis=-1)) @ camera_from_world
    bearing, elevation = bearing_elevation(rays)
    distance_m = scene.distance_m(bearing, elevation, at_s=at_s)
    focal_m = optic.focal_length_mm / 1000.0
    per_m = _blur_px_per_inverse_m(optic, f_number, focus_m)
    nearest_m = 2.0 * focal_m  # nothing stands closer to a lens than that
    apart = np.abs(1.0 / focus_m - 1.0 / np.maximum(distance_m, nearest_m))
    return np.minimum(per_m * apart, MOST_DISC_PX).astype(np.float32)


@dataclass(frozen=True, slots=True)
class DepthLayers:
    """A picture out of focus by depth, as discs of a few diameters.

    `diameters_px` ascend, each with its disc in `kernels`; `lattice_px` (rows, columns) is what
    each part of the picture should have. Parts between two layers get a share of both that makes
    the variance right.
    """

    diameters_px: tuple[float, ...]
    kernels: tuple[LinearImage, ...]
    lattice_px: LinearImage

    @property
    def reach_px(self) -> int:
        """How far the largest disc reaches."""
        return int(np.ceil(self.diameters_px[-1] / 2.0)) + 1


def depth_layers(diameters_px: LinearImage) -> DepthLayers | None:
    """Layers for a lattice of blur diameters; None where all of it is too small to be seen."""
    least, most = float(diameters_px.min()), float(diameters_px.max())
    if most <= LEAST_BLUR_PX:
        return None
    if most - least <= LEAST_BLUR_PX:
        layers = [float(np.sqrt(np.mean(np.square(diameters_px, dtype=np.float64))))]
    else:
        layers = _layer_diameters_px(least if least > LEAST_BLUR_PX else 0.0, most)
    kernels = tuple(disc_kernel(diameter / 4.0) for diameter in layers)
    return DepthLayers(tuple(layers), kernels, diameters_px)


def _layer_diameters_px(least: float, most: float) -> list[float]:
    layers = [least]
    while layers[-1] < most:
        layers.append(layers[-1] + max(_LAYER_PX, _LAYER_SHARE * layers[-1]))
    layers[-1] = most
    if len(layers) > _MOST_LAYERS:  # large discs differ little to the eye: equal ratios
        layers = [least, *np.geomspace(max(least, 1.0) * 1.5, most, _MOST_LAYERS - 1).tolist()]
    return layers


def out_of_focus(
    light: LinearImage, halo: int, layers: DepthLayers, top: int, height_px: int, width_px: int
) -> LinearImage:
    """A strip of the picture blurred by its depth, `halo` rows and columns cut off on each side.

    Parameters
    ----------
    light
        (rows + 2 halo, width + 2 halo, 3).
    top
        Row of the picture where the strip begins, of `height_px` × `width_px`.
    """
    inner = light[halo : light.shape[0] - halo, halo : light.shape[1] - halo]
    if len(layers.diameters_px) == 1:
        return _disc_blurred(light, halo, layers.kernels[0])
    wanted = np.square(_enlarged(layers.lattice_px, top, inner.shape[0], height_px, width_px))
    squares = np.square(np.array(layers.diameters_px))
    result = np.zeros(inner.shape, dtype=np.float32)
    for index, kernel in enumerate(layers.kernels):
        share = _share(wanted, squares, index)
        if share.max() <= 0.0:
            continue
        result += _disc_blurred(light, halo, kernel) * share[:, :, None]
    return result


def _share(wanted: LinearImage, squares: FloatArray, index: int) -> LinearImage:
    """How much of layer `index` each pixel takes: hats over squared diameters, their sum is 1."""
    share = np.ones_like(wanted)
    if index > 0:
        below = squares[index - 1]
        share = np.minimum(share, (wanted - below) / (squares[index] - below))
    if index + 1 < len(squares):
        above = squares[index + 1]
        share = np.minimum(share, (above - wanted) / (above - squares[index]))
    return np.clip(share, 0.0, 1.0).astype(np.float32, copy=False)


def _disc_blurred(light: LinearImage, halo: int, kernel: LinearImage) -> LinearImage:
    rows, columns = light.shape[0] - 2 * halo, light.shape[1] - 2 * halo
    if kernel.size > 1:
        light = _floats(cv2.filter2D(light, -1, kernel))
    return light[halo : halo + rows, halo : halo + columns]


def _enlarged(
    lattice: LinearImage, top: int, rows: int, height_px: int, width_px: int
) -> LinearImage:
    """Lattice values at every pixel of a strip, bilinear."""
    down, across = (lattice.shape[0] - 1) / (height_px - 1), (lattice.shape[1] - 1) / (width_px - 1)
    turn = np.array([[across, 0.0, 0.0], [0.0, down, top * down]])
    return _floats(
        cv2.warpAffine(
            lattice,
            turn,
            (width_px, rows),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
    )


def _blur_px_per_inverse_m(optic: Optic, f_number: float, focus_m: float) -> float:
    """Blur disc, px, for each 1/m that a point is off the focus; the thin lens is linear in it."""
    at_infinity_mm = defocus_blur_mm(
        np.inf, focus_m if np.isfinite(focus_m) else 1000.0, optic.focal_length_mm, f_number
    )
    apart = 1.0 / focus_m if np.isfinite(focus_m) else 1.0 / 1000.0
    return at_infinity_mm / apart * 1000.0 / optic.pixel_pitch_um


def _diffraction_mtf(optic: Optic, f_number: float) -> FloatArray:
    """Contrast of a round aperture on the lattice of `_frequencies`."""
    across, down = _frequencies()
    cutoff = optic.pixel_pitch_um / (f_number * GREEN_NM / 1000.0)  # cycles per pixel
    x = np.minimum(np.hypot(across, down) / cutoff, 1.0)
    mtf: FloatArray = 2.0 / np.pi * (np.arccos(x) - x * np.sqrt(1.0 - x * x))
    return mtf


def _gaussian_mtf(sigma_px: float) -> FloatArray:
    """Contrast of the sampled Gaussian that OpenCV blurs with."""
    across, down = _frequencies()
    if sigma_px <= 0.0:
        return np.ones_like(across + down)
    reach = max(1, int(np.ceil(4.0 * sigma_px)))
    taps = cv2.getGaussianKernel(2 * reach + 1, sigma_px)[:, 0]
    at = np.arange(-reach, reach + 1)
    contrast = [np.cos(2.0 * np.pi * f[..., None] * at) @ taps for f in (across, down)]
    return np.asarray(np.maximum(contrast[0], 1e-6) * np.maximum(contrast[1], 1e-6))


def _frequencies() -> tuple[FloatArray, FloatArray]:
    f = np.asarray(np.fft.fftfreq(_FREQUENCIES), dtype=np.float64)
    return f[None, :], f[:, None]


def _kernel_of(mtf: FloatArray, reach: int) -> LinearImage:
    """The small kernel with this contrast: what lies beyond its reach is shared out over it."""
    middle = _FREQUENCIES // 2
    spread = np.fft.fftshift(np.fft.ifft2(mtf).real)
    kept = slice(middle - reach, middle + reach + 1)
    kernel = spread[kept, kept]
    return np.asarray(kernel + (1.0 - kernel.sum()) / kernel.size, dtype=np.float32)


def _reach_px(lens_blur_px: float, optic: Optic, f_number: float) -> int:
    lambda_n_px = f_number * GREEN_NM / 1000.0 / optic.pixel_pitch_um
    wanted_px = _REACH_LAMBDA_N * lambda_n_px
    least_px = max(_LEAST_REACH_LAMBDA_N * lambda_n_px, 4.0 * lens_blur_px, 1.0)
    reach = max(min(wanted_px, _QUICK_REACH_PX), least_px)
    return min(int(np.ceil(reach)), _FREQUENCIES // 2 - 1)


def _floats(image: NDArray[Any]) -> LinearImage:
    return image.astype(np.float32, copy=False)
