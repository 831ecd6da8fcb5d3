"""A quick look at the whole: small pictures put in place without adjustment, seams or pyramid.

Bearings run evenly across and elevations evenly down (plate carrée). Later frames lie over earlier
ones with a soft edge; what no frame covers stays hatched, so that a hole is seen as a hole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, identity
from scipy.sparse.linalg import spsolve

from belvedere.sphere import bearing_elevation, camera_from_world

FloatArray = NDArray[np.float64]
Pixels = NDArray[np.uint8]

#: Width of the soft edge as a share of a frame's shorter side.
_SOFT_SHARE = 0.06
#: Points along each edge of a frame that tell where it reaches.
_EDGE_POINTS = 9
#: The edges of the view are found for elevations this far apart.
_LEVEL_DEG = 0.25
#: Stripes where nothing is, px.
_STRIPE_PX = 14
_STRIPES = (245, 205)
#: How firmly everything is held to where it was expected, against one overlap.
_HOLD = 1e-4
#: So often the weights of bad measurements are found anew.
_ROUNDS = 8
#: Labels are no smaller and no larger than this: letters of 8 to 40 px.
_LABEL_SCALES = (0.4, 2.0)


@dataclass(frozen=True, slots=True)
class ProxyView:
    """What the proxy shows: edges in degrees, and its scale; `turn` where it closes on itself."""

    left_deg: float
    top_deg: float
    width_px: int
    height_px: int
    px_per_deg: float
    turn: bool


@dataclass(frozen=True, slots=True)
class ProxyFrame:
    """Where one frame looks, and its size.

    `focal_px` belongs to a width of `width_px`; pictures of any other size are scaled. `gain`
    multiplies linear light.
    """

    bearing_deg: float
    elevation_deg: float
    focal_px: float
    width_px: int
    height_px: int
    gain: float = 1.0


def view_of(frames: Sequence[ProxyFrame], px_per_deg: float, most_px: int) -> ProxyView:
    """The view that holds all frames, no side longer than `most_px`."""
    reaches = {
        level: _reach(replace(frames[0], bearing_deg=0.0, elevation_deg=level * _LEVEL_DEG))
        for level in {round(frame.elevation_deg / _LEVEL_DEG) for frame in frames}
    }
    edges = np.array([reaches[round(frame.elevation_deg / _LEVEL_DEG)] for frame in frames])
    bearing = np.array([frame.bearing_deg for frame in frames])
    left, right = float((bearing - edges[:, 0]).min()), float((bearing + edges[:, 0]).max())
    top, bottom = float(edges[:, 1].max()), float(edges[:, 2].min())
    turn = right - left >= 360.0
    width_deg = 360.0 if turn else right - left
    scale = min(px_per_deg, most_px / width_deg, most_px / (top - bottom))
    return ProxyView(
        left,
        top,
        max(1, int(width_deg * scale)),
        max(1, int(np.ceil((top - bottom) * scale))),
        scale,
        turn,
    )


class Proxy:
    """The picture as it grows."""

    def __init__(self, view: ProxyView) -> None:
        self.view = view
        self._picture = np.zeros((view.height_px, view.width_px, 3), dtype=np.uint8)
        self._covered = np.zeros((view.height_px, view.width_px), dtype=bool)

    def add(self, picture: Pixels, frame: ProxyFrame) -> None:
        """Lay a frame over what is there; `picture` (height, width, 3) RGB of any size."""
        columns, rows = self._window(frame)
        if not len(columns) or not len(rows):
            return
        across, down, weight = self._sources(picture, frame, columns, rows)
        table = _gain_table(frame.gain)
        warped = cv2.remap(cv2.LUT(picture, table), across, down, cv2.INTER_LINEAR)
        place = np.ix_(rows, columns % self.view.width_px)
        covered = self._covered[place]
        weight = np.where(covered, weight, weight > 0.0).astype(np.float32)[..., None]
        before = self._picture[place].astype(np.float32)
        self._picture[place] = np.round(before + weight * (warped - before)).astype(np.uint8)
        self._covered[place] = covered | (weight[..., 0] > 0.0)

    def picture(self) -> Pixels:
        """The picture so far (height, width, 3), hatched where no frame is."""
        y, x = np.ogrid[: self.view.height_px, : self.view.width_px]
        dark = ((x + y) // _STRIPE_PX) % 2 == 1
        hatched = np.where(dark, np.uint8(_STRIPES[1]), np.uint8(_STRIPES[0]))
        return np.where(self._covered[..., None], self._picture, hatched[..., None])

    def label(self, words: str, bearing_deg: float, elevation_deg: float, wide_deg: float) -> None:
        """Write on the picture, black on white, around a direction, about `wide_deg` wide."""
        view = self.view
        x = int((bearing_deg - view.left_deg) * view.px_per_deg)
        y = int((view.top_deg - elevation_deg) * view.px_per_deg)
        (unit, _), _ = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, 1.0, 2)
        scale = float(np.clip(wide_deg * view.px_per_deg / unit, *_LABEL_SCALES))
        thick = max(1, round(2.0 * scale))
        (width, height), below = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, scale, thick)
        left = int(np.clip(x - width // 2, 0, max(0, view.width_px - width)))
        base = int(np.clip(y + height // 2, height + 4, max(height + 4, view.height_px - below)))
        corners = (left - 4, base - height - 6), (left + width + 4, base + below + 2)
        cv2.rectangle(self._picture, *corners, (255, 255, 255), -1)
        cv2.rectangle(self._picture, *corners, (0, 0, 0), thick)
        cv2.putText(
            self._picture, words, (left, base), cv2.FONT_HERSHEY_SIMPLEX, scale, (0, 0, 0), thick
        )
        rows = slice(max(0, corners[0][1] - thick), corners[1][1] + thick)
        self._covered[rows, max(0, corners[0][0] - thick) : corners[1][0] + thick] = True

    def _window(self, frame: ProxyFrame) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The columns and rows of the picture that a frame may reach; columns may run on."""
        view = self.view
        reach, high, low = _reach(frame)
        left, right = frame.bearing_deg - reach, frame.bearing_deg + reach
        first = int(np.floor((left - view.left_deg) * view.px_per_deg))
        last = int(np.ceil((right - view.left_deg) * view.px_per_deg))
        columns = np.arange(first, min(last, first + view.width_px - 1) + 1)
        if not view.turn:
            columns = columns[(columns >= 0) & (columns < view.width_px)]
        rows = np.arange(
            max(0, int(np.floor((view.top_deg - high) * view.px_per_deg))),
            min(view.height_px, int(np.ceil((view.top_deg - low) * view.px_per_deg)) + 1),
        )
        return columns, rows

    def _sources(
        self,
        picture: Pixels,
        frame: ProxyFrame,
        columns: NDArray[np.int64],
        rows: NDArray[np.int64],
    ) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
        """For each pixel of the window: where in the frame it is seen, and the frame's weight."""
        view = self.view
        bearing = np.radians(view.left_deg + (columns + 0.5) / view.px_per_deg)
        elevation = np.radians(view.top_deg - (rows + 0.5) / view.px_per_deg)
        turn = camera_from_world(frame.bearing_deg, frame.elevation_deg)
        level, high = np.cos(elevation)[:, None], np.sin(elevation)[:, None]
        rays = [
            level * (line[0] * np.sin(bearing) + line[2] * np.cos(bearing))[None] - line[1] * high
            for line in turn
        ]
        height, width = picture.shape[:2]
        focal = frame.focal_px * width / frame.width_px
        with np.errstate(divide="ignore", invalid="ignore"):
            depth = np.where(rays[2] > 0.05, rays[2], np.nan)
            across = focal * rays[0] / depth + (width - 1) / 2.0
            down = focal * rays[1] / depth + (height - 1) / 2.0
        inner = np.minimum(
            np.minimum(across, width - 1 - across), np.minimum(down, height - 1 - down)
        )
        weight = np.clip(inner / (_SOFT_SHARE * min(width, height)), 0.0, 1.0)
        return (
            np.nan_to_num(across, nan=-9.0).astype(np.float32),
            np.nan_to_num(down, nan=-9.0).astype(np.float32),
            np.nan_to_num(weight, nan=0.0).astype(np.float32),
        )


