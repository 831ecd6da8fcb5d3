"""Shadows by hand, and by a ray from the sun through the tip of the mast to the ground."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from belvedere.light import shadow_azimuth_deg, shadow_length_m, shadow_move_deg, shadow_move_m

azimuths = st.floats(0.0, 359.99)
elevations = st.floats(1.0, 89.0)

#: Elevation of the sun, length of the shadow of a mast of 10 m: 10 / tan.
LENGTHS = [(45.0, 10.0), (30.0, 17.3205), (60.0, 5.7735), (5.0, 114.3005), (90.0, 0.0)]


@pytest.mark.parametrize(("elevation", "length"), LENGTHS)
def test_length_by_hand(elevation: float, length: float) -> None:
    assert float(shadow_length_m(elevation)) == pytest.approx(length, abs=1e-3)
    assert float(shadow_length_m(elevation, 25.0)) == pytest.approx(2.5 * length, abs=1e-2)


def test_shadows_point_away_from_the_sun() -> None:
    assert shadow_azimuth_deg([0.0, 90.0, 180.0, 270.0]) == pytest.approx([180.0, 270.0, 0.0, 90.0])


def test_moves_by_hand() -> None:
    # Two sides of 10 m and 60° between them: the third is 10 m.
    assert float(shadow_move_deg(180.0, 45.0, 240.0, 45.0)) == pytest.approx(60.0)
    assert float(shadow_move_m(180.0, 45.0, 240.0, 45.0)) == pytest.approx(10.0)
    # Across north: 20°, not 340°.
    assert float(shadow_move_deg(350.0, 45.0, 10.0, 45.0)) == pytest.approx(20.0)
    # The same side, longer by 7.3205 m.
    assert float(shadow_move_m(200.0, 45.0, 200.0, 30.0)) == pytest.approx(7.3205, abs=1e-4)


def test_without_the_whole_sun_there_is_no_shadow() -> None:
    assert np.isnan(shadow_length_m(0.2))
    assert np.isnan(shadow_move_deg(180.0, 0.2, 190.0, 5.0))
    assert np.isnan(shadow_move_m(180.0, 5.0, 190.0, -3.0))


def _tip(azimuth_deg: float, elevation_deg: float, height_m: float) -> np.ndarray:
    """Where the ray from the sun past the top of the mast meets the ground: x east, y north."""
    north = np.array([0.0, 1.0, 0.0])
    sun = Rotation.from_euler("xz", [elevation_deg, -azimuth_deg], degrees=True).apply(north)
    top = np.array([0.0, 0.0, height_m])
    return top - sun * (height_m / sun[2])


@given(azimuths, elevations, azimuths, elevations, st.floats(1.0, 300.0))
def test_the_tip_moves_as_rays_say(a: float, up_a: float, b: float, up_b: float, h: float) -> None:
    moved = np.linalg.norm(_tip(a, up_a, h) - _tip(b, up_b, h))
    assert float(shadow_move_m(a, up_a, b, up_b, h)) == pytest.approx(moved, rel=1e-6, abs=1e-6)
