"""Tie points, adjustment on the sphere, the lens, the balance."""

from belvedere.orient.model import (
    Orientation,
    OrientedFrame,
    PairResidual,
    Pointing,
    light_falloff,
)
from belvedere.orient.whole import orient

__all__ = [
    "Orientation",
    "OrientedFrame",
    "PairResidual",
    "Pointing",
    "light_falloff",
    "orient",
]
