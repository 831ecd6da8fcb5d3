"""What is sharp enough in front of a lens and behind the point of focus.

The thin lens, exactly: distances are measured from the lens, so that at distance ``D`` with the
focus at ``s`` a point becomes a disc of diameter ``f² / (N (s - f)) · |D - s| / D``. All the rest
follows from it. (S. F. Ray, "Applied Photographic Optics", 3rd ed., 2002, chapter on depth of
field; D. M. Jacobson, "Photographic Lenses Tutorial"; both from memory.) How large a disc still
counts as a point is a choice, and is stated: one pixel, or the sensor's diagonal over 1500.
"""

from __future__ import annotations

import math
from typing import Literal

from belvedere.foundation import PlanError
from belvedere.optics.demands import demand_positive, demand_range


def circle_of_confusion_mm(
    rule: Literal["pixel", "diagonal/1500"],
    pixel_pitch_um: float,
    sensor_width_mm: float,
    sensor_height_mm: float,
) -> float:
    """The largest disc that still counts as a point.

    "pixel": one pixel, for a picture that is looked at pixel by pixel. "diagonal/1500": the
    sensor's diagonal over 1500, for a single frame that is looked at as a whole.
    """
    if rule == "pixel":
        demand_positive(pixel_pitch_um, "The pixel pitch", "µm")
        return pixel_pitch_um / 1000.0
    if rule == "diagonal/1500":
        diagonal_mm = math.hypot(sensor_width_mm, sensor_height_mm)
        demand_positive(diagonal_mm, "The sensor's diagonal", "mm")
        return diagonal_mm / 1500.0
    raise PlanError(
        f'There is no rule "{rule}" for the circle of confusion.',
        'Choose "pixel" or "diagonal/1500", or give the circle in mm.',
    )


def hyperfocal_m(focal_length_mm: float, f_number: float, circle_mm: float) -> float:
    """The nearest focus at which infinity is still sharp: ``H = f² / (N c) + f``."""
    demand_positive(focal_length_mm, "The focal length", "mm")
    demand_positive(f_number, "The f-number")
    demand_positive(circle_mm, "The circle of confusion", "mm")
    return (focal_length_mm**2 / (f_number * circle_mm) + focal_length_mm) / 1000.0


def near_far_m(
    focus_m: float, focal_length_mm: float, f_number: float, circle_mm: float
) -> tuple[float, float]:
    """The nearest and the farthest distance that are sharp; far is inf from the hyperfocal on.

    ``near = s (H - f) / (H + s - 2 f)``, ``far = s (H - f) / (H - s)``. An infinite `focus_m` is
    allowed: then the near limit is ``H - f``.
    """
    hyperfocal = hyperfocal_m(focal_length_mm, f_number, circle_mm)
    focal_m = focal_length_mm / 1000.0
    _demand_beyond_focal_length(focus_m, focal_length_mm)
    if math.isinf(focus_m):
        return hyperfocal - focal_m, math.inf
    near_m = focus_m * (hyperfocal - focal_m) / (hyperfocal + focus_m - 2.0 * focal_m)
    if focus_m >= hyperfocal:
        return near_m, math.inf
    return near_m, focus_m * (hyperfocal - focal_m) / (hyperfocal - focus_m)


def focus_between_m(near_m: float, far_m: float) -> float:
    """The focus at which a near and a far distance are equally unsharp: their harmonic mean.

    Exact for the thin lens, whatever the aperture. With `far_m` infinite, twice `near_m`.
    """
    demand_range(near_m, far_m)
    return 2.0 / (1.0 / near_m + 1.0 / far_m)


def f_number_between(
    near_m: float, far_m: float, focal_length_mm: float, circle_mm: float
) -> float:
    """The widest aperture that holds both distances, focused at `focus_between_m` of them.

    An f-number, not rounded to a mark; 0 where both distances are the same, since then any
    aperture will do.
    """
    demand_positive(circle_mm, "The circle of confusion", "mm")
    focus_m = focus_between_m(near_m, far_m)
    # The disc is as the aperture: what it would be at f/1 says how far to close.
    return defocus_blur_mm(near_m, focus_m, focal_length_mm, 1.0) / circle_mm


def defocus_blur_mm(
    distance_m: float, focus_m: float, focal_length_mm: float, f_number: float
) -> float:
    """Diameter on the sensor of the disc a point at `distance_m` becomes; both may be infinite."""
    demand_positive(focal_length_mm, "The focal length", "mm")
    demand_positive(f_number, "The f-number")
    _demand_beyond_focal_length(focus_m, focal_length_mm)
    if not distance_m > 0.0:
        raise PlanError(f"The distance is {distance_m:g} m.", "Give a number above 0.")
    # s / (s - f), written so that a focus at infinity is 1.
    extension = 1.0 / (1.0 - focal_length_mm / 1000.0 / focus_m)
    apart_per_m = abs(1.0 / focus_m - 1.0 / distance_m)
    return focal_length_mm**2 / f_number * extension * apart_per_m / 1000.0


def _demand_beyond_focal_length(focus_m: float, focal_length_mm: float) -> None:
    if not focus_m * 1000.0 > focal_length_mm:
        raise PlanError(
            f"A focus at {focus_m:g} m lies within the focal length of {focal_length_mm:g} mm, "
            "where no lens makes a picture.",
            "Give a larger distance, in metres.",
        )
