"""The sRGB curve between linear light and encoded values, both 0 to 1 (IEC 61966-2-1:1999)."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

F = TypeVar("F", np.float32, np.float64)


def linear_from_srgb(encoded: NDArray[F]) -> NDArray[F]:
    """Linear light of encoded values, of any shape; the type of float is kept."""
    high = ((np.maximum(encoded, 0.0) + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, encoded / 12.92, high)


def srgb_from_linear(linear: NDArray[F]) -> NDArray[F]:
    """Encoded values of linear light, not rounded: the inverse of `linear_from_srgb`."""
    high = 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, linear * 12.92, high)
