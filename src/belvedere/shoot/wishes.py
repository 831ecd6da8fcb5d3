"""Wishes to numbers and back: from what the picture shall show to the focal length.

All for the centre of a frame and a lens focused at infinity, like the rest of the plan: a pixel
sees the angle ``1 / f`` (f in pixels), so it covers ``distance / f`` of what stands square to the
view. A simple lens focused at a distance s draws larger by ``s / (s - f)``, half a per cent for
300 mm at 60 m; lenses that focus inside give some of it back. The plan counts on neither.

Sources: recognition takes 4 line pairs, so 8 pixels, across the least dimension of what is looked
at: J. Johnson, "Analysis of image forming systems", Image Intensifier Symposium, 1958, from
memory. The eye separates one minute of arc, the limen of visual acuity 1.0 (ISO 8596, from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal

from belvedere.foundation import PlanError
from belvedere.shoot.briefing import Advice, PrintSize, WishFacts
from belvedere.shoot.conditions import Wish
from belvedere.shoot.model import Camera, Lens, Plan

WishKind = Literal["mm_per_px", "smallest_mm", "print_width_mm", "gigapixels"]

MM_PER_INCH = 25.4
#: What the eye separates.
ACUITY_RAD = math.radians(1.0 / 60.0)
#: A wish counts as reached with this share less: lenses are marked no closer than that.
_NEAR_ENOUGH = 0.01
#: Resolutions that prints are ordered in (common practice, no source), and the distances that a
#: print is looked at from: in the hand, across a table, on a wall.
_PRINT_DPI = (300.0, 150.0)
_VIEWING_DISTANCES_M = (0.25, 1.0, 2.0)

_KINDS: tuple[WishKind, ...] = ("mm_per_px", "smallest_mm", "print_width_mm", "gigapixels")
_ONE_KIND = (
    "Give one of: mm_per_px or smallest_mm with distance_m, print_width_mm with dpi or "
    "viewing_distance_m, gigapixels."
)


def wish_kind(wish: Wish) -> WishKind:
    """Which kind of wish it is, once it is seen to be a whole one.

    Raises
    ------
    PlanError
        Where there is none, or more than one, or something is missing or has no meaning there.
    """
    kinds = [kind for kind in _KINDS if getattr(wish, kind) is not None]
    if not kinds:
        raise PlanError("[wish] does not say what the picture shall show.", _ONE_KIND)
    if len(kinds) > 1:
        raise PlanError(
            f"[wish] holds {len(kinds)} kinds of wish, {' and '.join(kinds)}, and each would need "
            "a focal length of its own.",
            "Keep the one that matters most.",
        )
    kind = kinds[0]
    _refuse_unless_complete(wish, kind)
    return kind


def focal_length_for(
    wish: Wish, camera: Camera, grid_width_deg: float, grid_height_deg: float
) -> float:
    """The focal length in mm that just fulfils a wish; a longer one fulfils it too.

    Parameters
    ----------
    wish
        One kind of wish, complete.
    camera
        Only its pixel pitch matters.
    grid_width_deg, grid_height_deg
        Size of the wanted picture: what a print or gigapixels are spread over.

    Raises
    ------
    PlanError
        Where the wish is none, several, or not complete.
    """
    kind = wish_kind(wish)
    return _mm(_needed_px(wish, kind, grid_width_deg, grid_height_deg), camera)


def mm_per_px(distance_m: float, focal_length_px: float) -> float:
    """What one pixel covers, in mm, of something that stands `distance_m` away."""
    return distance_m * 1e3 / focal_length_px


def settable_focal_length(focal_length_mm: float, lens: Lens) -> float:
    """The focal length within the lens' zoom range that is nearest to `focal_length_mm`."""
    shortest = lens.shortest_mm if lens.shortest_mm is not None else focal_length_mm
    longest = lens.longest_mm if lens.longest_mm is not None else focal_length_mm
    return max(shortest, min(longest, focal_length_mm))


