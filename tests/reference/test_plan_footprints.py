"""Footprints on the sphere against PROJ, and columns per row by value.

A frame of a rectilinear lens is a rectangle in the gnomonic projection centred on the direction
the camera looks in: PROJ's inverse of that projection (through pyproj) is the oracle.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod, Proj, Transformer

from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.sphere import (
    apex_deg,
    bearing_elevation,
    columns_for_turn,
    covered_elevations_deg,
    covers_pole,
    direction,
    frames_for_span,
    half_bearing_deg,
    narrowest_half_bearing_deg,
    sagged_deg,
    separation_deg,
)

fovs = st.floats(2.0, 80.0)
elevations = st.floats(-88.0, 88.0)

GEOCENTRIC = Transformer.from_pipeline(
    "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=cart +a=1 +b=1"
)


def _frame(elevation_deg: float) -> Proj:
    return Proj(proj="gnom", lat_0=elevation_deg, lon_0=0.0, R=1.0)


def _tan_half(fov_deg: float) -> float:
    return math.tan(math.radians(fov_deg) / 2.0)


@settings(deadline=None)
@given(fovs, fovs, elevations, st.floats(-1.0, 1.0))
def test_half_bearing_as_proj(across: float, down: float, elevation: float, height: float) -> None:
    x, y = _tan_half(across), height * _tan_half(down)
    longitude, _ = _frame(elevation)(x, y, inverse=True)
    assert half_bearing_deg(across, down, elevation, height) == pytest.approx(longitude, abs=1e-7)


@settings(deadline=None)
@given(fovs, fovs, elevations)
def test_no_height_of_a_frame_is_narrower_than_its_edge_nearer_the_horizon(
    across: float, down: float, elevation: float
) -> None:
    heights = np.linspace(-1.0, 1.0, 41) * _tan_half(down)
    longitudes, _ = _frame(elevation)(
        np.full_like(heights, _tan_half(across)), heights, inverse=True
    )
    narrowest = narrowest_half_bearing_deg(across, down, elevation)
    assert narrowest == pytest.approx(float(longitudes.min()), abs=1e-7)


@settings(deadline=None)
@given(fovs, elevations)
def test_a_frame_covers_the_pole_where_proj_puts_the_pole_inside(
    down: float, elevation: float
) -> None:
    pole = 90.0 if elevation >= 0.0 else -90.0
    if abs(elevation) < 0.01:
        assert not covers_pole(down, elevation)
        return
    x, y = _frame(elevation)(0.0, pole)
    assert x == pytest.approx(0.0, abs=1e-9)
    if abs(abs(y) - _tan_half(down)) > 1e-9:
        assert covers_pole(down, elevation) == (abs(y) < _tan_half(down))


@settings(deadline=None)
@given(st.floats(5.0, 80.0), st.floats(5.0, 60.0), st.floats(-60.0, 60.0), st.floats(0.0, 1.0))
def test_the_upper_edge_bends_as_proj_says(
    across: float, down: float, elevation: float, share: float
) -> None:
    """A level edge with its middle at `apex` meets the meridian `offset` away at `sagged`."""
    x = share * _tan_half(across)
    offset, latitude = _frame(elevation)(x, _tan_half(down), inverse=True)
    apex = elevation + down / 2.0
    if apex >= 90.0 or offset >= 90.0:
        return
    assert sagged_deg(apex, offset) == pytest.approx(latitude, abs=1e-6)
    assert apex_deg(latitude, offset) == pytest.approx(apex, abs=1e-6)


@settings(deadline=None)
@given(fovs, fovs, st.floats(-70.0, 70.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_what_a_frame_surely_covers_is_inside_it_by_proj(
    across: float, down: float, elevation: float, share: float, level: float
) -> None:
    offset = narrowest_half_bearing_deg(across, down, elevation)
    low, high = covered_elevations_deg(down, elevation, offset)
    low, high = max(low, -90.0), min(high, 90.0)
    if low >= high:
        return
    x, y = _frame(elevation)(share * offset, low + level * (high - low))
    assert abs(x) <= _tan_half(across) * (1.0 + 1e-9)
    assert abs(y) <= _tan_half(down) * (1.0 + 1e-9)


#: 40° × 27° frames: elevation; half-bearing at the lower edge, in the middle, at the upper edge;
#: columns of a full turn with an overlap of 25 % by the lower edge. Computed by hand from
#: atan2(x, cos p - y sin p) and ceil(360 / (2 h · 0.75)); PROJ agrees, see above. Sized by the
#: middle of the frame the rows from 30° up would get 11, 9, 7, 5: gaps.
ROWS = [
    (0.0, 20.0000, 20.0000, 20.0000, 12),
    (30.0, 20.2598, 22.7959, 26.0080, 12),
    (45.0, 22.5424, 27.2363, 34.1117, 11),
    (60.0, 27.2097, 36.0524, 51.2530, 9),
    (75.0, 36.5647, 54.5834, 85.7699, 7),
]


@pytest.mark.parametrize(("elevation", "lower", "middle", "upper", "columns"), ROWS)
def test_columns_per_row(
    elevation: float, lower: float, middle: float, upper: float, columns: int
) -> None:
    for height, expected in ((-1.0, lower), (0.0, middle), (1.0, upper)):
        assert half_bearing_deg(40.0, 27.0, elevation, height) == pytest.approx(expected, abs=5e-5)
    assert narrowest_half_bearing_deg(40.0, 27.0, elevation) == pytest.approx(lower, abs=5e-5)
    assert columns_for_turn(lower, 0.25) == columns
    # Below the horizon it is the upper edge that counts.
    assert narrowest_half_bearing_deg(40.0, 27.0, -elevation) == pytest.approx(lower, abs=5e-5)


def _turn_at(elevation: float) -> Plan:
    """A full turn of one row of 40° × 27° frames, the picture in its middle."""
    width_px, height_px = 4000, round(4000 * _tan_half(27.0) / _tan_half(40.0))
    focal_mm = 36.0 / (2.0 * _tan_half(40.0))
    camera = Camera(36.0, 36.0 * height_px / width_px, width_px, height_px)
    wish = GridWish(
        top_deg=elevation + 0.1,
        bottom_deg=elevation - 0.1,
        left_deg=None,
        right_deg=None,
        overlap_across=0.25,
        overlap_down=0.25,
        full_turn=True,
        rows=1,
        equal_columns=False,
    )
    return make_plan(Shoot("", camera, Lens(focal_mm), wish, Sweep()))


@pytest.mark.parametrize(("elevation", "columns"), [(row[0], row[4]) for row in ROWS])
def test_a_planned_full_turn_has_that_many_columns(elevation: float, columns: int) -> None:
    plan = _turn_at(elevation)
    assert plan.columns_per_row == (columns,)
    assert plan.column_steps_deg[0] == pytest.approx(360.0 / columns)


#: Focal length, sensor width, height; columns at the horizon with 25 % and 30 % of overlap by
#: ceil(360 / (fov (1 - overlap))). Common practice, no source.
HORIZON = [
    (50.0, 36.0, 13, 13),
    (300.0, 36.0, 70, 75),
    (20.0, 36.0, 6, 7),
    (30.5, 7.6, 34, 37),
    (200.0, 23.5, 72, 77),
]


@pytest.mark.parametrize(("focal", "width", "quarter", "third"), HORIZON)
def test_columns_at_the_horizon(focal: float, width: float, quarter: int, third: int) -> None:
    half = math.degrees(math.atan(width / (2.0 * focal)))
    assert columns_for_turn(half, 0.25) == quarter
    assert columns_for_turn(half, 0.30) == third


def test_an_even_division_needs_no_spare_column() -> None:
    assert columns_for_turn(20.0, 0.25) == 12  # 12 steps of 30°
    assert frames_for_span(100.0, 40.0, 0.25) == 3  # 40 + 30 + 30
    assert frames_for_span(100.0001, 40.0, 0.25) == 4
    assert frames_for_span(39.0, 40.0, 0.25) == 1


#: (bearing, elevation), (bearing, elevation), angle; degrees, computed by PROJ's geodesics.
ANGLES = [
    ((0.0, 45.0), (90.0, 45.0), 60.0),
    ((10.0, 60.0), (40.0, 60.0), 14.8709444523),
    ((350.0, -20.0), (10.0, -20.0), 18.7825716041),
    ((0.0, 80.0), (180.0, 80.0), 20.0),
    ((0.0, 89.999), (90.0, 89.999), 0.00141421356),
    ((0.0, 0.0), (1e-6, 0.0), 1e-6),
]


@pytest.mark.parametrize(("a", "b", "angle"), ANGLES)
def test_great_circle_by_value(
    a: tuple[float, float], b: tuple[float, float], angle: float
) -> None:
    assert float(separation_deg(direction(*a), direction(*b))) == pytest.approx(angle, rel=1e-8)


@settings(deadline=None)
@given(st.floats(-360.0, 360.0), elevations, st.floats(-360.0, 360.0), elevations)
def test_great_circle_as_proj(b1: float, e1: float, b2: float, e2: float) -> None:
    """Source: PROJ's geodesics on a sphere of radius 1 (C. F. F. Karney), through pyproj.Geod."""
    _, _, length = Geod(a=1.0, b=1.0).inv(b1, e1, b2, e2)
    ours = float(separation_deg(direction(b1, e1), direction(b2, e2)))
    assert ours == pytest.approx(math.degrees(length), abs=1e-9)


@settings(deadline=None)
@given(st.floats(-179.0, 180.0), st.floats(-89.0, 89.0))
def test_direction_as_proj_and_back(bearing: float, elevation: float) -> None:
    """Source: PROJ's conversion of latitude and longitude to geocentric axes, on a sphere."""
    x, y, z = GEOCENTRIC.transform(bearing, elevation, 0.0)
    right, down, forward = direction(bearing, elevation)
    assert (forward, right, -down) == pytest.approx((x, y, z), abs=1e-12)
    back = bearing_elevation(direction(bearing, elevation))
    assert (float(back[0]), float(back[1])) == pytest.approx((bearing, elevation), abs=1e-9)
