"""The sRGB tone curve between linear light and 8-bit code values, by tables."""

from __future__ import annotations

import cv2
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
    return cv2.LUT(picture, _LINEAR_OF_CODE).astype(np.float32, copy=False).reshape(picture.shape)


def srgb_of_linear(linear: LinearImage) -> Pixels:
    """Linear light of any shape to 8-bit sRGB; what lies outside 0..1 is cut."""
    steps = np.clip(linear, 0.0, 1.0)
    steps *= np.float32(_STEPS)
    steps += np.float32(0.5)
    codes = cv2.LUT(steps.astype(np.uint16), _CODE_OF_LINEAR)
    return codes.astype(np.uint8, copy=False).reshape(linear.shape)


class CodeTable:
    """Whole numbers of the sensor to 8-bit sRGB, with gains of red, green and blue on the way."""

    def __init__(self, largest: int, gains: tuple[float, float, float]) -> None:
        linear = np.minimum(np.arange(_STEPS + 1) / largest, 1.0)  # cv2 wants all 16 bits
        same = gains[:1] if len(set(gains)) == 1 else gains
        codes = [255.0 * srgb_from_linear(np.clip(linear * gain, 0.0, 1.0)) for gain in same]
        self._table = np.rint(np.stack(codes, axis=-1)[None]).astype(np.uint8)

    def codes(self, numbers: NDArray[np.uint16]) -> Pixels:
        """(height, width, 3) numbers to a picture."""
        return cv2.LUT(numbers, self._table).astype(np.uint8, copy=False)
