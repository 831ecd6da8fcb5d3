"""The quick look at the whole: against a scene that is known at every direction."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from belvedere.compose import Proxy, ProxyFrame, levels_between, view_of

WIDTH, HEIGHT, FOCAL = 120, 90, 160.0


def scene(
    bearing_deg: NDArray[np.float64], elevation_deg: NDArray[np.float64]
) -> NDArray[np.uint8]:
    """Smooth colours that tell every direction from its surroundings."""
    bearing, elevation = np.radians(bearing_deg), np.radians(elevation_deg)
    red = 128 + 100 * np.sin(3 * bearing)
    green = 128 + 100 * np.sin(5 * elevation + 1)
    blue = 128 + 60 * np.cos(2 * bearing) * np.cos(elevation)
    return np.round(np.stack([red, green, blue], axis=-1)).astype(np.uint8)


def photographed(frame: ProxyFrame) -> NDArray[np.uint8]:
    """The scene through an ideal lens: the gnomonic projection.

    J. P. Snyder, "Map Projections – A Working Manual", USGS Professional Paper 1395, 1987,
    equations 20-14, 20-15 and 22-18 (inverse gnomonic; from memory).
    """
    x, y = np.meshgrid(
        (np.arange(frame.width_px) - (frame.width_px - 1) / 2) / frame.focal_px,
        -(np.arange(frame.height_px) - (frame.height_px - 1) / 2) / frame.focal_px,
    )
    rho = np.maximum(np.hypot(x, y), 1e-12)
    c, phi = np.arctan(rho), np.radians(frame.elevation_deg)
    elevation = np.arcsin(np.cos(c) * np.sin(phi) + y * np.sin(c) * np.cos(phi) / rho)
    bearing = np.radians(frame.bearing_deg) + np.arctan2(
        x * np.sin(c), rho * np.cos(phi) * np.cos(c) - y * np.sin(phi) * np.sin(c)
    )
    return scene(np.degrees(bearing), np.degrees(elevation))


def directions(proxy: Proxy) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    view = proxy.view
    bearing = view.left_deg + (np.arange(view.width_px) + 0.5) / view.px_per_deg
    elevation = view.top_deg - (np.arange(view.height_px) + 0.5) / view.px_per_deg
    return np.meshgrid(bearing, elevation)


def hatched(picture: NDArray[np.uint8]) -> NDArray[np.bool_]:
    grey = (picture == picture[..., :1]).all(axis=-1)
    return grey & np.isin(picture[..., 0], (245, 205))


@given(st.floats(-170.0, 170.0), st.floats(-70.0, 70.0))
@settings(max_examples=25)
def test_a_frame_shows_every_direction_where_it_belongs(bearing: float, elevation: float) -> None:
    frame = ProxyFrame(bearing, elevation, FOCAL, WIDTH, HEIGHT)
    proxy = Proxy(view_of([frame], 4.0, 4000))
    proxy.add(photographed(frame), frame)
    picture = proxy.picture()
    empty = hatched(picture)
    off = np.abs(picture.astype(float) - scene(*directions(proxy)))[~empty]
    # Rounding twice, and the bend of the scene between pixels.
    assert off.max() < 3.0
    # What a frame of w × h at focal length f covers: Oosterom and Strackee 1983, four triangles.
    a, b = WIDTH / 2 / FOCAL, HEIGHT / 2 / FOCAL
    covered_sr = 4 * np.arctan(a * b / np.sqrt(1 + a * a + b * b))
    step = np.radians(1.0 / proxy.view.px_per_deg)
    found_sr = (np.cos(np.radians(directions(proxy)[1]))[~empty] * step * step).sum()
    assert found_sr == pytest.approx(covered_sr, rel=0.06)


def grid(columns: int, rows: int, step_deg: float, down_deg: float) -> list[ProxyFrame]:
    return [
        ProxyFrame(column * step_deg, -row * down_deg, FOCAL, WIDTH, HEIGHT)
        for row in range(rows)
        for column in range(columns)
    ]


def test_a_missing_frame_leaves_a_hatched_hole_where_it_should_be() -> None:
    frames = grid(5, 3, 26.0, 20.0)
    proxy = Proxy(view_of(frames, 4.0, 4000))
    for number, frame in enumerate(frames):
        if number != 7:
            proxy.add(photographed(frame), frame)
    rows, columns = np.nonzero(hatched(proxy.picture()))
    bearing, elevation = directions(proxy)
    inner = (abs(bearing[rows, columns] - 52.0) < 30) & (abs(elevation[rows, columns] + 20.0) < 22)
    assert bearing[rows, columns][inner].mean() == pytest.approx(52.0, abs=2.0)
    assert elevation[rows, columns][inner].mean() == pytest.approx(-20.0, abs=2.0)
    assert inner.sum() > 1000


def test_a_full_turn_closes_and_a_frame_over_the_seam_lies_on_both_ends() -> None:
    frames = [ProxyFrame(-180.0 + 30.0 * k, 0.0, FOCAL, WIDTH, HEIGHT) for k in range(12)]
    proxy = Proxy(view_of(frames, 4.0, 4000))
    assert (proxy.view.turn, proxy.view.width_px) == (True, 1440)
    for frame in frames:
        proxy.add(photographed(frame), frame)
    middle = proxy.picture()[proxy.view.height_px // 2]
    assert not hatched(middle[None]).any()
    off = np.abs(middle.astype(float) - scene(*directions(proxy))[proxy.view.height_px // 2])
    assert off.max() < 3.0


def test_later_frames_lie_over_earlier_ones_with_a_soft_edge() -> None:
    first, second = grid(2, 1, 20.0, 0.0)
    proxy = Proxy(view_of([first, second], 4.0, 4000))
    proxy.add(np.full((HEIGHT, WIDTH, 3), 60, dtype=np.uint8), first)
    proxy.add(np.full((HEIGHT, WIDTH, 3), 180, dtype=np.uint8), second)
    line = proxy.picture()[proxy.view.height_px // 2, :, 0].astype(int)
    line = line[(line != 245) & (line != 205)]
    steps = np.diff(line)
    assert (line[0], line[-1]) == (60, 180)
    assert (steps >= 0).all()
    assert 0 < steps.max() < 60


def test_gain_is_on_linear_light() -> None:
    """One stop more light of mid grey 118 is 161: the sRGB curve (IEC 61966-2-1), ±3 by x^2.2."""
    frame = ProxyFrame(0.0, 0.0, FOCAL, WIDTH, HEIGHT, gain=2.0)
    proxy = Proxy(view_of([frame], 4.0, 4000))
    proxy.add(np.full((HEIGHT, WIDTH, 3), 118, dtype=np.uint8), frame)
    assert abs(int(proxy.picture()[proxy.view.height_px // 2, 60, 0]) - 161) <= 3


@given(st.floats(0.01, 400.0), st.integers(16, 6000))
def test_no_side_is_longer_than_asked(scale: float, most: int) -> None:
    view = view_of(grid(9, 4, 26.0, 20.0), scale, most)
    assert 1 <= view.width_px <= most
    assert 1 <= view.height_px <= most + 1


@given(st.integers(2, 12), st.integers(0, 999))
def test_levels_are_those_whose_differences_were_measured(count: int, seed: int) -> None:
    """Made from known levels, which then come out again, but for what all share."""
    rng = np.random.default_rng(seed)
    truth = rng.normal(0.0, 5.0, (count, 2))
    first, second = np.triu_indices(count, 1)
    found = levels_between(
        count, first, second, truth[second] - truth[first], np.ones(len(first)), 0.1
    )
    assert found - found.mean(axis=0) == pytest.approx(truth - truth.mean(axis=0), abs=0.05)


def test_one_wrong_measurement_among_many_hardly_matters() -> None:
    count = 20
    truth = np.linspace(0.0, 10.0, count)[:, None]
    first = np.concatenate([np.arange(count - 1), np.arange(count - 2)])
    second = np.concatenate([np.arange(1, count), np.arange(2, count)])
    difference = truth[second] - truth[first]
    difference[5] += 100.0
    found = levels_between(count, first, second, difference, np.ones(len(first)), 0.1)
    assert np.abs(found - found.mean() - truth + truth.mean()).max() < 0.5
