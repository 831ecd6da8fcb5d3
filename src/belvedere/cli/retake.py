"""`belvedere retake`."""

from __future__ import annotations

from belvedere.foundation import BelvedereError


def command() -> None:
    """Not built yet."""
    raise BelvedereError("`belvedere retake` is not built yet.")
