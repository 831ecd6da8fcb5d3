"""The light that falls on each pixel: the scene seen through a lens, gathered over pixel areas.

Each pixel is the mean of 3 × 3 samples of a patch of the scene that is somewhat finer than the
picture. The mapping from samples to bearing and elevation is exact on a lattice and enlarged
bilinearly where that is good to a hundredth of a pixel; elsewhere (near the zenith) the rays are
enlarged and turned into angles for every sample.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.rehearse.scene import Scene
from belvedere.sphere import bearing_elevation

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]

#: `Scene.patch` at one moment.
_Light = Callable[[float, float, float, int, int], LinearImage]

#: From the first pixel row of a strip and its (width, rows) to patch x and y of its samples.
_Mapping = Callable[[int, tuple[int, int]], tuple[LinearImage, LinearImage]]

_FINER = 1.5  # patch pixels per picture pixel
# Per pixel and axis. Half a patch pixel apart, so that linear interpolation weighs all patch
# pixels alike (its spectrum is zero there): small bright things keep their light and place.
_SAMPLES = 3
_LATTICE = 24  # samples
_GOOD_ENOUGH_PX = 0.01
_MARGIN_PX = 3  # patch pixels around what is needed
_MAX_PATCH_PX = 12_000_000
_MAX_SIDE_PX = 32_000  # cv2.remap counts in 16 bits
_MIN_BLOCK_PX = 32
_STRIP_ROWS = 32  # a multiple of the lattice, in pixels


def view(
    scene: Scene,
    lens: LensModel,
    camera_from_world: FloatArray,
    margin_px: int = 0,
    at_s: float = 0.0,
) -> LinearImage:
    """The light on every pixel, and on `margin_px` more around the picture.

    `at_s` is the moment, in seconds after the start of the shoot.

    Returns
    -------
    (height + 2 margin, width + 2 margin, 3) linear light.
    """
    width, height = lens.width_px + 2 * margin_px, lens.height_px + 2 * margin_px
    gathered = np.empty((height, width, 3), dtype=np.float32)
    light = partial(scene.patch, at_s=at_s)
    _block(light, lens, camera_from_world, -margin_px, -margin_px, gathered)
    return gathered


def finest_px_per_deg(lens: LensModel) -> float:
    """Pixels per degree along the radius at the corner, where a rectilinear lens is finest."""
    corner = np.hypot(lens.width_px, lens.height_px) / 2.0 / lens.focal_length_px
    return float(np.radians(lens.focal_length_px) * (1.0 + corner**2))


def _block(
    light: _Light, lens: LensModel, rotation: FloatArray, x0: int, y0: int, out: LinearImage
) -> None:
    """Gather a rectangle of the view, in pixels of the picture, into ``out`` (height, width, 3).

    It is cut in two where its patch is too big.
    """
    height, width = out.shape[:2]
    rays = _lattice(lens, rotation, x0, y0, width, height)
    middle_deg = _middle_bearing_deg(rays)
    bearing, elevation = _angles(rays, middle_deg)
    if _covers_pole(lens, rotation, x0, y0, width, height):
        up = elevation.mean() > 0.0
        bearing = middle_deg + np.array([[-180.0, 180.0]])
        elevation = np.array([[90.0 if up else -90.0, elevation.min() if up else elevation.max()]])
        curved_px = np.inf
    else:
        curved_px = _sag_deg(bearing, elevation) * finest_px_per_deg(lens)
    px_per_deg = _FINER * finest_px_per_deg(lens)
    side = float(np.ptp(bearing)) * px_per_deg + 4 * _MARGIN_PX
    if max(side * float(np.ptp(elevation)) * px_per_deg / _MAX_PATCH_PX, side / _MAX_SIDE_PX) > 1:
        if max(width, height) > _MIN_BLOCK_PX:
            _in_two(light, lens, rotation, x0, y0, out)
            return
        # Bearings crowd together at the pole: a coarser patch is fine enough there.
        px_per_deg *= min(1.0, _MAX_SIDE_PX / side)
    window = _Window.around(bearing, elevation, px_per_deg)
    patch = _as_fine_across(window.seen(light), elevation)
    if curved_px > _GOOD_ENOUGH_PX:
        _gather_curved(patch, window, rays, middle_deg, out)
        return
    at_x = window.x(bearing).astype(np.float32)
    at_y = window.y(elevation).astype(np.float32)
    _gather(patch, lambda top, size: (_enlarged(at_x, top, size), _enlarged(at_y, top, size)), out)


def _in_two(
    light: _Light, lens: LensModel, rotation: FloatArray, x0: int, y0: int, out: LinearImage
) -> None:
    height, width = out.shape[:2]
    if width >= height:
        half = width // 2
        _block(light, lens, rotation, x0, y0, out[:, :half])
        _block(light, lens, rotation, x0 + half, y0, out[:, half:])
    else:
        half = height // 2
        _block(light, lens, rotation, x0, y0, out[:half])
        _block(light, lens, rotation, x0, y0 + half, out[half:])


def _lattice(
    lens: LensModel, rotation: FloatArray, x0: int, y0: int, width: int, height: int
) -> FloatArray:
    """World rays at the middles of lattice squares; one square more on each side of the block."""
    return np.asarray(_camera_rays(lens, x0, y0, width, height) @ rotation, dtype=np.float64)


@lru_cache(maxsize=16)
def _camera_rays(lens: LensModel, x0: int, y0: int, width: int, height: int) -> FloatArray:
    """The rays of `_lattice` as the camera has them: the same in all frames of a shoot."""

    def at(start: int, size: int) -> FloatArray:
        squares = np.arange(-1, -(-size * _SAMPLES // _LATTICE) + 1)
        samples = _LATTICE * (squares + 0.5) - 0.5
        return np.asarray(start + (samples + 0.5) / _SAMPLES - 0.5, dtype=np.float64)

    grid = np.stack(np.meshgrid(at(x0, width), at(y0, height)), axis=-1)
    return np.asarray(lens.unproject(grid), dtype=np.float64)


def _middle_bearing_deg(rays: FloatArray) -> float:
    x, _, z = rays[rays.shape[0] // 2, rays.shape[1] // 2]
    return float(np.degrees(np.arctan2(x, z)))


def _angles(rays: FloatArray, middle_deg: float) -> tuple[FloatArray, FloatArray]:
    """Bearing, within half a turn of `middle_deg`, and elevation of world rays."""
    bearing, elevation = bearing_elevation(rays)
    return middle_deg + (bearing - middle_deg + 180.0) % 360.0 - 180.0, elevation


def _covers_pole(
    lens: LensModel, rotation: FloatArray, x0: int, y0: int, width: int, height: int
) -> bool:
    """Whether the zenith or the nadir lies on the block, or within a few pixels of it."""
    corner = np.hypot(lens.width_px, lens.height_px) / 2.0 / lens.focal_length_px
    for pole in (rotation[:, 1], -rotation[:, 1]):
        # Far from the picture the lens's polynomial folds back and would put the pole anywhere.
        if pole[2] <= 0.0 or np.hypot(pole[0], pole[1]) > 2.0 * corner * pole[2]:
            continue
        x, y = lens.project(pole[None, :])[0]
        slack = _LATTICE
        inside_x = x0 - slack <= x <= x0 + width + slack
        inside_y = y0 - slack <= y <= y0 + height + slack
        if inside_x and inside_y:
            return True
    return False


def _sag_deg(bearing: FloatArray, elevation: FloatArray) -> float:
    """The largest error of bilinear enlargement, degrees on the sky, from second differences."""
    level = np.cos(np.radians(elevation))
    worst = 0.0
    for axis in (0, 1):
        inner = np.take(level, range(1, level.shape[axis] - 1), axis=axis)
        worst = max(
            worst,
            float((np.abs(np.diff(bearing, 2, axis=axis)) * inner).max(initial=0.0)),
            float(np.abs(np.diff(elevation, 2, axis=axis)).max(initial=0.0)),
        )
    return worst / 8.0


@dataclass(frozen=True, slots=True)
class _Window:
    """A patch to ask for: its lattice is common to all frames of one lens."""

    first_column: int
    first_row: int
    px_per_deg: float
    columns: int
    rows: int

    @classmethod
    def around(cls, bearing: FloatArray, elevation: FloatArray, px_per_deg: float) -> _Window:
        first_column = int(np.floor(bearing.min() * px_per_deg)) - _MARGIN_PX
        first_row = int(np.floor(-elevation.max() * px_per_deg)) - _MARGIN_PX
        columns = int(np.ceil(bearing.max() * px_per_deg)) + _MARGIN_PX - first_column
        rows = int(np.ceil(-elevation.min() * px_per_deg)) + _MARGIN_PX - first_row
        return cls(first_column, first_row, px_per_deg, columns, rows)

    def seen(self, light: _Light) -> LinearImage:
        scale = self.px_per_deg
        return light(
            self.first_column / scale, -self.first_row / scale, scale, self.columns, self.rows
        )

    def x(self, bearing: FloatArray) -> FloatArray:
        return np.asarray(bearing * self.px_per_deg - self.first_column - 0.5)

    def y(self, elevation: FloatArray) -> FloatArray:
        return np.asarray(-elevation * self.px_per_deg - self.first_row - 0.5)


def _gather_curved(
    patch: LinearImage,
    window: _Window,
    rays: FloatArray,
    middle_deg: float,
    out: LinearImage,
) -> None:
    """As `_gather`, where angles bend too much (near the zenith): rays never do."""
    parts = [np.ascontiguousarray(rays[..., axis], dtype=np.float32) for axis in range(3)]

    def mapping(top: int, size: tuple[int, int]) -> tuple[LinearImage, LinearImage]:
        dense = np.stack([_enlarged(part, top, size) for part in parts], axis=-1)
        bearing, elevation = _angles(dense.astype(np.float64), middle_deg)
        return window.x(bearing).astype(np.float32), window.y(elevation).astype(np.float32)

    _gather(patch, mapping, out)


def _gather(patch: LinearImage, mapping: _Mapping, out: LinearImage) -> None:
    """Sample the patch, and take the mean over each pixel."""
    height, width = out.shape[:2]
    for top in range(0, height, _STRIP_ROWS):  # strips stay in the processor's cache
        size = (width, min(_STRIP_ROWS, height - top))
        map_x, map_y = mapping(top, size)
        first = int(np.clip(map_y.min() - 1.0, 0, len(patch) - 1))
        seen = patch[first : max(int(map_y.max()) + 3, first + 1)]
        map_y -= np.float32(first)
        # Four channels are sampled more than twice as fast as three.
        samples = cv2.remap(
            cv2.cvtColor(seen, cv2.COLOR_RGB2RGBA),
            map_x,
            map_y,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        means = cv2.resize(samples, size, interpolation=cv2.INTER_AREA)
        cv2.cvtColor(means, cv2.COLOR_RGBA2RGB, out[top : top + size[1]])


def _as_fine_across(patch: LinearImage, elevation: FloatArray) -> LinearImage:
    """The patch without the detail that bearings, crowded towards the pole, have too much of."""
    crowded = 1.0 / max(float(np.cos(np.radians(np.abs(elevation).min()))), 1e-3)
    columns = 2 * int(crowded / 2.0) + 1
    if columns == 1:
        return patch
    return cv2.blur(patch, (columns, 1)).astype(np.float32, copy=False)


def _enlarged(lattice: LinearImage, top: int, size: tuple[int, int]) -> LinearImage:
    """Lattice values brought to every sample of a strip of pixel rows from `top` on."""
    across, down = (_SAMPLES * side for side in size)
    first = _SAMPLES * top // _LATTICE
    rows = lattice[first : first + -(-down // _LATTICE) + 2]
    dense = cv2.resize(rows, (rows.shape[1] * _LATTICE, rows.shape[0] * _LATTICE))
    inner = dense[_LATTICE : _LATTICE + down, _LATTICE : _LATTICE + across]
    return inner.astype(np.float32, copy=False)
