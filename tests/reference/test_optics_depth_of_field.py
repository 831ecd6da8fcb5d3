"""Depth of field by value, and against a ray traced through a thin lens.

The values are those of the thin-lens formulae, worked apart from this program; no printed
handbook table could be read for them. So the rays are traced as well.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.optics import (
    circle_of_confusion_mm,
    defocus_blur_mm,
    f_number_between,
    focus_between_m,
    hyperfocal_m,
    near_far_m,
)

INF = math.inf

#: Focal length, f-number, circle (mm), focus (m); hyperfocal, near and far (m), four decimals.
TABLE = [
    (50.0, 8.0, 0.030, 5.0, 10.4667, 3.3894, 9.5274),
    (50.0, 16.0, 0.030, 3.0, 5.2583, 1.9152, 6.9188),
    (28.0, 8.0, 0.030, 2.0, 3.2947, 1.2471, 5.0463),
    (100.0, 5.6, 0.030, 10.0, 59.6238, 8.5740, 11.9950),
    (300.0, 8.0, 0.030, 50.0, 375.300, 44.1488, 57.6391),
    (300.0, 8.0, 0.006, 100.0, 1875.300, 94.9511, 105.6160),
    (30.5, 4.0, 0.00168, 100.0, 138.4606, 58.0664, 359.9273),
    (30.5, 5.6, 0.0055, 200.0, 30.2334, 26.2437, INF),
]


@pytest.mark.parametrize(("focal", "stop", "circle", "focus", "hyperfocal", "near", "far"), TABLE)
def test_hyperfocal_near_and_far_by_value(
    focal: float,
    stop: float,
    circle: float,
    focus: float,
    hyperfocal: float,
    near: float,
    far: float,
) -> None:
    # Printed to four decimals (hyperfocal of the long lens to three).
    assert hyperfocal_m(focal, stop, circle) == pytest.approx(hyperfocal, abs=6e-5)
    assert near_far_m(focus, focal, stop, circle) == pytest.approx((near, far), abs=6e-5)


def traced_blur_mm(distance_m: float, focus_m: float, focal_mm: float, stop: float) -> float:
    """Width of a pencil of rays where the sensor stands; ABCD matrices, E. Hecht, "Optics"."""
    to_sensor_m = 1.0 / (1e3 / focal_mm - 1.0 / focus_m)
    lens = np.array([[1.0, 0.0], [-1e3 / focal_mm, 1.0]])
    travel = np.array([[1.0, to_sensor_m], [0.0, 1.0]])
    edge_m = focal_mm / stop / 2e3
    hits = [
        (travel @ lens @ np.array([height, height / distance_m]))[0] for height in (-edge_m, edge_m)
    ]
    return float(abs(hits[1] - hits[0])) * 1e3


@pytest.mark.parametrize(("focal", "stop", "circle", "focus"), [row[:4] for row in TABLE])
@pytest.mark.parametrize("away", [0.4, 0.9, 1.0, 1.1, 3.0, 1e9])
def test_blur_is_where_rays_cross_the_sensor(
    focal: float, stop: float, circle: float, focus: float, away: float
) -> None:
    ours = defocus_blur_mm(focus * away, focus, focal, stop)
    # What is lost is the difference of two nearly equal heights.
    assert ours == pytest.approx(traced_blur_mm(focus * away, focus, focal, stop), abs=1e-9)


def test_at_the_hyperfocal_distance_half_of_it_to_infinity_is_sharp() -> None:
    """A rule of every handbook: focused at H, from H / 2 on."""
    hyperfocal = hyperfocal_m(300.0, 8.0, 0.006)
    near, far = near_far_m(hyperfocal, 300.0, 8.0, 0.006)
    assert near == pytest.approx(hyperfocal / 2.0, rel=1e-12)
    assert far == INF
    assert focus_between_m(near, far) == pytest.approx(hyperfocal, rel=1e-12)
    # Focused at infinity the near limit is the hyperfocal distance less the focal length.
    assert near_far_m(INF, 300.0, 8.0, 0.006) == pytest.approx((1875.0, INF), rel=1e-12)


def test_a_focus_between_by_hand() -> None:
    # 2 · 40 · 60 / 100 m; the harmonic mean lies nearer than the middle.
    assert focus_between_m(40.0, 60.0) == pytest.approx(48.0)
    # 300 mm, 40 to 60 m, one pixel of 6 µm: 1/40 - 1/48 per m · 300² mm² · 48/(48 - 0.3) / 6 µm.
    assert f_number_between(40.0, 60.0, 300.0, 0.006) == pytest.approx(62.893, abs=1e-3)


#: Diagonal and the diagonal over 1500, five decimals. The rule is that attributed to a maker of
#: lenses and common in the trade; no standard found.
DIAGONALS = [
    (36.0, 24.0, 0.02884),
    (23.6, 15.7, 0.01890),
    (22.3, 14.9, 0.01788),
    (17.3, 13.0, 0.01443),
    (13.2, 8.8, 0.01058),
    (7.6, 5.7, 0.00633),
    (7.44, 5.58, 0.00620),
]


@pytest.mark.parametrize(("width", "height", "circle"), DIAGONALS)
def test_circles_of_confusion(width: float, height: float, circle: float) -> None:
    given = circle_of_confusion_mm("diagonal/1500", 2.08, width, height)
    assert given == pytest.approx(circle, abs=6e-6)
    assert circle_of_confusion_mm("pixel", 2.08, width, height) == pytest.approx(0.00208)


def test_what_cannot_be_is_said_in_one_sentence() -> None:
    with pytest.raises(PlanError, match=r"0\.2 m lies within the focal length of 300 mm"):
        near_far_m(0.2, 300.0, 8.0, 0.006)
    with pytest.raises(PlanError, match="far distance is 10 m and the near one 20 m"):
        focus_between_m(20.0, 10.0)
    with pytest.raises(PlanError, match="f-number is 0; it must be above 0"):
        hyperfocal_m(300.0, 0.0, 0.006)
    with pytest.raises(PlanError, match=r"circle of confusion is nan mm"):
        f_number_between(10.0, 20.0, 300.0, math.nan)
