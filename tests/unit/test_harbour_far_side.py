"""The hard parts behind our back are as hard as they are meant to be."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from belvedere.foundation import srgb_from_linear
from belvedere.rehearse.harbour import HarbourScene

Grey = NDArray[np.float32]


@pytest.fixture(scope="module")
def scene() -> HarbourScene:
    return HarbourScene(7)


def _grey(scene: HarbourScene, middle: tuple[float, float], scale: float, size: int = 400) -> Grey:
    """Code values 0..255 of a square around a direction."""
    half = size / 2.0 / scale
    patch = scene.patch(middle[0] - half, middle[1] + half, scale, size, size)
    coded = srgb_from_linear(patch).astype(np.float32) * np.float32(255.0)
    return cv2.cvtColor(coded, cv2.COLOR_RGB2GRAY)


def _fine_detail(grey: Grey) -> float:
    """Standard deviation of what is finer than about 5 px."""
    return float((grey - cv2.GaussianBlur(grey, (0, 0), 2.0)).std())


@pytest.mark.parametrize("elevation", [1.0, -2.0, -3.5])
@pytest.mark.parametrize("scale", [60.0, 400.0, 2000.0])
def test_fog_and_still_water_have_nothing_to_match(
    scene: HarbourScene, elevation: float, scale: float
) -> None:
    # Less than a grey level: the noise of any camera hides it.
    assert _fine_detail(_grey(scene, (-140.0, elevation), scale)) < 0.6


def test_the_ropewalk_repeats_itself(scene: HarbourScene) -> None:
    # 3.1 m at 240 m are 0.74°: one bay further the picture is nearly the same.
    pitch_deg = float(np.degrees(3.1 / 240.0))
    scale = 75.0 / pitch_deg
    grey = _grey(scene, (112.0, 1.6), scale, 300)
    assert _fine_detail(grey) > 4.0
    here, next_bay = grey[:, :200], grey[:, 75:275]
    assert np.corrcoef(here.ravel(), next_bay.ravel())[0, 1] > 0.9
    half = np.corrcoef(grey[:, :200].ravel(), grey[:, 37:237].ravel())[0, 1]
    assert half < 0.5


@pytest.mark.parametrize("scale", [100.0, 400.0, 2000.0, 6000.0])
def test_print_has_detail_for_every_lens(scene: HarbourScene, scale: float) -> None:
    assert _fine_detail(_grey(scene, (-102.35, -6.9), scale)) > 3.0


@pytest.mark.parametrize(
    ("what", "at"),
    [
        ("paper", (-102.4, -6.1)),
        ("plaster", (118.0, 0.5)),
        ("boulder", (-60.0, -8.0)),
        ("a roof", (4.0, 3.1)),
        ("quay wall", (8.0, -1.45)),
    ],
)
@pytest.mark.parametrize("scale", [2000.0, 20_000.0])
def test_surfaces_keep_their_texture_however_near(
    scene: HarbourScene, what: str, at: tuple[float, float], scale: float
) -> None:
    assert _fine_detail(_grey(scene, at, scale)) > 0.3, what


@pytest.mark.parametrize("scale", [60.0, 150.0, 300.0])
def test_print_seen_from_afar_is_as_grey_as_its_ink(scene: HarbourScene, scale: float) -> None:
    # The print of one sheet: a half the scale shows the mean of four pixels, across the steps of
    # detail.
    wide, high = int(0.6 * scale), int(0.7 * scale)
    fine = scene.patch(-102.05, -6.75, 2.0 * scale, 2 * wide, 2 * high)
    coarse = scene.patch(-102.05, -6.75, scale, wide, high)
    averaged = cv2.resize(fine, (wide, high), interpolation=cv2.INTER_AREA)
    assert abs(float(averaged.mean() - coarse.mean())) < 0.06 * float(coarse.mean())


@pytest.mark.parametrize(
    ("bearing", "elevation", "metres"),
    [(-102.0, -6.5, 42.9), (118.0, 0.5, 240.0), (-140.0, 1.0, 900.0), (112.0, -0.85, 239.0)],
)
def test_the_far_side_has_its_depth(
    scene: HarbourScene, bearing: float, elevation: float, metres: float
) -> None:
    seen = scene.distance_m(np.array([bearing]), np.array([elevation]))
    assert seen[0] == pytest.approx(metres, rel=0.02)
