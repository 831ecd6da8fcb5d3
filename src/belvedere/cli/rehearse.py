"""`belvedere rehearse`."""

from __future__ import annotations

from belvedere.foundation import BelvedereError


def command() -> None:
    """Not built yet."""
    raise BelvedereError("`belvedere rehearse` is not built yet.")
