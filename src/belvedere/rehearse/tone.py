"""The sRGB tone curve, IEC 61966-2-1:1999, between linear light and 8-bit code values."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LinearImage = NDArray[np.float32]
Pixels = NDArray[np.uint8]

_STEPS = 65535


def encode_srgb(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear light 0..1 to the curve's 0..1, not rounded."""
    return np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0) ** (1 / 2.4) - 0.055
    )


def decode_srgb(encoded: NDArray[np.float64]) -> NDArray[np.float64]:
    """The inverse of `encode_srgb`."""
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


_LINEAR_OF_CODE = decode_srgb(np.arange(256) / 255.0).astype(np.float32)
_CODE_OF_LINEAR = np.rint(255.0 * encode_srgb(np.arange(_STEPS + 1) / _STEPS)).astype(np.uint8)


def linear_of_srgb(picture: Pixels) -> LinearImage:
    """8-bit sRGB of any shape to linear light 0..1."""
    return np.take(_LINEAR_OF_CODE, picture)


def srgb_of_linear(linear: LinearImage) -> Pixels:
    """Linear light of any shape to 8-bit sRGB; what lies outside 0..1 is cut."""
    steps = np.clip(linear, 0.0, 1.0)
    steps *= np.float32(_STEPS)
    steps += np.float32(0.5)
    return np.take(_CODE_OF_LINEAR, steps.astype(np.uint16))