def wish_facts(wish: Wish, plan: Plan) -> WishFacts:
    """What the wish needs, and what the plan reaches, in the unit of the wish.

    Raises
    ------
    PlanError
        Where the wish is none, several, or not complete.
    """
    kind = wish_kind(wish)
    width_deg, height_deg = grid_size_deg(plan)
    needed_px = _needed_px(wish, kind, width_deg, height_deg)
    focal_px = plan.focal_length_px
    return WishFacts(
        says=_says(wish, kind),
        needs_focal_length_mm=_mm(needed_px, plan.shoot.camera),
        reached=focal_px >= needed_px * (1.0 - _NEAR_ENOUGH),
        reaches=_reaches(wish, kind, focal_px, width_deg, height_deg),
    )


def nearest_that_would_do(
    wish: Wish,
    camera: Camera,
    focal_length_mm: float,
    grid_width_deg: float,
    grid_height_deg: float,
) -> str:
    """What to change so that `focal_length_mm` fulfils the wish: "go to 44 m, or …".

    Works both ways: where the focal length shows more than was wished, it says from how far away
    it would still do. Figures are rounded to the side that does.
    """
    kind = wish_kind(wish)
    focal_px = focal_length_mm * camera.image_width_px / camera.sensor_width_mm
    share = focal_px / _needed_px(wish, kind, grid_width_deg, grid_height_deg)
    return _CHANGES[kind](wish, share, grid_width_deg, grid_height_deg)


def out_of_reach(
    wish: Wish, camera: Camera, lens: Lens, grid_width_deg: float, grid_height_deg: float
) -> Advice | None:
    """What to say where the wished focal length lies outside the lens' zoom range; else None."""
    needed_mm = focal_length_for(wish, camera, grid_width_deg, grid_height_deg)
    nearest_mm = settable_focal_length(needed_mm, lens)
    if abs(nearest_mm / needed_mm - 1.0) <= _NEAR_ENOUGH:
        return None
    change = nearest_that_would_do(wish, camera, nearest_mm, grid_width_deg, grid_height_deg)
    wished = _says(wish, wish_kind(wish))
    if nearest_mm < needed_mm:
        return Advice(
            "stop",
            f"The lens is too short for the wish: {wished}.",
            f"that needs a focal length of {_rounded(needed_mm)} mm, and the lens ends at "
            f"{_rounded(nearest_mm)} mm",
            f"With {_rounded(nearest_mm)} mm: {change}.",
        )
    return Advice(
        "note",
        f"Even at its shortest, {_rounded(nearest_mm)} mm, the lens shows more than the wish: "
        f"{wished}.",
        f"the wish needs only {_rounded(needed_mm)} mm; the rest costs frames",
        f"With {_rounded(nearest_mm)} mm: {change}.",
    )


def flat_subject_says(wish: Wish, plan: Plan) -> str:
    """How the scale falls off towards the sides of a flat wall, where that is 5 % or more.

    A wall whose middle is `distance_m` away and square to the view is ``1 / cos a`` as far at an
    angle `a` from there, and seen at a slant: a pixel covers ``1 / cos a`` as much of its height
    and ``1 / cos² a`` of its width. "" for other wishes, and where the picture is narrow.
    """
    kind = wish_kind(wish)
    half_deg = grid_size_deg(plan)[0] / 2.0
    if wish.distance_m is None or kind not in ("mm_per_px", "smallest_mm") or half_deg >= 80.0:
        return ""
    cosine = math.cos(math.radians(half_deg))
    if cosine > 0.95:
        return ""
    middle = mm_per_px(wish.distance_m, plan.focal_length_px)
    return (
        f"The scale holds at {_rounded(wish.distance_m)} m and for the centre of a frame. If the "
        f"subject is one flat wall, its sides at ±{half_deg:.0f}° are "
        f"{_rounded(wish.distance_m / cosine)} m away and seen at a slant: a pixel covers "
        f"{_rounded(middle / cosine)} mm of height and {_rounded(middle / cosine**2)} mm of width "
        f"there, and {_rounded(middle)} mm in the middle."
    )


def print_sizes(mosaic_width_px: int, mosaic_height_px: int) -> tuple[PrintSize, ...]:
    """How large the mosaic prints, the finest first.

    At 300 and 150 dpi, and where one pixel is one minute of arc from the hand (25 cm), from 1 m
    and from 2 m: finer would be lost on the eye, coarser would show.
    """
    resolutions = {*_PRINT_DPI, *(dpi_for(distance) for distance in _VIEWING_DISTANCES_M)}
    return tuple(
        PrintSize(
            dpi,
            mosaic_width_px / dpi * MM_PER_INCH,
            mosaic_height_px / dpi * MM_PER_INCH,
            viewing_distance_m(dpi),
        )
        for dpi in sorted(resolutions, reverse=True)
    )


