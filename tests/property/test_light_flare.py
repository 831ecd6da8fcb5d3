"""Sun in the frame, against a projection written here: rim of the disc onto a flat sensor."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.light import FLARE_MARGIN_DEG, Site, SweptCells, sun_in_cells, sun_path

#: Radius of the sun's disc: 16′ of arc, as the almanacs round it.
DISC_DEG = 16.0 / 60.0
NO_PAIRS = (np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp))


def _direction(azimuth_deg: float, elevation_deg: float) -> NDArray[np.float64]:
    """x east, y north, z up."""
    turn = Rotation.from_euler("xz", [elevation_deg, -azimuth_deg], degrees=True)
    vector: NDArray[np.float64] = turn.apply([0.0, 1.0, 0.0])
    return vector


def _on_sensor(
    rays: NDArray[np.float64], azimuth_deg: float, elevation_deg: float
) -> NDArray[np.float64]:
    """Where rays (n, 3) meet the plane one unit in front of a level camera; NaN from behind."""
    axis = _direction(azimuth_deg, elevation_deg)
    right = np.cross(axis, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    up = np.cross(right, axis)
    depth = rays @ axis
    depth = np.where(depth > 1e-9, depth, np.nan)
    return np.stack([rays @ right / depth, rays @ up / depth], axis=-1)


def _disc(azimuth_deg: float, elevation_deg: float, radius_deg: float) -> NDArray[np.float64]:
    """The centre and the rim of a disc in the sky, and rings between."""
    centre = _direction(azimuth_deg, elevation_deg)
    aside = np.cross(centre, _direction(azimuth_deg + 90.0, 0.0))
    rim = Rotation.from_rotvec(np.radians(radius_deg) * aside).apply(centre)
    around = np.linspace(0.0, 2.0 * np.pi, 361)[:, None] * centre
    rays: NDArray[np.float64] = Rotation.from_rotvec(around).apply(rim)
    return np.vstack([centre, rays])


def _touches(
    sun: tuple[float, float], axis: tuple[float, float], fov: tuple[float, float], radius: float
) -> bool:
    points = _on_sensor(_disc(*sun, radius), *axis)
    half = np.tan(np.radians(fov) / 2.0)
    return bool((np.abs(points) <= half).all(axis=-1).any())


@st.composite
def _views(draw: st.DrawFn) -> tuple[float, float, float, float, float]:
    """A frame that looks somewhere near the sun: offsets from it, fields of view, hour."""
    across, down = draw(st.floats(2.0, 100.0)), draw(st.floats(2.0, 80.0))
    reach = st.floats(-1.0, 1.0)
    return draw(reach) * across, draw(reach) * down, across, down, draw(st.floats(0.0, 86_400.0))


@given(_views(), st.floats(-65.0, 65.0))
def test_in_the_frame_as_the_sensor_sees_it(
    view: tuple[float, float, float, float, float], latitude: float
) -> None:
    aside, above, across, down, second = view
    release = np.array([1_780_000_000.0 + second])
    site = Site(latitude, 0.0)
    path = sun_path(release, site)
    sun = float(path.azimuth_deg[0]), float(path.apparent_elevation_deg[0])
    axis = sun[0] + aside, sun[1] + above
    assume(abs(axis[1]) < 89.0)
    cells = SweptCells(
        np.zeros(1), np.array([axis[0]]), np.array([axis[1]]), across, down, NO_PAIRS
    )
    found = sun_in_cells(cells, release, site)
    if float(path.elevation_deg[0]) < -0.8333:
        assert found == ()
        return
    fov = (across, down)
    angle = float(
        np.degrees(
            np.arctan2(
                np.linalg.norm(np.cross(_direction(*sun), _direction(*axis))),
                _direction(*sun) @ _direction(*axis),
            )
        )
    )
    inside = bool(found) and found[0].in_frame
    if inside:
        # At a corner the disc may lie over both edges and not over the corner: √2 of a radius.
        assert _touches(sun, axis, fov, 1.5 * DISC_DEG)
    else:
        assert not _touches(sun, axis, fov, 0.99 * DISC_DEG)
    if found:
        assert abs(found[0].separation_deg - angle) < 1e-6
    corner = np.degrees(np.arctan(np.hypot(*np.tan(np.radians(fov) / 2.0))))
    if abs(angle - corner - FLARE_MARGIN_DEG) > 1e-6 and not inside:
        assert bool(found) == (angle < corner + FLARE_MARGIN_DEG)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.integers(1, 120))
def test_each_cell_is_judged_at_its_own_moment(seed: int, count: int) -> None:
    """All at once or one by one: the same cells, and their indices are those of the sweep."""
    random = np.random.default_rng(seed)
    release_s = np.sort(random.uniform(0.0, 20_000.0, count))
    azimuths, elevations = random.uniform(0.0, 360.0, count), random.uniform(-20.0, 60.0, count)
    site, start_s = Site(48.0, 10.0), 1_780_040_000.0
    together = sun_in_cells(
        SweptCells(release_s, azimuths, elevations, 40.0, 27.0, NO_PAIRS),
        start_s + release_s,
        site,
    )
    alone = {}
    for index in range(count):
        one = slice(index, index + 1)
        cells = SweptCells(release_s[one], azimuths[one], elevations[one], 40.0, 27.0, NO_PAIRS)
        for cell in sun_in_cells(cells, start_s + release_s[one], site):
            alone[index] = cell
    assert [cell.cell for cell in together] == sorted(alone)
    for cell in together:
        assert abs(cell.separation_deg - alone[cell.cell].separation_deg) < 1e-4
        assert cell.in_frame == alone[cell.cell].in_frame
