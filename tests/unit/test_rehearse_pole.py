"""Frames far from the zenith and the nadir ask for no more of the scene than they show."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.optics import LensModel
from belvedere.rehearse.view import view
from belvedere.sphere import camera_from_world


class Counting:
    """A plain grey scene that remembers how much of it was asked for."""

    def __init__(self) -> None:
        self.pixels = 0

    def patch(
        self,
        left_deg: float,
        top_deg: float,
        px_per_deg: float,
        width_px: int,
        height_px: int,
        *,
        at_s: float = 0.0,
    ) -> NDArray[np.float32]:
        self.pixels += width_px * height_px
        assert width_px * height_px < 20_000_000
        return np.full((height_px, width_px, 3), 0.5, dtype=np.float32)


@pytest.mark.parametrize("elevation_deg", [-30.0, -19.0, -16.0, 0.0, 17.0, 28.0])
@pytest.mark.parametrize("k1", [-0.4, -0.27, -0.16, 0.1])
def test_a_distorted_lens_does_not_see_the_pole_where_it_is_not(
    elevation_deg: float, k1: float
) -> None:
    # Barrel distortion of half a per cent in the corner of a 14° frame; far outside of the
    # frame its polynomial folds back, 70° away onto the frame itself.
    lens = LensModel(288, 216, 1180.0, 143.5, 107.5, k1=k1)
    scene = Counting()
    light = view(scene, lens, camera_from_world(36.0, elevation_deg, 0.4), 4)
    assert light.shape == (224, 296, 3)
    # 1.5 times finer each way, and some margin.
    assert scene.pixels < 6 * 224 * 296
