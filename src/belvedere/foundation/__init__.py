"""What every room speaks: angles, errors, progress, words for numbers, the sRGB curve."""

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
from belvedere.foundation.srgb import linear_from_srgb, srgb_from_linear
from belvedere.foundation.words import distance_words, duration_words, share_words, size_words

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
    "distance_words",
    "duration_words",
    "finish",
    "linear_from_srgb",
    "share_words",
    "size_words",
    "srgb_from_linear",
    "wrap_180",
    "wrap_360",
]
