"""Directions, rotations, footprints and projections."""

from belvedere.sphere.directions import bearing_elevation, direction, separation_deg
from belvedere.sphere.footprints import (
    apex_deg,
    columns_for_turn,
    covered_elevations_deg,
    covers_pole,
    frames_for_span,
    half_bearing_deg,
    narrowest_half_bearing_deg,
    sagged_deg,
)
from belvedere.sphere.projections import PROJECTIONS, Projection
from belvedere.sphere.rotations import bearing_elevation_roll, camera_from_world

__all__ = [
    "PROJECTIONS",
    "Projection",
    "apex_deg",
    "bearing_elevation",
    "bearing_elevation_roll",
    "camera_from_world",
    "columns_for_turn",
    "covered_elevations_deg",
    "covers_pole",
    "direction",
    "frames_for_span",
    "half_bearing_deg",
    "narrowest_half_bearing_deg",
    "sagged_deg",
    "separation_deg",
]