def dpi_for(viewing_distance_m: float) -> float:
    """Pixels per inch of which one is a minute of arc from `viewing_distance_m`."""
    return MM_PER_INCH / (viewing_distance_m * 1e3 * math.tan(ACUITY_RAD))


def viewing_distance_m(dpi: float) -> float:
    """The distance from which one pixel of a print is one minute of arc."""
    return MM_PER_INCH / (dpi * 1e3 * math.tan(ACUITY_RAD))


def grid_size_deg(plan: Plan) -> tuple[float, float]:
    """Width and height of the wanted picture; a full turn is 360° wide."""
    return plan.shoot.grid.width_deg, plan.shoot.grid.height_deg


def _refuse_unless_complete(wish: Wish, kind: WishKind) -> None:
    if kind in ("mm_per_px", "smallest_mm") and wish.distance_m is None:
        raise PlanError(
            f"{kind} in [wish] needs a distance: twice as far away takes twice the focal length.",
            "Add distance_m, in metres from the lens.",
        )
    if kind == "print_width_mm":
        if wish.dpi is None and wish.viewing_distance_m is None:
            raise PlanError(
                "print_width_mm in [wish] does not say how fine the print shall be.",
                "Add dpi, or viewing_distance_m: where people stand who look at it.",
            )
        if wish.dpi is not None and wish.viewing_distance_m is not None:
            raise PlanError(
                f"dpi and viewing_distance_m in [wish] both say how fine the print shall be: "
                f"{wish.dpi:g} dpi, and {dpi_for(wish.viewing_distance_m):.0f} dpi for "
                f"{wish.viewing_distance_m:g} m.",
                "Take one of them out.",
            )
    belongs: dict[WishKind, tuple[str, ...]] = {
        "mm_per_px": ("distance_m",),
        "smallest_mm": ("distance_m",),
        "print_width_mm": ("dpi", "viewing_distance_m"),
        "gigapixels": (),
    }
    for key in ("distance_m", "dpi", "viewing_distance_m"):
        if key not in belongs[kind] and getattr(wish, key) is not None:
            raise PlanError(f"{key} in [wish] has no meaning beside {kind}.", "Take it out.")


def _needed_px(wish: Wish, kind: WishKind, width_deg: float, height_deg: float) -> float:
    """The focal length in pixels that just fulfils the wish."""
    if kind == "mm_per_px":
        return _given(wish.distance_m) * 1e3 / _given(wish.mm_per_px)
    if kind == "smallest_mm":
        return _given(wish.distance_m) * 1e3 * wish.pixels_on_it / _given(wish.smallest_mm)
    if kind == "print_width_mm":
        return _given(wish.print_width_mm) / MM_PER_INCH * _dpi(wish) / math.radians(width_deg)
    area = math.radians(width_deg) * math.radians(height_deg)
    return math.sqrt(_given(wish.gigapixels) * 1e9 / area)


def _dpi(wish: Wish) -> float:
    return wish.dpi if wish.dpi is not None else dpi_for(_given(wish.viewing_distance_m))


def _mm(focal_px: float, camera: Camera) -> float:
    return focal_px * camera.sensor_width_mm / camera.image_width_px


def _given(value: float | None) -> float:
    """A value that `wish_kind` has seen to be there."""
    if value is None:
        raise PlanError("[wish] is not complete.", _ONE_KIND)
    return value


def _says(wish: Wish, kind: WishKind) -> str:
    if kind == "mm_per_px":
        return f"{_rounded(_given(wish.mm_per_px))} mm per pixel at {_metres(wish)}"
    if kind == "smallest_mm":
        return (
            f"details of {_rounded(_given(wish.smallest_mm))} mm at {_metres(wish)} on "
            f"{_rounded(wish.pixels_on_it)} px"
        )
    if kind == "print_width_mm":
        return f"a print {_rounded(_given(wish.print_width_mm))} mm wide {_fineness(wish)}"
    return f"{_rounded(_given(wish.gigapixels))} gigapixels"


