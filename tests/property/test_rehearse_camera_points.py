"""Whatever blurs a frame, a point lands where the lens model projects it, and keeps its light."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.optics import LensModel, ev100
from belvedere.rehearse import (
    Blur,
    CameraSettings,
    FrameConditions,
    Optic,
    Oscillation,
    linear_of_srgb,
    take_frame,
)
from belvedere.sphere import camera_from_world, direction
from camera_scenes import CLEAN, dots, moments

SIZE = (224, 176)


@settings(max_examples=60)
@given(
    focal_px=st.floats(400.0, 9000.0),
    turned_deg=st.tuples(st.floats(-180.0, 180.0), st.floats(-55.0, 55.0), st.floats(-5.0, 5.0)),
    at=st.tuples(st.floats(50.0, 173.0), st.floats(50.0, 125.0)),
    pull=st.floats(-0.01, 0.01),
    swing_px=st.floats(0.0, 8.0),
    blur=st.builds(Blur, st.floats(0.0, 3.0), st.floats(0.0, 8.0), st.floats(0.0, 180.0)),
    focus_m=st.sampled_from([None, 15.0, 20.0, 40.0]),
    f_number=st.sampled_from([2.8, 5.6, 11.0]),
)
def test_a_point_lands_where_opencv_projects_it(
    focal_px: float,
    turned_deg: tuple[float, float, float],
    at: tuple[float, float],
    pull: float,
    swing_px: float,
    blur: Blur,
    focus_m: float | None,
    f_number: float,
) -> None:
    # Oracle: cv2.projectPoints. The swing is a whole one, so that its mean is where the camera
    # points.
    corner = np.hypot(*SIZE) / 2.0 / focal_px
    lens = replace(LensModel.ideal(*SIZE, focal_px), k1=pull / corner**2)
    rotation = camera_from_world(*turned_deg)
    x, y, z = lens.unproject(np.array([at]))[0] @ rotation
    place = np.degrees([[np.arctan2(x, z), np.arcsin(-y)]])
    sigma_px = 1.5
    scene = dots(place, np.degrees(sigma_px / focal_px), 20.0)
    camera = CameraSettings(f_number=f_number, exposure_s=0.02, focus_m=focus_m)
    met = FrameConditions(
        light_ev100=ev100(f_number, 0.02, 100.0),
        blur=blur,
        oscillation=Oscillation(np.degrees(swing_px / focal_px) * 3600.0, 50.0, 0.0),
    )
    frame = take_frame(
        scene, lens, rotation, CLEAN, camera, met, np.random.default_rng(1), Optic(60.0, 8.0)
    )
    light = linear_of_srgb(frame.picture)[:, :, 1]
    matrix = np.array(
        [[focal_px, 0.0, lens.centre_x_px], [0.0, focal_px, lens.centre_y_px], [0.0, 0.0, 1.0]]
    )
    point, _ = cv2.projectPoints(
        direction(place[:, 0], place[:, 1])[:, None, :],
        cv2.Rodrigues(rotation)[0],
        np.zeros(3),
        matrix,
        np.array([lens.k1, 0.0, 0.0, 0.0, 0.0]),
    )
    found, _ = moments(light, point[0, 0], 45)
    assert np.linalg.norm(found - point[0, 0]) < 0.1
    # The dot's light: 2π σ² at the middle, less cos⁴ and what eight bits lose of faint rims.
    falls = (
        np.cos(
            np.arctan(np.hypot(*(point[0, 0] - [lens.centre_x_px, lens.centre_y_px])) / focal_px)
        )
        ** 4
    )
    assert light.sum(dtype=np.float64) == pytest.approx(2.0 * np.pi * sigma_px**2 * falls, rel=0.12)
