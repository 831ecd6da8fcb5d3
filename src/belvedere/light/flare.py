"""Cells with the sun in the frame, or near enough to it for flare.

A level camera with a rectilinear lens looks along (azimuth, elevation). Never look at the sun
through a long lens, and keep the lens covered until the sweep begins: it burns eye and sensor.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from belvedere.light.model import Site, SunInCell, SweptCells
from belvedere.light.sun import RISE_DEG, SUN_RADIUS_DEG, SunPath, sun_path

#: Flare is likely with the sun closer to the corner of the frame than this: a hood no longer
#: keeps it off the front lens. Common practice, no source; a longer hood does better.
FLARE_MARGIN_DEG = 10.0


def sun_in_cells(
    cells: SweptCells, release_unix_s: NDArray[np.float64], site: Site
) -> tuple[SunInCell, ...]:
    """The cells that the sun gets into or near to at the moment of their frame, in sweep order.

    `release_unix_s` is (n,), seconds since 1970. Empty where the true azimuths are unknown.
    """
    if cells.azimuth_deg is None:
        return ()
    sun = sun_path(release_unix_s, site)
    separation, inside, near = sun_and_frames(
        sun, cells.azimuth_deg, cells.elevation_deg, cells.hfov_deg, cells.vfov_deg
    )
    index = np.flatnonzero(near)
    return tuple(
        SunInCell(cell, angle, within)
        for cell, angle, within in zip(
            index.tolist(), separation[index].tolist(), inside[index].tolist(), strict=True
        )
    )


def sun_and_frames(
    sun: SunPath,
    azimuth_deg: NDArray[np.float64],
    elevation_deg: NDArray[np.float64],
    hfov_deg: float,
    vfov_deg: float,
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.bool_]]:
    """How frames and sun stand to each other; sun and axes broadcast.

    Returns
    -------
    The angle between the axis and the sun's centre in degrees; whether any of the sun's disc is
    inside the frame; whether the sun is inside or near enough for flare. Both are false while
    the sun is below the horizon.
    """
    right, up, forward = _in_camera(
        np.radians(sun.azimuth_deg - azimuth_deg),
        np.radians(sun.apparent_elevation_deg),
        np.radians(elevation_deg),
    )
    separation = np.degrees(np.arctan2(np.hypot(right, up), forward))
    risen = sun.elevation_deg >= RISE_DEG
    # The frame's sides are planes through the lens; the disc may reach over each by its radius.
    reach = np.sin(np.radians(SUN_RADIUS_DEG))
    half_across, half_down = np.radians(hfov_deg) / 2.0, np.radians(vfov_deg) / 2.0
    beyond_side = np.abs(right) * np.cos(half_across) - forward * np.sin(half_across)
    beyond_edge = np.abs(up) * np.cos(half_down) - forward * np.sin(half_down)
    inside = risen & (forward > 0.0) & (beyond_side <= reach) & (beyond_edge <= reach)
    corner = np.degrees(np.arctan(np.hypot(np.tan(half_across), np.tan(half_down))))
    near = inside | (risen & (separation < corner + FLARE_MARGIN_DEG))
    return separation, inside, near


def _in_camera(
    turn: NDArray[np.float64], sun_elevation: NDArray[np.float64], axis: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Unit vector to the sun as the camera sees it: right, up, forward. Angles in radians."""
    level = np.cos(sun_elevation)
    right = level * np.sin(turn)
    ahead, height = level * np.cos(turn), np.sin(sun_elevation)
    return (
        right,
        height * np.cos(axis) - ahead * np.sin(axis),
        ahead * np.cos(axis) + height * np.sin(axis),
    )
