"""The light that falls on each pixel: the scene seen through a lens, gathered over pixel areas.

Each pixel is the mean of 2 × 2 samples of a patch of the scene that is somewhat finer than the
picture. The mapping from samples to directions is exact on a lattice and enlarged bilinearly
where that is good to a hundredth of a pixel; elsewhere (near the zenith) it is computed for
every sample.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.rehearse.scene import Scene
from belvedere.sphere import bearing_elevation

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]

_FINER = 1.6  # patch pixels per picture pixel
_SAMPLES = 2  # per pixel and axis
_LATTICE = 16  # samples
_GOOD_ENOUGH_PX = 0.01
_MARGIN_PX = 3  # patch pixels around what is needed
_MAX_PATCH_PX = 40_000_000
_MAX_PATCH_SIDE_PX = 32_000  # cv2.remap counts in 16 bits
_MIN_BLOCK_PX = 32
_STRIP_ROWS = 64


def view(
    scene: Scene, lens: LensModel, camera_from_world: FloatArray, margin_px: int = 0
) -> LinearImage:
    """The light on every pixel, and on `margin_px` more around the picture.

    Returns
    -------
    (height + 2 margin, width + 2 margin, 3) linear light.
    """
    return _block(
        scene,
        lens,
        camera_from_world,
        -margin_px,
        -margin_px,
        lens.width_px + 2 * margin_px,
        lens.height_px + 2 * margin_px,
    )


def finest_px_per_deg(lens: LensModel) -> float:
    """Pixels per degree along the radius at the corner, where a rectilinear lens is finest."""
    corner = np.hypot(lens.width_px, lens.height_px) / 2.0 / lens.focal_length_px
    return float(np.radians(lens.focal_length_px) * (1.0 + corner**2))


def _block(
    scene: Scene, lens: LensModel, rotation: FloatArray, x0: int, y0: int, width: int, height: int
) -> LinearImage:
    """A rectangle of the view, in pixels of the picture; cut in two where its patch is too big."""
    bearing, elevation = _lattice(lens, rotation, x0, y0, width, height, _LATTICE)
    px_per_deg = _FINER * finest_px_per_deg(lens)
    zenith = _covers_pole(lens, rotation, x0, y0, width, height)
    across = 360.0 if zenith else float(np.ptp(bearing))
    down = float(np.ptp(elevation)) if not zenith else 90.0 - float(np.abs(elevation).min())
    side = across * px_per_deg + 2 * _MARGIN_PX
    if side * down * px_per_deg > _MAX_PATCH_PX or side > _MAX_PATCH_SIDE_PX:
        if max(width, height) > _MIN_BLOCK_PX:
            return _in_two(scene, lens, rotation, x0, y0, width, height)
        # Bearings crowd together at the pole: a coarser patch is fine enough there.
        px_per_deg *= _MAX_PATCH_SIDE_PX / max(side * 1.001, _MAX_PATCH_SIDE_PX)
    curved = _sag(bearing, elevation, zenith) * px_per_deg / _FINER > _GOOD_ENOUGH_PX
    if curved:
        bearing, elevation = _lattice(lens, rotation, x0, y0, width, height, 1)
    return _gather(scene, bearing, elevation, px_per_deg, width, height, 1 if curved else _LATTICE)


def _in_two(
    scene: Scene, lens: LensModel, rotation: FloatArray, x0: int, y0: int, width: int, height: int
) -> LinearImage:
    if width >= height:
        half = width // 2
        parts = [
            _block(scene, lens, rotation, x0, y0, half, height),
            _block(scene, lens, rotation, x0 + half, y0, width - half, height),
        ]
        return np.concatenate(parts, axis=1)
    half = height // 2
    parts = [
        _block(scene, lens, rotation, x0, y0, width, half),
        _block(scene, lens, rotation, x0, y0 + half, width, height - half),
    ]
    return np.concatenate(parts, axis=0)


def _lattice(
    lens: LensModel,
    rotation: FloatArray,
    x0: int,
    y0: int,
    width: int,
    height: int,
    step: int,
) -> tuple[FloatArray, FloatArray]:
    """Bearing and elevation at the middles of lattice squares of `step` × `step` samples.

    One square more on each side, so that the lattice encloses the block. Bearings are unwrapped
    around that of the block's middle.
    """

    def at(start: int, size: int) -> FloatArray:
        squares = np.arange(-1, -(-size * _SAMPLES // step) + 1)
        samples = step * (squares + 0.5) - 0.5
        return start + (samples + 0.5) / _SAMPLES - 0.5

    grid = np.stack(np.meshgrid(at(x0, width), at(y0, height)), axis=-1)
    world = lens.unproject(grid) @ rotation
    bearing, elevation = bearing_elevation(world)
    middle = bearing[bearing.shape[0] // 2, bearing.shape[1] // 2]
    return middle + (bearing - middle + 180.0) % 360.0 - 180.0, elevation


def _covers_pole(
    lens: LensModel, rotation: FloatArray, x0: int, y0: int, width: int, height: int
) -> bool:
    """Whether the zenith or the nadir lies on the block, or within a few pixels of it."""
    for pole in (rotation[:, 1], -rotation[:, 1]):
        if pole[2] <= 0.0:
            continue
        x, y = lens.project(pole[None, :])[0]
        slack = _LATTICE
        inside_x = x0 - slack <= x <= x0 + width + slack
        inside_y = y0 - slack <= y <= y0 + height + slack
        if inside_x and inside_y:
            return True
    return False


def _sag(bearing: FloatArray, elevation: FloatArray, zenith: bool) -> float:
    """The largest error of bilinear enlargement, degrees on the sky, from second differences."""
    if zenith or min(bearing.shape) < 3:
        return float("inf")
    level = np.cos(np.radians(elevation))
    worst = 0.0
    for axis in (0, 1):
        bent = np.abs(np.diff(bearing, 2, axis=axis)) * np.take(
            level, range(1, level.shape[axis] - 1), axis=axis
        )
        worst = max(worst, float(bent.max()), float(np.abs(np.diff(elevation, 2, axis=axis)).max()))
    return worst / 8.0


def _gather(
    scene: Scene,
    bearing: FloatArray,
    elevation: FloatArray,
    px_per_deg: float,
    width: int,
    height: int,
    step: int,
) -> LinearImage:
    """Fetch one patch, sample it, and take the mean over each pixel."""
    # Patches start on one common lattice, so that neighbouring frames ask for the same samples.
    first_column = int(np.floor(bearing.min() * px_per_deg)) - _MARGIN_PX
    first_row = int(np.floor(-elevation.max() * px_per_deg)) - _MARGIN_PX
    columns = int(np.ceil(bearing.max() * px_per_deg)) + _MARGIN_PX - first_column
    rows = int(np.ceil(-elevation.min() * px_per_deg)) + _MARGIN_PX - first_row
    patch = scene.patch(
        first_column / px_per_deg, -first_row / px_per_deg, px_per_deg, columns, rows
    )
    patch = _as_fine_across(patch, elevation)
    map_x = _enlarged(bearing * px_per_deg - first_column - 0.5, step, width, height)
    map_y = _enlarged(-elevation * px_per_deg - first_row - 0.5, step, width, height)
    light = np.empty((height, width, 3), dtype=np.float32)
    for top in range(0, height, _STRIP_ROWS):
        strip = slice(_SAMPLES * top, _SAMPLES * min(top + _STRIP_ROWS, height))
        samples = cv2.remap(
            patch, map_x[strip], map_y[strip], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        size = (width, samples.shape[0] // _SAMPLES)
        light[top : top + size[1]] = cv2.resize(samples, size, interpolation=cv2.INTER_AREA)
    return light


def _as_fine_across(patch: LinearImage, elevation: FloatArray) -> LinearImage:
    """The patch without the detail that bearings, crowded towards the pole, have too much of."""
    crowded = 1.0 / max(float(np.cos(np.radians(np.abs(elevation).min()))), 1e-3)
    columns = 2 * int(crowded / 2.0) + 1
    if columns == 1:
        return patch
    return cv2.blur(patch, (columns, 1)).astype(np.float32, copy=False)


def _enlarged(lattice: FloatArray, step: int, width: int, height: int) -> LinearImage:
    """Lattice values brought to every sample of the block."""
    across, down = (size * step for size in reversed(lattice.shape))
    small = lattice.astype(np.float32)
    dense = small if step == 1 else cv2.resize(small, (across, down))
    inner = dense[step : step + _SAMPLES * height, step : step + _SAMPLES * width]
    return np.ascontiguousarray(inner).astype(np.float32, copy=False)
