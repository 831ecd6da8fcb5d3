"""Directions, rotations, footprints and projections."""

from belvedere.sphere.directions import bearing_elevation, direction, separation_deg
from belvedere.sphere.rotations import bearing_elevation_roll, camera_from_world

__all__ = [
    "bearing_elevation",
    "bearing_elevation_roll",
    "camera_from_world",
    "direction",
    "separation_deg",
]
