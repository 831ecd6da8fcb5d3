"""Picture scenes: any patch is the same light, wherever its edges lie."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from belvedere.rehearse import PictureScene, Span
from belvedere.rehearse.tone import linear_of_srgb

PICTURE = np.random.default_rng(4).integers(0, 256, (60, 120, 3), dtype=np.uint8)
SPAN = Span(-6.0, 6.0, 3.0, -3.0)  # 10 px per degree
TURN = Span(-180.0, 180.0, 60.0, -60.0)


@pytest.mark.parametrize("outside", ["mirror", "clamp"])
def test_at_its_own_scale_a_patch_is_the_picture(outside: str) -> None:
    scene = PictureScene(PICTURE, SPAN, outside)  # type: ignore[arg-type]
    patch = scene.patch(-5.0, 2.0, 10.0, 70, 30)
    assert np.allclose(patch, linear_of_srgb(PICTURE[10:40, 10:80]), atol=2e-4)


def test_outside_the_picture_it_is_mirrored_or_goes_on() -> None:
    mirrored = PictureScene(PICTURE, SPAN, "mirror").patch(-8.0, 3.0, 10.0, 20, 60)
    assert np.allclose(mirrored, linear_of_srgb(PICTURE[:, 19::-1]), atol=2e-4)
    clamped = PictureScene(PICTURE, SPAN, "clamp").patch(-8.0, 3.0, 10.0, 20, 60)
    assert np.allclose(clamped, linear_of_srgb(PICTURE[:, :1]).repeat(20, axis=1), atol=2e-4)


@settings(deadline=None, max_examples=60)
@given(
    left=st.floats(-9.0, 9.0),
    top=st.floats(-4.0, 4.0),
    scale=st.floats(2.0, 60.0),
    cut=st.integers(1, 39),
)
def test_patches_side_by_side_are_one_patch(
    left: float, top: float, scale: float, cut: int
) -> None:
    scene = PictureScene(PICTURE, SPAN)
    whole = scene.patch(left, top, scale, 40, 24)
    a = scene.patch(left, top, scale, cut, 24)
    b = scene.patch(left + cut / scale, top, scale, 40 - cut, 24)
    assert np.allclose(np.concatenate([a, b], axis=1), whole, atol=2e-3)


@settings(deadline=None, max_examples=40)
@given(left=st.floats(-540.0, 540.0), turns=st.integers(-2, 2))
def test_a_full_turn_closes_on_itself(left: float, turns: int) -> None:
    scene = PictureScene(PICTURE, TURN)
    here = scene.patch(left, 20.0, 0.4, 30, 8)
    there = scene.patch(left + 360.0 * turns, 20.0, 0.4, 30, 8)
    assert np.allclose(here, there, atol=2e-3)


@settings(deadline=None, max_examples=40)
@given(scale=st.floats(0.6, 8.0))
def test_a_coarse_patch_keeps_the_mean_light(scale: float) -> None:
    # Coarser than the picture, a patch must gather light and not pick pixels: noise of standard
    # deviation 0.3 over 7200 pixels has a mean good to 0.004.
    scene = PictureScene(PICTURE, SPAN)
    width, height = round(12.0 * scale), round(6.0 * scale)
    patch = scene.patch(-6.0, 3.0, scale, width, height)
    assert patch.mean() == pytest.approx(linear_of_srgb(PICTURE).mean(), abs=0.06)
