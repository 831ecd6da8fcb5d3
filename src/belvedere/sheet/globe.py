"""The grid on the sphere: a glass globe with the camera at its centre."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from belvedere.sheet import svg
from belvedere.sheet.axes import compass
from belvedere.sheet.grid_picture import MOST_OUTLINES
from belvedere.sheet.outlines import FloatArray, outline_rays, thinned
from belvedere.sheet.plot import row_elevations
from belvedere.shoot import Briefing, Plan
from belvedere.sphere import camera_from_world, direction

_MARGIN = 26.0
#: The onlooker stands behind the camera, higher than it and a little to its side.
_ASIDE_DEG, _DOWN_DEG = 24.0, 22.0
_MOST_LINES = 60


def grid_on_sphere(briefing: Briefing, width_pt: float = 340.0) -> str:
    """The cells on a globe of glass, seen from outside, as an SVG document.

    Orthographic. The onlooker stands behind the camera and above it, and looks the way it does:
    so right is right. The far half of the globe, which the camera faces, is drawn firmly; the
    near half, which a full turn needs as well, is drawn pale.
    """
    plan = briefing.plan
    view = _view(plan)
    radius = width_pt / 2.0 - _MARGIN
    middle = width_pt / 2.0
    body = [
        '<circle cx="{0}" cy="{0}" r="{1}" fill="#fff" stroke="#000" stroke-width="0.8"/>'.format(
            svg.num(middle), svg.num(radius)
        ),
        *_curves(_graticule(), view, middle, radius, (svg.PALE, svg.PALE), (0.25, 0.2)),
        *_cells(plan, view, middle, radius),
        *_curves([_parallel(0.0)], view, middle, radius, (svg.INK, svg.GREY), (1.0, 0.5)),
        *_camera(view, middle, radius),
        *_compass_points(briefing, view, middle, radius),
        *_first_frame(plan, view, middle, radius),
    ]
    says = f"The {len(plan.cells)} frames on the sphere: {plan.shoot.title}".rstrip(": ")
    return svg.picture(width_pt, width_pt, says, body)


def _view(plan: Plan) -> FloatArray:
    """World to onlooker: x right, y down, z away."""
    bearings = [cell.bearing_deg for cell in plan.cells]
    middle = 0.0 if plan.shoot.grid.full_turn else (min(bearings) + max(bearings)) / 2.0
    return camera_from_world(middle - _ASIDE_DEG, -_DOWN_DEG)


def _cells(plan: Plan, view: FloatArray, middle: float, radius: float) -> Iterator[str]:
    ink, width = (svg.INK, svg.PALE), (0.45, 0.3)
    if len(plan.cells) > MOST_OUTLINES:
        yield from _curves(_bands(plan), view, middle, radius, ink, width)
        return
    far, near = [], []
    rays = {row: outline_rays(plan, at) for row, at in row_elevations(plan).items()}
    for cell in plan.cells:
        turned = _about_plumb(rays[cell.row], cell.bearing_deg) @ view.T
        if (turned[:, 2] >= 0.0).all():
            far.append(_closed(turned, middle, radius))
        elif (turned[:, 2] < 0.0).all():
            near.append(_closed(turned, middle, radius))
        else:
            ring = np.vstack([turned, turned[:1]])
            yield from _halves(ring, middle, radius, ink, width)
    yield svg.shape("".join(near), fill="none", stroke=svg.PALE, stroke_width="0.3")
    edge = 0.45 if len(plan.cells) < 500 else 0.15
    yield f'<g fill="#000" fill-opacity="0.06" stroke="#000" stroke-width="{edge}">'
    yield from (svg.shape(d) for d in far)
    yield "</g>"


def _bands(plan: Plan) -> list[FloatArray]:
    """Rows in place of frames, thinned out."""
    elevations = row_elevations(plan)
    bearings = [cell.bearing_deg for cell in plan.cells]
    every = 1 + (plan.rows - 1) // _MOST_LINES
    along = np.linspace(min(bearings), max(bearings), 121)
    return [direction(along, elevations[row]) for row in range(1, plan.rows + 1, every)]


def _about_plumb(rays: FloatArray, bearing_deg: float) -> FloatArray:
    """Rays (right, up, forward) of a frame at bearing 0 as world rays at `bearing_deg`."""
    c, s = math.cos(math.radians(bearing_deg)), math.sin(math.radians(bearing_deg))
    x, up, z = rays[:, 0], rays[:, 1], rays[:, 2]
    turned = np.column_stack([x * c + z * s, -up, z * c - x * s])
    unit: FloatArray = turned / np.linalg.norm(turned, axis=1, keepdims=True)
    return unit


def _closed(turned: FloatArray, middle: float, radius: float) -> str:
    return svg.polyline(_points(turned, middle, radius), closed=True)


def _points(turned: FloatArray, middle: float, radius: float) -> list[tuple[float, float]]:
    flat = thinned(middle + radius * turned[:, :2], 0.05)
    return [(float(x), float(y)) for x, y in flat]


def _parallel(elevation_deg: float) -> FloatArray:
    return direction(np.linspace(-180.0, 180.0, 181), elevation_deg)


def _graticule() -> list[FloatArray]:
    along = np.linspace(-90.0, 90.0, 91)
    meridians = [direction(bearing, along) for bearing in range(-180, 180, 30)]
    return meridians + [_parallel(at) for at in (-60.0, -30.0, 30.0, 60.0)]


def _curves(
    curves: list[FloatArray],
    view: FloatArray,
    middle: float,
    radius: float,
    ink: tuple[str, str],
    width: tuple[float, float],
) -> Iterator[str]:
    for curve in curves:
        yield from _halves(curve @ view.T, middle, radius, ink, width)


def _halves(
    turned: FloatArray,
    middle: float,
    radius: float,
    ink: tuple[str, str],
    width: tuple[float, float],
) -> Iterator[str]:
    """A line on the globe, its far parts firm and its near parts pale."""
    far = turned[:, 2] >= 0.0
    cuts = [0, *(np.flatnonzero(far[1:] != far[:-1]) + 1).tolist(), len(turned)]
    for first, last in pairwise(cuts):
        part = turned[max(first - 1, 0) : last]
        which = 0 if far[first] else 1
        d = svg.polyline(_points(part, middle, radius))
        yield svg.stroke(d, width=width[which], ink=ink[which])


def _place(ray: FloatArray, view: FloatArray, middle: float, radius: float) -> tuple[float, float]:
    turned = view @ ray
    return middle + radius * float(turned[0]), middle + radius * float(turned[1])


def _camera(view: FloatArray, middle: float, radius: float) -> Iterator[str]:
    """A small tripod at the centre, and the plumb line."""
    top = _place(direction(0.0, 90.0), view, middle, radius)
    yield svg.line(middle, middle, *top, width=0.4, dash="1 2")
    yield f'<circle cx="{svg.num(top[0])}" cy="{svg.num(top[1])}" r="1.4"/>'
    yield svg.text(top[0] + 4.0, top[1] - 3.0, "zenith", 7.5, italic=True, halo=True)
    for dx in (-6.0, 0.5, 6.0):
        yield svg.line(middle, middle, middle + dx, middle + 17.0, width=1.1)
    yield svg.shape(svg.box(middle - 4.5, middle - 4.0, 9.0, 6.0), fill=svg.INK)


def _compass_points(
    briefing: Briefing, view: FloatArray, middle: float, radius: float
) -> Iterator[str]:
    """Directions along the horizon: points of the compass where known, else bearings."""
    place = briefing.plan.shoot.conditions.place
    zero = place.zero_bearing_deg if place else None
    for number in range(8):
        bearing = 45.0 * number - (zero or 0.0)
        ray = direction(bearing, 0.0)
        x, y = _place(ray, view, middle, radius * 1.06)
        far = float(view[2] @ ray) > 0.0
        words = compass(45.0 * number) if zero is not None else f"{45 * number}°"
        if zero is None and number > 4:
            words = f"−{360 - 45 * number}°"
        north = zero is not None and number == 0
        yield svg.text(
            x,
            y + (-1.0 if far else 8.0),
            words,
            9.0 if north else 8.0,
            anchor="middle",
            bold=north,
            halo=True,
        )


def _first_frame(plan: Plan, view: FloatArray, middle: float, radius: float) -> Iterator[str]:
    for cell, fill in ((plan.cells[0], svg.INK), (plan.cells[-1], "#fff")):
        x, y = _place(direction(cell.bearing_deg, cell.elevation_deg), view, middle, radius)
        yield (f'<circle cx="{svg.num(x)}" cy="{svg.num(y)}" r="2.6" fill="{fill}" stroke="#000"/>')
