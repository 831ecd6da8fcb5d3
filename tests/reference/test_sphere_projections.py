"""Projections against PROJ (through pyproj 3.7, PROJ 9.5), an independent implementation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Proj

from belvedere.sphere.projections import PROJECTIONS

PROJ_NAMES = {"equirectangular": "eqc", "cylindrical": "cc"}

bearings = st.floats(-179.9, 179.9)
elevations = st.floats(-74.0, 74.0)


# Printed by pyproj 3.7.2 with PROJ 9.5.1, +proj=eqc +R=1, to ten decimals.
@pytest.mark.parametrize(
    ("bearing", "elevation", "x", "y"),
    [
        (90.0, 0.0, 1.5707963268, 0.0),
        (-120.0, 30.0, -2.0943951024, 0.5235987756),
        (45.0, 60.0, 0.7853981634, 1.0471975512),
    ],
)
def test_equirectangular_has_the_values_of_proj_eqc(
    bearing: float, elevation: float, x: float, y: float
) -> None:
    assert PROJECTIONS["equirectangular"].forward(bearing, elevation) == pytest.approx(
        (x, y), abs=5e-11
    )


@pytest.mark.parametrize("name", PROJ_NAMES)
@given(bearing=bearings, elevation=elevations)
def test_forward_agrees_with_proj(name: str, bearing: float, elevation: float) -> None:
    proj = Proj(proj=PROJ_NAMES[name], R=1)
    assert PROJECTIONS[name].forward(bearing, elevation) == pytest.approx(
        proj(bearing, elevation), abs=1e-12, rel=1e-12
    )


@pytest.mark.parametrize("name", PROJ_NAMES)
@given(bearing=bearings, elevation=elevations)
def test_inverse_agrees_with_proj(name: str, bearing: float, elevation: float) -> None:
    proj = Proj(proj=PROJ_NAMES[name], R=1)
    x, y = proj(bearing, elevation)
    assert PROJECTIONS[name].inverse(x, y) == pytest.approx(
        proj(x, y, inverse=True), abs=1e-9, rel=1e-12
    )


@pytest.mark.parametrize("name", PROJ_NAMES)
def test_arrays_broadcast(name: str) -> None:
    x, y = PROJECTIONS[name].forward(np.array([[0.0], [10.0]]), np.array([1.0, 2.0, 3.0]))
    back = PROJECTIONS[name].inverse(*np.broadcast_arrays(x, y))
    np.testing.assert_allclose(back[0], [[0.0] * 3, [10.0] * 3], atol=1e-12)
    np.testing.assert_allclose(back[1], [[1.0, 2.0, 3.0]] * 2, atol=1e-12)
