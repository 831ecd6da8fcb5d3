"""Motion during an exposure, by published rates and by projecting what moves."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from belvedere.foundation import PlanError
from belvedere.optics import (
    angular_motion_px,
    shake_px,
    shutter_s_for_motion,
    shutter_s_for_shake,
    star_motion_px,
    star_rate_deg_s,
    subject_motion_px,
    subject_rate_deg_s,
)

FOCAL_PX = 20_626.48  # ten seconds of arc to a pixel


def test_the_sky_moves_fifteen_seconds_of_arc_a_second() -> None:
    """15.041 arcsec/s: the sidereal rate of every almanac."""
    assert star_rate_deg_s() * 3600.0 == pytest.approx(15.041, abs=5e-4)
    # At 15 arcsec/s and 10 arcsec a pixel, a pixel lasts 0.667 s.
    assert shutter_s_for_motion(1.0, star_rate_deg_s(), FOCAL_PX) == pytest.approx(0.667, rel=0.004)
    assert star_motion_px(10.0, FOCAL_PX) == pytest.approx(15.041, abs=1e-3)
    # Half way to the pole the circle of a star is cos 60° as large; the pole stands still.
    assert star_motion_px(10.0, FOCAL_PX, 60.0) == pytest.approx(15.041 / 2.0, abs=1e-3)
    assert star_motion_px(10.0, FOCAL_PX, -90.0) == pytest.approx(0.0, abs=1e-9)


def test_a_subject_moves_as_opencv_projects_it() -> None:
    """Source: cv2.projectPoints of a thing that crosses at 60 m, before and after the exposure."""
    matrix = np.array([[FOCAL_PX, 0.0, 0.0], [0.0, FOCAL_PX, 0.0], [0.0, 0.0, 1.0]])
    ends = np.array([[0.0, 0.0, 60.0], [1.4 / 125, 0.0, 60.0]])
    pixels, _ = cv2.projectPoints(ends, np.zeros(3), np.zeros(3), matrix, np.zeros(5))
    ours = subject_motion_px(1.4, 60.0, 1 / 125, FOCAL_PX)
    assert ours == pytest.approx(float(np.linalg.norm(pixels[1] - pixels[0])), rel=1e-9)


def test_a_shake_goes_as_far_as_its_samples() -> None:
    """Brute force: a sampled sinusoid, all starting moments, the greatest spread in the window."""
    amplitude_arcsec, rate_hz = 7.0, 12.0
    for shutter_s in (1 / 1000, 1 / 60, 1 / 30, 1 / 25, 1 / 20, 1 / 5):
        starts = np.linspace(0.0, 1.0 / rate_hz, 721)[:, None]
        times = starts + np.linspace(0.0, shutter_s, 721)[None, :]
        swing = amplitude_arcsec / 10.0 * np.sin(2.0 * np.pi * rate_hz * times)
        spread = float((swing.max(axis=1) - swing.min(axis=1)).max())
        ours = shake_px(amplitude_arcsec, rate_hz, shutter_s, FOCAL_PX)
        assert ours == pytest.approx(spread, rel=1e-4)


def test_a_shake_smaller_than_allowed_needs_no_short_exposure() -> None:
    assert shutter_s_for_shake(1.5, 7.0, 12.0, FOCAL_PX) == math.inf
    assert shutter_s_for_motion(0.5, 0.0, FOCAL_PX) == math.inf


def test_a_rate_is_the_angle_of_a_second() -> None:
    # 1 m/s at 206 264.8 m is one second of arc a second.
    rate = subject_rate_deg_s(1.0, 206_264.8)
    assert rate * 3600.0 == pytest.approx(1.0, rel=1e-6)
    assert angular_motion_px(rate, 10.0, FOCAL_PX) == pytest.approx(1.0, rel=1e-5)
    with pytest.raises(PlanError, match="The distance is 0 m"):
        subject_rate_deg_s(1.0, 0.0)
    with pytest.raises(PlanError, match="focal length is 0 pixels"):
        star_motion_px(1.0, 0.0)
