"""Angles: wrapping and unit conversion."""

from __future__ import annotations


def wrap_180(angle_deg: float) -> float:
    """`angle_deg` brought into [-180, 180)."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def wrap_360(angle_deg: float) -> float:
    """`angle_deg` brought into [0, 360)."""
    return angle_deg % 360.0