def _reach(frame: ProxyFrame) -> tuple[float, float, float]:
    """How far a frame reaches to either side of its bearing, and its top and bottom; degrees."""
    along = np.linspace(-0.5, 0.5, _EDGE_POINTS)
    ends = np.full(_EDGE_POINTS, 0.5)
    x = np.concatenate([along, along, ends, -ends]) * frame.width_px
    y = np.concatenate([ends, -ends, along, along]) * frame.height_px
    rays = np.stack([x, y, np.full(len(x), frame.focal_px)], axis=-1)
    bearing, elevation = bearing_elevation(rays @ camera_from_world(0.0, frame.elevation_deg))
    reach, high, low = float(abs(bearing).max()), float(elevation.max()), float(elevation.min())
    half_h = float(np.degrees(np.arctan(frame.height_px / 2.0 / frame.focal_px)))
    if frame.elevation_deg + half_h >= 90.0:
        return 180.0, 90.0, low
    if frame.elevation_deg - half_h <= -90.0:
        return 180.0, high, -90.0
    return reach, high, low


def _gain_table(gain: float) -> Pixels:
    """A factor on linear light as a table of encoded values; the sRGB curve is nearly x^2.2."""
    values = np.arange(256) * gain ** (1.0 / 2.2)
    table: Pixels = np.clip(np.round(values), 0, 255).astype(np.uint8)
    return table


def levels_between(
    count: int,
    first: NDArray[np.int64],
    second: NDArray[np.int64],
    difference: FloatArray,
    weight: FloatArray,
    least_misfit: float,
) -> FloatArray:
    """Values (count, k) whose differences second - first are those measured, by least squares.

    Parameters
    ----------
    first, second, weight
        (n,): the two ends of each measurement and its weight.
    difference
        (n, k).
    least_misfit
        Measurements that fit better than this are all believed alike.

    Returns
    -------
    FloatArray
        (count, k); what nothing is known of stays near 0. Outliers are given little weight
        (Cauchy's).
    """
    values = np.zeros((count, difference.shape[1]))
    if not len(first):
        return values
    own = weight
    for _ in range(_ROUNDS):
        each = np.concatenate([own, own, -own, -own])
        ends = (np.r_[first, second, first, second], np.r_[first, second, second, first])
        normal = coo_matrix((each, ends), shape=(count, count)) + _HOLD * identity(count)
        right = np.zeros_like(values)
        np.add.at(right, second, own[:, None] * difference)
        np.add.at(right, first, -own[:, None] * difference)
        values = np.asarray(spsolve(normal.tocsc(), right)).reshape(values.shape)
        misfit = np.linalg.norm(difference - (values[second] - values[first]), axis=1)
        scale = max(float(np.median(misfit)), least_misfit)
        own = weight / (1.0 + (misfit / (3.0 * scale)) ** 2)
    return values
