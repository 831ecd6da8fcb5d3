"""`belvedere check`."""

from __future__ import annotations

from belvedere.foundation import BelvedereError


def command() -> None:
    """Not built yet."""
    raise BelvedereError("`belvedere check` is not built yet.")