def _fineness(wish: Wish) -> str:
    if wish.dpi is not None:
        return f"at {_rounded(wish.dpi)} dpi"
    distance_m = _given(wish.viewing_distance_m)
    return f"to be looked at from {_rounded(distance_m)} m ({dpi_for(distance_m):.0f} dpi)"


def _metres(wish: Wish) -> str:
    return f"{_rounded(_given(wish.distance_m))} m"


def _reaches(
    wish: Wish, kind: WishKind, focal_px: float, width_deg: float, height_deg: float
) -> str:
    if kind == "mm_per_px":
        reached = mm_per_px(_given(wish.distance_m), focal_px)
        return f"{_rounded(reached)} mm per pixel at {_metres(wish)}, in the centre of a frame"
    if kind == "smallest_mm":
        smallest_mm = _given(wish.smallest_mm)
        on_px = smallest_mm / mm_per_px(_given(wish.distance_m), focal_px)
        return (
            f"{_rounded(smallest_mm)} mm at {_metres(wish)} lie on {_rounded(on_px)} px, in the "
            "centre of a frame"
        )
    if kind == "print_width_mm":
        inches = _given(wish.print_width_mm) / MM_PER_INCH
        dpi = focal_px * math.radians(width_deg) / inches
        return (
            f"{_rounded(dpi)} dpi at {_rounded(_given(wish.print_width_mm))} mm, one minute of arc "
            f"per pixel from {_rounded(viewing_distance_m(dpi))} m"
        )
    pixels = focal_px**2 * math.radians(width_deg) * math.radians(height_deg)
    return f"{_rounded(pixels / 1e9)} gigapixels"


def _other_distance(wish: Wish, share: float) -> str:
    distance_m = _given(wish.distance_m) * share
    return f"go to {_rounded(distance_m, math.floor)} m" if share < 1.0 else _as_far(distance_m)


def _as_far(distance_m: float) -> str:
    return f"it would do from {_rounded(distance_m, math.floor)} m away"


def _change_scale(wish: Wish, share: float, _width_deg: float, _height_deg: float) -> str:
    coarser = _rounded(_given(wish.mm_per_px) / share, math.ceil)
    way = "be content with" if share < 1.0 else "take it for"
    return f"{_other_distance(wish, share)}, or {way} {coarser} mm per pixel"


def _change_smallest(wish: Wish, share: float, _width_deg: float, _height_deg: float) -> str:
    other = _rounded(_given(wish.smallest_mm) / share, math.ceil)
    way = "be content with" if share < 1.0 else "take it for"
    return f"{_other_distance(wish, share)}, or {way} details of {other} mm"


def _change_print(wish: Wish, share: float, _width_deg: float, _height_deg: float) -> str:
    width = f"print it {_rounded(_given(wish.print_width_mm) * share, math.floor)} mm wide"
    if wish.dpi is not None:
        return f"{width}, or at {_rounded(wish.dpi * share, math.floor)} dpi"
    distance_m = _given(wish.viewing_distance_m) / share
    return f"{width}, or let it be looked at from {_rounded(distance_m, math.ceil)} m"


def _change_gigapixels(wish: Wish, share: float, width_deg: float, height_deg: float) -> str:
    gigapixels = _given(wish.gigapixels) * share**2
    size = f"it makes {_rounded(gigapixels, math.floor)} gigapixels of this view"
    width = width_deg / share**2
    if share >= 1.0 or width > 360.0:
        return size
    return f"{size}; a view {_rounded(width, math.ceil)}° wide would make them all"


_CHANGES: dict[WishKind, Callable[[Wish, float, float, float], str]] = {
    "mm_per_px": _change_scale,
    "smallest_mm": _change_smallest,
    "print_width_mm": _change_print,
    "gigapixels": _change_gigapixels,
}


def _rounded(value: float, towards: Callable[[float], int] = round) -> str:
    """Three figures, rounded `towards` a side, without exponent or idle zeros."""
    if value <= 0.0:
        return f"{value:g}"
    digits = 2 - math.floor(math.log10(value))
    if digits <= 0:
        return f"{towards(round(value, 6)):,d}"
    whole = towards(round(value * 10**digits, 6))
    return f"{whole / 10**digits:.{digits}f}".rstrip("0").rstrip(".")
