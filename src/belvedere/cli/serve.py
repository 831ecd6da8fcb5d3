"""`belvedere serve`."""

from __future__ import annotations

from belvedere.foundation import BelvedereError


def command() -> None:
    """Not built yet."""
    raise BelvedereError("`belvedere serve` is not built yet.")
