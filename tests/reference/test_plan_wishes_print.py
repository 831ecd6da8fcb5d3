"""Wishes against figures that come from elsewhere: acuity, prints, pixels of a whole sphere."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pyproj import Geod

from belvedere.optics import LensModel, pixel_angle_arcsec
from belvedere.shoot.conditions import Wish
from belvedere.shoot.model import Camera
from belvedere.shoot.wishes import (
    dpi_for,
    focal_length_for,
    mm_per_px,
    print_sizes,
    viewing_distance_m,
)

#: 36 × 24 mm, 6 µm pixels.
FULL_FRAME = Camera(36.0, 24.0, 6000, 4000)

#: One minute of arc (visual acuity 1.0, ISO 8596, from memory) at a distance in m, as dpi:
#: 25.4 / (1000 d tan 1'), worked out apart from this code and written down to six figures.
ACUITY = [(0.25, 349.275), (1.0, 87.3188), (2.0, 43.6594), (10.0, 8.73188)]


@pytest.mark.parametrize(("distance_m", "dpi"), ACUITY)
def test_one_minute_of_arc_as_dpi(distance_m: float, dpi: float) -> None:
    # Half a unit of the sixth figure.
    assert dpi_for(distance_m) == pytest.approx(dpi, rel=2e-6)
    assert viewing_distance_m(dpi) == pytest.approx(distance_m, rel=2e-6)


def test_a_print_of_36000_pixels() -> None:
    """36,000 px are 120 inches at 300 dpi, 3.048 m, and twice that at 150: the inch is 25.4 mm
    (international yard and pound agreement, 1959)."""
    sizes = {size.dpi: size for size in print_sizes(36_000, 12_000)}
    assert sizes[300.0].width_mm == pytest.approx(3048.0, rel=1e-12)
    assert sizes[300.0].height_mm == pytest.approx(1016.0, rel=1e-12)
    assert sizes[150.0].width_mm == pytest.approx(6096.0, rel=1e-12)
    assert [size.dpi for size in print_sizes(36_000, 12_000)] == sorted(sizes, reverse=True)


def test_a_print_wish_by_hand() -> None:
    """A 3.048 m print at 300 dpi of a 90° view: 36,000 px over π/2, so f = 22918.3 px; with
    6 µm pixels 137.51 mm (by hand)."""
    wish = Wish(print_width_mm=3048.0, dpi=300.0)
    assert focal_length_for(wish, FULL_FRAME, 90.0, 30.0) == pytest.approx(137.510, abs=5e-4)


def test_a_print_for_a_viewing_distance_is_one_for_its_dpi() -> None:
    from_hand = Wish(print_width_mm=1000.0, viewing_distance_m=0.25)
    as_dpi = Wish(print_width_mm=1000.0, dpi=349.275)
    assert focal_length_for(from_hand, FULL_FRAME, 60.0, 20.0) == pytest.approx(
        focal_length_for(as_dpi, FULL_FRAME, 60.0, 20.0), rel=2e-6
    )


def test_a_whole_sphere_at_ten_seconds_of_arc() -> None:
    """Ten seconds of arc per pixel are 129,600 × 64,800 px of an equirectangular sphere,
    8.398080 gigapixels; so that wish needs the lens whose pixel sees ten seconds of arc."""
    focal_mm = focal_length_for(Wish(gigapixels=8.398080), FULL_FRAME, 360.0, 180.0)
    assert pixel_angle_arcsec(focal_mm / 0.006) == pytest.approx(10.0, rel=1e-12)


@pytest.mark.parametrize("distance_m", [3.0, 60.0, 2000.0])
def test_scale_as_the_lens_model_projects_it(distance_m: float) -> None:
    """A detail that stands square to the view, through the lens model (itself held to OpenCV's
    projectPoints): one pixel of it must be as large as `mm_per_px` says."""
    lens = LensModel.ideal(6000, 4000, 50_000.0)
    covered_m = mm_per_px(distance_m, 50_000.0) / 1e3
    left, right = lens.project(np.array([[0.0, 0.0, distance_m], [covered_m, 0.0, distance_m]]))
    assert right[0] - left[0] == pytest.approx(1.0, rel=1e-9)


def test_twelve_millimetres_at_sixty_metres_by_hand() -> None:
    """12 mm on 8 px are 1.5 mm per pixel; at 60 m that is 1/40,000 of the distance, so
    f = 40,000 px, or 240 mm with 6 µm pixels (by hand). Eight pixels are the four line pairs that
    recognition takes: J. Johnson 1958, from memory."""
    wish = Wish(smallest_mm=12.0, distance_m=60.0)
    assert wish.pixels_on_it == 8.0
    assert focal_length_for(wish, FULL_FRAME, 40.0, 10.0) == pytest.approx(240.0, rel=1e-12)


def test_a_minute_of_arc_on_the_ground() -> None:
    """A minute of latitude is a nautical mile, 1852 m: seen from the centre of a sphere of that
    size by pixels of one minute of arc, each covers as much. Source: pyproj.Geod on a sphere."""
    radius_m = 1852.0 * 60.0 * 180.0 / math.pi
    _, _, along_m = Geod(a=radius_m, b=radius_m).inv(0.0, 0.0, 0.0, 1.0 / 60.0)
    focal_px = 1.0 / math.radians(1.0 / 60.0)
    assert mm_per_px(radius_m, focal_px) / 1e3 == pytest.approx(along_m, rel=1e-6)
