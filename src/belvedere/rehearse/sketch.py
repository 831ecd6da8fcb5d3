"""A made-up picture to rehearse on: quick to draw, fine detail everywhere, plain sky above.

Not a pleasure to look at; the harbour is for that. Benches and tests want many different scenes
in little time.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from belvedere.rehearse.scene import PictureScene, Span
from belvedere.shoot import Plan

Pixels = NDArray[np.uint8]

_FINEST_PX = 2
_SHAPES_PER_MP = 220
_MARGIN_DEG = 3.0
_MAX_SIDE_PX = 16_000


def sketch_scene(
    plan: Plan, seed: int, sky: float = 0.15, distance_m: float = float("inf")
) -> PictureScene:
    """A sketch that covers the grid of `plan` at the scale of its frames.

    `sky` is the share of the grid's height that is plain sky; all of it is `distance_m` away.
    """
    span = grid_span(plan).grown(_MARGIN_DEG)
    across, down = span.right_deg - span.left_deg, span.top_deg - span.bottom_deg
    scale = min(plan.scale_px_per_deg, _MAX_SIDE_PX / max(across, down))
    margin = _MARGIN_DEG / down
    picture = sketch(
        round(across * scale), round(down * scale), seed, margin + sky * (1.0 - 2.0 * margin)
    )
    return PictureScene(picture, span, distance_m=distance_m)


def grid_span(plan: Plan) -> Span:
    """What all the frames of a plan cover, about; the whole turn where they come near to one."""
    half_across, half_down = plan.horizontal_fov_deg / 2.0, plan.vertical_fov_deg / 2.0
    bearings = [cell.bearing_deg for cell in plan.cells]
    elevations = [cell.elevation_deg for cell in plan.cells]
    highest = min(max(abs(e) for e in elevations) + half_down, 85.0)
    half_across /= float(np.cos(np.radians(highest)))
    left, right = min(bearings) - half_across, max(bearings) + half_across
    if right - left > 360.0 - 2.0 * _MARGIN_DEG:
        left, right = -180.0, 180.0
    return Span(left, right, max(elevations) + half_down, min(elevations) - half_down)


def sketch(width_px: int, height_px: int, seed: int, sky: float = 0.15) -> Pixels:
    """A picture, (height_px, width_px, 3) uint8 RGB, whose top `sky` share is plain."""
    rng = np.random.default_rng(seed)
    shapes = _shapes(width_px, height_px, rng)
    grain = _grain(width_px, height_px, rng)
    ground = cv2.multiply(shapes, grain, scale=1.0 / 128.0).astype(np.uint8, copy=False)
    horizon = round(sky * height_px)
    if horizon > 0:
        ramp = np.linspace(0.0, 1.0, horizon)[:, None]
        plain = (1.0 - ramp) * np.array([150.0, 180.0, 215.0]) + ramp * np.array([205, 215, 225.0])
        ground[:horizon] = np.rint(plain)[:, None, :].astype(np.uint8)
    return ground


def _shapes(width: int, height: int, rng: np.random.Generator) -> Pixels:
    """Rectangles, discs and lines, large ones first, fine ones last."""
    picture = np.full((height, width, 3), 110, dtype=np.uint8)
    count = round(_SHAPES_PER_MP * width * height / 1e6)
    # Areas of all sizes have the same share, as in pictures of nature.
    sizes = np.sort(3.0 * (0.2 * min(width, height) / 3.0) ** (rng.random(count) ** 2.0))[::-1]
    x, y = rng.random(count) * width, rng.random(count) * height
    colours = rng.integers(40, 190, (count, 3))
    for kind, size, cx, cy, colour in zip(
        rng.integers(3, size=count), sizes, x, y, colours.tolist(), strict=True
    ):
        _draw(picture, int(kind), float(size), (int(cx), int(cy)), colour)
    return picture


def _draw(picture: Pixels, kind: int, size: float, at: tuple[int, int], colour: list[int]) -> None:
    cx, cy = at
    half = max(1, int(size / 2))
    if kind == 0:
        cv2.rectangle(picture, (cx - half, cy - half // 2), (cx + half, cy + half), colour, -1)
    elif kind == 1:
        cv2.circle(picture, (cx, cy), half, colour, -1, cv2.LINE_AA)
    else:
        end = (cx + half, cy + (half if cx % 2 else -half))
        cv2.line(picture, (cx - half, cy), end, colour, 1 + half // 40, cv2.LINE_AA)


def _grain(width: int, height: int, rng: np.random.Generator) -> Pixels:
    """Grain of all sizes around 128, the same in red, green and blue."""
    total = np.zeros((height, width), dtype=np.float32)
    step = _FINEST_PX
    while step < min(width, height):
        size = (-(-height // step) + 1, -(-width // step) + 1)
        coarse = rng.normal(0.0, 7.0, size).astype(np.float32)
        total += cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR)
        step *= 3
    grey: Pixels = np.clip(128.0 + total, 0, 255).astype(np.uint8)
    return np.repeat(grey[:, :, None], 3, axis=2)
