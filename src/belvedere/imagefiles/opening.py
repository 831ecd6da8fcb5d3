"""One way to open a picture that is not plain JPEG work, and to hear what its EXIF says."""

from __future__ import annotations

import functools
import io
import os
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path

from PIL import Image

#: More than any camera's frame: what a hostile file may claim so that memory runs out.
MOST_PIXELS = 400_000_000

#: What Pillow and its decoders raise on files that are not what they claim to be.
UNREADABLE = (
    OSError,
    ValueError,
    TypeError,
    SyntaxError,
    KeyError,
    IndexError,
    OverflowError,
    ZeroDivisionError,
    NotImplementedError,
    RuntimeError,
    EOFError,
    MemoryError,
    Image.DecompressionBombError,
)


@functools.cache
def _know_heic() -> None:
    import pillow_heif

    pillow_heif.register_heif_opener()


@contextmanager
def _silent_decoders() -> Iterator[None]:
    """Keep libtiff's complaints about broken files off standard error: damage is a finding."""
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


@contextmanager
def opened(picture: Path | bytes) -> Iterator[Image.Image]:
    """A picture opened by Pillow, HEIC included, without its warnings on standard error.

    Only one thread at a time may be inside: Python keeps its warning filters per process.
    """
    _know_heic()
    plain = isinstance(picture, bytes) and picture[:2] == b"\xff\xd8"
    with warnings.catch_warnings(), nullcontext() if plain else _silent_decoders():
        warnings.simplefilter("ignore")
        with Image.open(io.BytesIO(picture) if isinstance(picture, bytes) else picture) as image:
            if image.width * image.height > MOST_PIXELS:
                raise ValueError(f"claims {image.width} × {image.height} pixels")
            yield image
