"""Layout, mapping and outlines for any pointing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.compose import Window, cropped, make_layout
from belvedere.compose.crop import largest_rectangle
from belvedere.compose.layout import frame_extent
from belvedere.compose.outlines import Outlines
from belvedere.compose.warp import frame_map, mosaic_rays, project_monotonic
from belvedere.foundation import OrientError
from belvedere.optics import LensModel
from belvedere.orient import Orientation, OrientedFrame
from belvedere.sphere import camera_from_world
from compose_synthetic import LENS, grid_shoot

bearings = st.floats(-180.0, 180.0)
elevations = st.floats(-55.0, 55.0)
rolls = st.floats(-20.0, 20.0)

WIDE = LensModel(3000, 2000, 2300.0, 1490.0, 1010.0, k1=-0.15, k2=0.04)


@settings(max_examples=20, deadline=None)
@given(bearings, elevations, rolls, st.sampled_from(["equirectangular", "cylindrical"]))
def test_the_lattice_is_within_a_fiftieth_of_a_pixel_of_the_formula(
    bearing: float, elevation: float, roll: float, projection: str
) -> None:
    turn = camera_from_world(bearing, elevation * 0.7, roll)
    orientation = Orientation(WIDE, (OrientedFrame("a", turn, np.ones(3)),), 0.0, 0)
    mapping = frame_map(make_layout(orientation, projection), WIDE, turn)
    for level in (0, 1, 2):
        width, height = mapping.layout.size_at(level)
        window = Window(width // 3, height // 3, width // 3 + 97, height // 3 + 61)
        x, y = mapping.over(level, window)
        exact = mapping.at(
            level,
            *np.meshgrid(
                np.arange(window.left, window.right, dtype=float),
                np.arange(window.top, window.bottom, dtype=float),
            ),
        )
        assert np.abs(x - exact[..., 0]).max() < 0.02
        assert np.abs(y - exact[..., 1]).max() < 0.02


@settings(max_examples=20, deadline=None)
@given(st.integers(-40, 400), st.integers(-40, 300), st.integers(1, 70), st.integers(1, 70))
def test_a_pixels_mapping_is_the_same_in_any_window(
    left: int, top: int, width: int, height: int
) -> None:
    orientation, _ = grid_shoot([3.0], [2.0])
    mapping = frame_map(make_layout(orientation), LENS, orientation.frames[0].camera_from_world)
    whole = Window(-64, -64, 512, 512)
    part = Window(left, top, left + width, top + height)
    here = np.s_[top + 64 : top + 64 + height, left + 64 : left + 64 + width]
    for one, all_ in zip(mapping.over(0, part), mapping.over(0, whole), strict=True):
        np.testing.assert_array_equal(one, all_[here])


@settings(max_examples=30, deadline=None)
@given(bearings, elevations, rolls)
def test_every_corner_of_a_frame_lies_in_the_layout(
    bearing: float, elevation: float, roll: float
) -> None:
    turn = camera_from_world(bearing, elevation, roll)
    layout = make_layout(Orientation(WIDE, (OrientedFrame("a", turn, np.ones(3)),), 0.0, 0))
    mapping = frame_map(layout, WIDE, turn)
    x, y = np.meshgrid(
        np.arange(0, layout.width_px, 37, dtype=float),
        np.arange(0, layout.height_px, 37, dtype=float),
    )
    pixels = mapping.at(0, x, y)
    inside = (np.abs(pixels[..., 0] - 1499.5) <= 1500) & (np.abs(pixels[..., 1] - 999.5) <= 1000)
    # As many of the frame's pixels as the frame has, to the lattice's grain, seen on the sphere.
    assert inside.sum() * 37 * 37 >= 0.9 * WIDE.width_px * WIDE.height_px * 0.75
    rays = mosaic_rays(layout, x[inside], y[inside])
    seen = WIDE.project(rays @ turn.T)
    np.testing.assert_allclose(seen, pixels[inside], atol=1e-6)


def test_a_folding_lens_does_not_show_itself_twice() -> None:
    """Strong barrel distortion folds back at 1/√(-3 k1) focal lengths; the mapping must not."""
    lens = LensModel(1000, 700, 720.0, 499.5, 349.5, k1=-0.2)
    angle = np.radians(np.linspace(0.0, 179.0, 400))
    rays = np.stack([np.sin(angle), np.zeros_like(angle), np.cos(angle)], axis=-1)
    orientation = Orientation(lens, (OrientedFrame("a", np.eye(3), np.ones(3)),), 0.0, 0)
    reach = frame_map(make_layout(orientation), lens, np.eye(3)).reach
    x = project_monotonic(lens, rays, reach)[:, 0]
    assert np.isfinite(x).all()
    assert (np.diff(x) > -1e-3).all()


def test_extent_with_a_pole_is_the_whole_turn() -> None:
    extent = frame_extent(LensModel.ideal(900, 600, 800.0), camera_from_world(40.0, 80.0))
    assert extent.right_deg - extent.left_deg == 360.0
    assert extent.top_deg == 90.0


@settings(max_examples=30, deadline=None)
@given(st.floats(-180.0, 180.0))
def test_where_the_bearing_wraps_makes_no_difference(middle: float) -> None:
    def shoot(at: float) -> Orientation:
        return Orientation(
            LENS,
            tuple(
                OrientedFrame(str(k), camera_from_world(at + 10.0 * k, 1.0), np.ones(3))
                for k in (-1, 0, 1)
            ),
            0.0,
            0,
        )

    layout, plain = make_layout(shoot(middle)), make_layout(shoot(0.0))
    assert abs(layout.width_px - plain.width_px) <= 1
    assert layout.height_px == plain.height_px
    assert (layout.left_deg - middle - plain.left_deg + 180.0) % 360.0 == pytest.approx(
        180.0, abs=1e-6
    )


def test_the_cylindrical_projection_refuses_what_it_cannot_hold() -> None:
    turn = camera_from_world(0.0, 72.0)
    orientation = Orientation(LENS, (OrientedFrame("a", turn, np.ones(3)),), 0.0, 0)
    with pytest.raises(OrientError, match="equirectangular"):
        make_layout(orientation, "cylindrical")


def test_cropping_keeps_every_pixel_where_it_was() -> None:
    orientation, _ = grid_shoot([0.0, 10.0], [0.0])
    for projection in ("equirectangular", "cylindrical"):
        layout = make_layout(orientation, projection)
        part = cropped(layout, Window(33, 21, 200, 150))
        np.testing.assert_allclose(
            mosaic_rays(part, np.array([0.0, 50.0]), np.array([0.0, 70.0])),
            mosaic_rays(layout, np.array([33.0, 83.0]), np.array([21.0, 91.0])),
            atol=1e-12,
        )


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 9), st.integers(1, 9), st.floats(0.3, 0.95))
def test_the_largest_rectangle_is_the_largest(
    seed: int, height: int, width: int, share: float
) -> None:
    """Against trying every rectangle."""
    mask = np.random.default_rng(seed).random((height, width)) < share
    found = largest_rectangle(mask)
    largest = max(
        (b - t) * (r - left)
        for t in range(height)
        for b in range(t, height + 1)
        for left in range(width)
        for r in range(left, width + 1)
        if mask[t:b, left:r].all()
    )
    assert found.width * found.height == largest
    assert mask[found.top : found.bottom, found.left : found.right].all()


@settings(max_examples=20, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(0, 4),
    st.integers(0, 20).map(lambda n: 2 * n),
    st.integers(0, 20).map(lambda n: 2 * n),
)
def test_outlines_do_not_depend_on_the_window(seed: int, level: int, left: int, top: int) -> None:
    labels = np.random.default_rng(seed).integers(0, 3, (9, 12)).astype(np.int32)
    outlines = Outlines(labels, 2, False)
    width, height = (12 << 2) >> level, (9 << 2) >> level
    whole = Window(0, 0, width, height)
    part = Window(left, top, left + 10, top + 8).within(whole)
    for number in range(3):
        here = np.s_[part.top : part.bottom, part.left : part.right]
        np.testing.assert_array_equal(
            outlines.claim(level, part, number), outlines.claim(level, whole, number)[here]
        )


def test_claims_of_all_frames_add_up_to_one_inside() -> None:
    labels = np.random.default_rng(3).integers(0, 3, (9, 12)).astype(np.int32)
    outlines = Outlines(labels, 2, False)
    for level in (0, 2, 3):
        inside = Window(3, 2, (12 << 2 >> level) - 1, (9 << 2 >> level) - 1)
        total = sum(outlines.claim(level, inside, number) for number in range(3))
        np.testing.assert_array_equal(total, 1.0)
