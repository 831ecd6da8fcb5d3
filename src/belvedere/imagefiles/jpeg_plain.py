"""Pictures to look at, as JPEG without any EXIF."""

from __future__ import annotations

import numpy as np
import simplejpeg
from numpy.typing import NDArray


def jpeg_bytes(picture: NDArray[np.uint8], quality: int = 88) -> bytes:
    """A picture (height, width, 3) RGB as a baseline JPEG file."""
    encoded: bytes = simplejpeg.encode_jpeg(
        np.ascontiguousarray(picture), quality=quality, colorspace="RGB", colorsubsampling="420"
    )
    return encoded
