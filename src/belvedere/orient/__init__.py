"""Tie points, adjustment on the sphere, the lens, the balance."""

from belvedere.orient.model import Orientation, OrientedFrame, Pointing

__all__ = ["Orientation", "OrientedFrame", "Pointing"]
