"""What a simulated camera can look at: the Scene protocol, and any picture as a scene."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.rehearse.tone import linear_of_srgb, srgb_of_linear

FloatArray = NDArray[np.float64]
LinearImage = NDArray[np.float32]
Pixels = NDArray[np.uint8]
Outside = Literal["mirror", "clamp"]

_BORDERS = {"mirror": cv2.BORDER_REFLECT, "clamp": cv2.BORDER_REPLICATE}
_FULL_TURN_DEG = 360.0


class Scene(Protocol):
    """Light from every direction, at any scale, and how far away it comes from.

    A scene may move with the clock; at one moment it is the same every time it is asked.
    """

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> LinearImage:
        """A rectangle of the scene on an equirectangular lattice.

        Pixel (i, j) covers the bearings around ``left_deg + (i + 0.5) / px_per_deg`` and the
        elevations around ``top_deg - (j + 0.5) / px_per_deg``; bearings repeat every 360°.
        `at_s` is the moment, in seconds after the start of the shoot.

        Returns
        -------
        (height_px, width_px, 3) linear-light RGB, 0 to 1.
        """
        ...

    def distance_m(
        self, bearing_deg: FloatArray, elevation_deg: FloatArray, *, at_s: float = 0.0
    ) -> FloatArray:
        """Metres from the lens to what is seen in each direction; infinite for sky.

        Bearings and elevations broadcast against each other, and so does the answer.
        """
        ...


@dataclass(frozen=True, slots=True)
class Span:
    """The bearings and elevations that a picture covers, by its outer edges."""

    left_deg: float
    right_deg: float
    top_deg: float
    bottom_deg: float

    def __post_init__(self) -> None:
        if not (self.right_deg > self.left_deg and self.top_deg > self.bottom_deg):
            raise ValueError(f"a span needs left < right and bottom < top, not {self}")

    def grown(self, margin_deg: float) -> Span:
        """The span with `margin_deg` more on each side."""
        return Span(
            self.left_deg - margin_deg,
            self.right_deg + margin_deg,
            self.top_deg + margin_deg,
            self.bottom_deg - margin_deg,
        )

    def covered_by(self, width_px: int, height_px: int) -> Span:
        """The smallest span of a picture's shape that covers this one, around its middle."""
        across = self.right_deg - self.left_deg
        down = self.top_deg - self.bottom_deg
        px_per_deg = min(width_px / across, height_px / down)
        middle = (self.left_deg + self.right_deg) / 2.0
        level = (self.top_deg + self.bottom_deg) / 2.0
        half_across, half_down = width_px / px_per_deg / 2.0, height_px / px_per_deg / 2.0
        return Span(
            middle - half_across, middle + half_across, level + half_down, level - half_down
        )


class PictureScene:
    """A picture spread evenly over a span of bearings and elevations.

    Outside of the span it is mirrored or its edge goes on; a picture that spans 360° of bearing
    closes on itself.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB with the sRGB curve; not copied, not changed.
    span
        The edges of the picture on the sphere.
    outside
        What is seen beyond the edges.
    distance_m
        How far away all of it is; a picture does not know.
    """

    def __init__(
        self,
        picture: Pixels,
        span: Span,
        outside: Outside = "mirror",
        distance_m: float = float("inf"),
    ) -> None:
        if picture.ndim != 3 or picture.shape[2] != 3 or picture.dtype != np.uint8:
            raise ValueError("a picture scene needs a (height, width, 3) uint8 picture")
        if not distance_m > 0.0:
            raise ValueError(f"a picture scene is some metres away, not {distance_m} m")
        self._distance_m = distance_m
        self._span = span
        self._full_turn = abs(span.right_deg - span.left_deg - _FULL_TURN_DEG) < 1e-9
        self._border = _BORDERS[outside]
        self._levels = [picture]

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> LinearImage:
        """A rectangle of the scene; see `Scene.patch`. A picture stands still."""
        picture = self._level(px_per_deg)
        height, width = picture.shape[:2]
        across = width / (self._span.right_deg - self._span.left_deg)
        down = height / (self._span.top_deg - self._span.bottom_deg)
        columns = np.arange(width_px, dtype=np.float64) + 0.5
        rows = np.arange(height_px, dtype=np.float64) + 0.5
        x = (left_deg + columns / px_per_deg - self._span.left_deg) * across - 0.5
        y = (self._span.top_deg - top_deg + rows / px_per_deg) * down - 0.5
        crop, x0, y0 = self._crop(picture, x, y)
        turn = np.array([[across / px_per_deg, 0, x[0] - x0], [0, down / px_per_deg, y[0] - y0]])
        # Four channels are sampled more than twice as fast as three.
        patch = cv2.warpAffine(
            linear_of_srgb(cv2.cvtColor(crop, cv2.COLOR_RGB2RGBA).astype(np.uint8, copy=False)),
            turn,
            (width_px, height_px),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return cv2.cvtColor(patch, cv2.COLOR_RGBA2RGB).astype(np.float32, copy=False)

    def distance_m(
        self, bearing_deg: FloatArray, elevation_deg: FloatArray, *, at_s: float = 0.0
    ) -> FloatArray:
        """The same distance everywhere; see `Scene.distance_m`."""
        shape = np.broadcast_shapes(np.shape(bearing_deg), np.shape(elevation_deg))
        return np.full(shape, self._distance_m)

    def _level(self, px_per_deg: float) -> Pixels:
        """The picture halved until it is no more than about twice as fine as the patch.

        Halves are means of 2 × 2 pixels in linear light, made when first needed.
        """
        across = self._levels[0].shape[1] / (self._span.right_deg - self._span.left_deg)
        wanted = max(0, int(np.floor(np.log2(max(across / px_per_deg, 1e-9)) + 0.25)))
        while len(self._levels) <= wanted and min(self._levels[-1].shape[:2]) > 2:
            self._levels.append(_halved(self._levels[-1]))
        return self._levels[min(wanted, len(self._levels) - 1)]

    def _crop(
        self, picture: Pixels, x: NDArray[np.float64], y: NDArray[np.float64]
    ) -> tuple[Pixels, int, int]:
        """The part of the picture that x and y (px, ascending) need, with its origin."""
        height, width = picture.shape[:2]
        x0, x1 = int(np.floor(x[0])) - 1, int(np.ceil(x[-1])) + 2
        y0, y1 = int(np.floor(y[0])) - 1, int(np.ceil(y[-1])) + 2
        sideways = cv2.BORDER_WRAP if self._full_turn else self._border
        columns = _indices(x0, x1, width, sideways)
        rows = _indices(y0, y1, height, self._border)
        if x0 >= 0 and x1 <= width and y0 >= 0 and y1 <= height:
            return picture[y0:y1, x0:x1], x0, y0
        return picture[rows][:, columns], x0, y0


def _indices(start: int, stop: int, size: int, border: int) -> NDArray[np.int64]:
    """Where start…stop lie in 0…size - 1 when the picture repeats, mirrors or ends."""
    index = np.arange(start, stop)
    if border == cv2.BORDER_WRAP:
        return index % size
    if border == cv2.BORDER_REFLECT:
        folded = index % (2 * size)
        return np.where(folded < size, folded, 2 * size - 1 - folded)
    return np.clip(index, 0, size - 1)


def _halved(picture: Pixels) -> Pixels:
    height, width = (-(-size // 2) for size in picture.shape[:2])
    linear = cv2.resize(linear_of_srgb(picture), (width, height), interpolation=cv2.INTER_AREA)
    return srgb_of_linear(linear.astype(np.float32, copy=False))
