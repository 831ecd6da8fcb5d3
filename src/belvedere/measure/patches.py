"""Square patches of frames: cut out, windowed, and compared by phase correlation."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

FloatArray = NDArray[np.float64]
FloatImage = NDArray[np.float32]

#: Side of a patch: large enough for coarse detail, small enough to be one thing at one distance.
PATCH_PX = 64
#: Width of the Gaussian on frequencies (cycles/px): keeps what an unsharp frame still shows.
_BAND = 0.12


def cut(image: NDArray[np.uint8] | FloatImage, centres: FloatArray) -> FloatImage:
    """Patches (n, PATCH_PX, PATCH_PX) around whole-pixel centres (n, 2), edges repeated."""
    half = PATCH_PX // 2
    height, width = image.shape[:2]
    patches = np.empty((len(centres), PATCH_PX, PATCH_PX), dtype=np.float32)
    for patch, (x, y) in zip(patches, np.round(centres).astype(int), strict=True):
        left, top = x - half, y - half
        if left >= 0 and top >= 0 and left + PATCH_PX <= width and top + PATCH_PX <= height:
            patch[:] = image[top : top + PATCH_PX, left : left + PATCH_PX]
        else:
            columns = np.clip(np.arange(left, left + PATCH_PX), 0, width - 1)
            rows = np.clip(np.arange(top, top + PATCH_PX), 0, height - 1)
            patch[:] = image[np.ix_(rows, columns)]
    return patches


def warp_cut(
    image: NDArray[np.uint8] | FloatImage, centres: FloatArray, jacobian: FloatArray
) -> FloatImage:
    """Patches around `centres` (n, 2), turned and scaled so that they look as in the other frame.

    `jacobian` (2, 2) takes steps in the other frame to steps in this one.
    """
    half = PATCH_PX // 2
    patches = np.empty((len(centres), PATCH_PX, PATCH_PX), dtype=np.float32)
    for patch, centre in zip(patches, centres, strict=True):
        shift = centre - jacobian @ np.array([half, half])
        matrix = np.concatenate([jacobian, shift[:, None]], axis=1)
        patch[:] = cv2.warpAffine(
            image,
            matrix,
            (PATCH_PX, PATCH_PX),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
    return patches


@cache
def window() -> FloatImage:
    """A two-dimensional Hann window (PATCH_PX, PATCH_PX), float32."""
    line = 0.5 - 0.5 * np.cos(2.0 * np.pi * (np.arange(PATCH_PX) + 0.5) / PATCH_PX)
    return np.outer(line, line).astype(np.float32)


@cache
def frequencies() -> tuple[FloatArray, FloatArray]:
    """Frequencies across and down (cycles/px) of `spectra`, each (PATCH_PX, PATCH_PX // 2 + 1)."""
    down = np.fft.fftfreq(PATCH_PX)
    across = np.fft.rfftfreq(PATCH_PX)
    fx, fy = np.meshgrid(across, down)
    return fx, fy


def levels(patches: FloatImage) -> FloatImage:
    """Windowed mean brightness of patches, (n,)."""
    mean: FloatImage = np.einsum("nij,ij->n", patches, window()) / window().sum()
    return mean


def spectra(patches: FloatImage) -> NDArray[np.complex64]:
    """Fourier transforms (n, PATCH_PX, PATCH_PX // 2 + 1) of windowed patches, less their mean."""
    shaped = (patches - levels(patches)[:, None, None]) * window()
    transformed: NDArray[np.complex64] = fft.rfft2(shaped, overwrite_x=True)
    return transformed


@cache
def _emphasis() -> FloatImage:
    fx, fy = frequencies()
    return np.exp(-(fx**2 + fy**2) / (2.0 * _BAND**2)).astype(np.float32)


@cache
def _ideal_peak() -> float:
    return float(fft.irfft2(_emphasis(), s=(PATCH_PX, PATCH_PX))[0, 0])


def displacements(a: FloatImage, b: FloatImage) -> tuple[FloatArray, FloatArray]:
    """How far each patch of b is moved against that of a: (n, 2) pixels; and the peaks (n,).

    Phase correlation (Kuglin and Hines 1975). The cross spectrum's Gaussian weight makes the peak
    a Gaussian, so a parabola through its logarithm finds the top between pixels exactly. A peak
    of 1 means identical patches.
    """
    cross = np.conj(spectra(a))
    cross *= spectra(b)
    cross *= _emphasis() / (np.abs(cross) + np.float32(1e-3))
    surface = np.asarray(
        fft.irfft2(cross, s=(PATCH_PX, PATCH_PX), overwrite_x=True), dtype=np.float32
    )
    flat = surface.reshape(len(a), -1)
    top = flat.argmax(axis=1)
    row, column = np.divmod(top, PATCH_PX)
    index = np.arange(len(a))
    peak = flat[index, top]
    down = _between(surface, index, row, column, peak, 1, 0)
    across = _between(surface, index, row, column, peak, 0, 1)
    half = PATCH_PX // 2
    moved = np.stack(
        [(column + across + half) % PATCH_PX - half, (row + down + half) % PATCH_PX - half], axis=1
    )
    return moved.astype(np.float64), (peak / _ideal_peak()).astype(np.float64)


def _between(
    surface: FloatImage,
    index: NDArray[np.intp],
    row: NDArray[np.intp],
    column: NDArray[np.intp],
    peak: FloatImage,
    down: int,
    across: int,
) -> FloatArray:
    """Where between pixels the top lies, -0.5 to 0.5, by a parabola through the logarithms."""
    least = np.maximum(peak * 1e-3, 1e-12)
    before = surface[index, (row - down) % PATCH_PX, (column - across) % PATCH_PX]
    after = surface[index, (row + down) % PATCH_PX, (column + across) % PATCH_PX]
    low, high = np.log(np.maximum(before, least)), np.log(np.maximum(after, least))
    bend = low + high - 2.0 * np.log(np.maximum(peak, least))
    step = np.where(bend < -1e-9, 0.5 * (low - high) / np.minimum(bend, -1e-9), 0.0)
    return np.clip(step, -0.5, 0.5).astype(np.float64)


def jacobian_at(
    mapping: Callable[[FloatArray], FloatArray], point: FloatArray, step_px: float = 8.0
) -> FloatArray:
    """Derivative (2, 2) of a mapping of pixels at a point, by central differences."""
    around = point + step_px * np.array([[1, 0], [-1, 0], [0, 1], [0, -1]], dtype=np.float64)
    right, left, below, above = mapping(around)
    derivative: FloatArray = np.stack([right - left, below - above], axis=1) / (2.0 * step_px)
    return derivative
