"""How far the entrance pupil may be off the axis the head turns about.

If the pupil swings, near things move against far ones from frame to frame, and no later work puts
both in their place. The case is the pupil in front of the axis, or behind it, by `offset_mm`
along the lens: between two neighbouring frames it moves sideways, at right angles to a thing half
way between their bearings. (A pupil beside the axis moves mostly along the line of sight, which
does less.) Distances are from the axis, in the plane of the turn.

With α half the step and the pupil in front by o, a point at distance d stands
``f d sin α / (d cos α - o)`` off the middle of one frame and as much off the other on the other
side. The difference of two such distances, twice, is the parallax. (Plane geometry; held to
OpenCV's projection in tests/reference/test_optics_parallax.py.)
"""

from __future__ import annotations

import math

from belvedere.foundation import PlanError
from belvedere.optics.demands import demand_positive, demand_range


def parallax_px(
    offset_mm: float, near_m: float, far_m: float, step_deg: float, focal_length_px: float
) -> float:
    """Pixels by which a near point moves against a far one between two neighbouring frames.

    `offset_mm` is positive with the pupil in front of the axis, negative behind it; the result is
    never negative. `far_m` may be infinite.
    """
    sine, cosine = _half_step(step_deg)
    demand_range(near_m, far_m)
    demand_positive(focal_length_px, "The focal length", "px")
    offset_m = offset_mm / 1000.0
    if near_m * cosine <= offset_m:
        raise PlanError(
            f"A point at {near_m:g} m lies behind a lens {offset_mm:g} mm in front of the axis.",
            "Give a larger near distance or a smaller offset.",
        )
    # (1/n - 1/F) o, divided by what the offset changes: written so that F may be infinite.
    apart = abs(offset_m) * (1.0 / near_m - 1.0 / far_m)
    scale = (cosine - offset_m / near_m) * (cosine - offset_m / far_m)
    return 2.0 * focal_length_px * sine * apart / scale


def largest_offset_mm(
    near_m: float, far_m: float, step_deg: float, focal_length_px: float, px: float = 0.5
) -> float:
    """The offset at which the parallax between neighbouring frames is `px`.

    The pupil in front of the axis, which is the worse side. Infinite where both distances are the
    same.
    """
    sine, cosine = _half_step(step_deg)
    demand_range(near_m, far_m)
    demand_positive(focal_length_px, "The focal length", "px")
    demand_positive(px, "The allowed parallax", "px")
    near_per_m, far_per_m = 1.0 / near_m, 1.0 / far_m
    if near_per_m == far_per_m:
        return math.inf
    # px (c - o/n)(c - o/F) = 2 f s o (1/n - 1/F): the smaller root of a o² - b o + c = 0, in the
    # form that stays exact as a goes to zero.
    a = px * near_per_m * far_per_m
    b = px * cosine * (near_per_m + far_per_m) + 2.0 * focal_length_px * sine * (
        near_per_m - far_per_m
    )
    c = px * cosine**2
    return 1000.0 * 2.0 * c / (b + math.sqrt(b * b - 4.0 * a * c))


def _half_step(step_deg: float) -> tuple[float, float]:
    """Sine and cosine of half the step between two frames."""
    if not 0.0 < step_deg < 180.0:
        raise PlanError(
            f"The step between two frames is {step_deg:g}°.", "Give one above 0° and below 180°."
        )
    half = math.radians(step_deg) / 2.0
    return math.sin(half), math.cos(half)
