"""What every room speaks: units and angles, errors, progress."""

from belvedere.foundation.angles import wrap_180, wrap_360
from belvedere.foundation.errors import (
    EXIT_CODES,
    BelvedereError,
    CardError,
    OrientError,
    PlanError,
    PublishError,
    StoreError,
)
from belvedere.foundation.progress import Progress, Steps, finish

__all__ = [
    "EXIT_CODES",
    "BelvedereError",
    "CardError",
    "OrientError",
    "PlanError",
    "Progress",
    "PublishError",
    "Steps",
    "StoreError",
    "finish",
    "wrap_180",
    "wrap_360",
]
