"""The sRGB tone curve between linear light and 8-bit code values, by tables."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.foundation import linear_from_srgb, srgb_from_linear

LinearImage = NDArray[np.float32]
Pixels = NDArray[np.uint8]

_STEPS = 65535


_LINEAR_OF_CODE = linear_from_srgb(np.arange(256) / 255.0).astype(np.float32)
_CODE_OF_LINEAR = np.rint(255.0 * srgb_from_linear(np.arange(_STEPS + 1) / _STEPS)).astype(np.uint8)


def linear_of_srgb(picture: Pixels) -> LinearImage:
    """8-bit sRGB of any shape to linear light 0..1."""
    return np.take(_LINEAR_OF_CODE, picture)


def srgb_of_linear(linear: LinearImage) -> Pixels:
    """Linear light of any shape to 8-bit sRGB; what lies outside 0..1 is cut."""
    steps = np.clip(linear, 0.0, 1.0)
    steps *= np.float32(_STEPS)
    steps += np.float32(0.5)
    return np.take(_CODE_OF_LINEAR, steps.astype(np.uint16))


class CodeTable:
    """Whole numbers of the sensor to 8-bit sRGB, with gains of red, green and blue on the way."""

    def __init__(self, largest: int, gains: tuple[float, float, float]) -> None:
        linear = np.arange(largest + 1) / largest
        codes = [255.0 * srgb_from_linear(np.clip(linear * gain, 0.0, 1.0)) for gain in gains]
        self._table = np.rint(np.concatenate(codes)).astype(np.uint8)
        self._offsets = (np.arange(3) * (largest + 1)).astype(np.uint32)
        self._same = len(set(gains)) == 1

    def codes(self, numbers: NDArray[np.uint16]) -> Pixels:
        """(height, width, 3) numbers to a picture."""
        if self._same:
            return np.take(self._table, numbers)
        return np.take(self._table, numbers + self._offsets)
