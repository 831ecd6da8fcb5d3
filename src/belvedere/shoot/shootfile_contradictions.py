"""Values of a shoot file that are fine alone and wrong together."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from belvedere.foundation import PlanError
from belvedere.shoot.conditions import Wish
from belvedere.shoot.shootfile_conditions import WishTable
from belvedere.shoot.wishes import wish_kind

#: A picture's pixels may be this much off square before the sensor's size is called wrong.
_ASPECT_TOLERANCE = 0.02
_EDGES = ("left_deg", "right_deg", "top_deg", "bottom_deg")
_METERED = ("metered_f_number", "metered_shutter_s", "metered_iso")


def contradictions(raw: dict[str, Any]) -> list[str]:
    """Values that are fine alone and wrong together; silent where one is missing or no number."""
    return [
        *_grid_contradictions(_table(raw, "grid")),
        *_aspect(_table(raw, "camera")),
        *_lens_contradictions(_table(raw, "lens"), "wish" in raw),
        *_wish_contradictions(raw.get("wish")),
        *_exposure_contradictions(_table(raw, "exposure")),
        *_order(_table(raw, "head"), "[head]", "lowest_deg", "highest_deg"),
        *_region_contradictions(raw.get("regions")),
        *_start_contradictions(raw),
    ]


def _grid_contradictions(grid: dict[str, Any]) -> list[str]:
    if not grid:
        return []
    problems = []
    top, bottom = _number(grid, "top_deg"), _number(grid, "bottom_deg")
    left, right = _number(grid, "left_deg"), _number(grid, "right_deg")
    problems += _corner_contradictions(grid) + _overlap_contradictions(grid)
    if top is not None and bottom is not None and top <= bottom:
        problems.append(
            f"top_deg in [grid] is {top:g} and bottom_deg {bottom:g}: the top must be higher. "
            "Swap them."
        )
    if grid.get("full_turn") is True:
        given = [key for key in ("left_deg", "right_deg") if key in grid]
        if given:
            problems.append(
                f"full_turn = true in [grid] leaves no room for {' and '.join(given)}. "
                "Take one or the other out."
            )
    problems += _missing_edges(grid)
    if left is not None and right is not None:
        problems += _bearing_contradictions(left, right)
    if grid.get("equal_columns") is False and "columns" in grid:
        problems.append(
            "columns in [grid] fixes the same count in every row, against equal_columns = false. "
            "Take one of them out."
        )
    return problems


def _missing_edges(grid: dict[str, Any]) -> list[str]:
    if "corners_deg" in grid:
        return []
    needed = _EDGES[2:] if grid.get("full_turn") is True else _EDGES
    missing = [key for key in needed if key not in grid]
    if not missing:
        return []
    what = f"{_listed(missing)} in [grid] {'is' if len(missing) == 1 else 'are'} missing. "
    if set(missing) & {"left_deg", "right_deg"}:
        return [f"{what}Add the edges of the wanted picture, or full_turn = true."]
    return [f"{what}Add the edges of the wanted picture."]


def _corner_contradictions(grid: dict[str, Any]) -> list[str]:
    corners = grid.get("corners_deg")
    if corners is None:
        return []
    given = [key for key in (*_EDGES, "full_turn") if key in grid]
    if given:
        return [f"corners_deg in [grid] stands in place of {_listed(given)}. Take one out."]
    if not _is_two_corners(corners):
        return [
            "corners_deg in [grid] must be two corners that face each other, each bearing and "
            "elevation, like [[-40.0, 9.0], [40.0, -7.5]]; bearings from -360 to 360, elevations "
            "from -90 to 90."
        ]
    (bearing_a, elevation_a), (bearing_b, elevation_b) = corners
    if bearing_a == bearing_b or elevation_a == elevation_b:
        return ["corners_deg in [grid] span nothing: give two corners that face each other."]
    if abs(bearing_a - bearing_b) >= 360.0:
        return ["corners_deg in [grid] are a full turn apart or more. Use full_turn = true."]
    return []


def _is_two_corners(corners: Any) -> bool:
    if not isinstance(corners, list) or len(corners) != 2:
        return False
    for corner in corners:
        if not isinstance(corner, list) or len(corner) != 2:
            return False
        if not all(isinstance(v, int | float) and not isinstance(v, bool) for v in corner):
            return False
        if not (abs(corner[0]) <= 360.0 and abs(corner[1]) <= 90.0):
            return False
    return True


def _overlap_contradictions(grid: dict[str, Any]) -> list[str]:
    if "overlap" in grid:
        return []
    missing = [key for key in ("overlap_across", "overlap_down") if key not in grid]
    if len(missing) == 2:
        return ["overlap in [grid] is missing. Add it; 0.30 is usual."]
    return [f"{missing[0]} in [grid] is missing. Add it, or overlap for both."] if missing else []


def _bearing_contradictions(left: float, right: float) -> list[str]:
    if right <= left:
        return [
            f"left_deg in [grid] is {left:g} and right_deg {right:g}: bearings grow to the right. "
            "Swap them, or add 360 to right_deg where the picture crosses the bearing ±180."
        ]
    if right - left >= 360.0:
        return [
            f"left_deg and right_deg in [grid] are {right - left:g}° apart, a full turn or more. "
            "Put full_turn = true in their place."
        ]
    return []


def _aspect(camera: dict[str, Any]) -> list[str]:
    width_mm, height_mm = _number(camera, "sensor_width_mm"), _number(camera, "sensor_height_mm")
    width_px, height_px = _number(camera, "image_width_px"), _number(camera, "image_height_px")
    if width_mm is None or height_mm is None or width_px is None or height_px is None:
        return []
    if min(width_mm, height_mm, width_px, height_px) <= 0.0:
        return []
    square_height_mm = width_mm * height_px / width_px
    if abs(height_mm / square_height_mm - 1.0) <= _ASPECT_TOLERANCE:
        return []
    return [
        f"sensor_height_mm in [camera] is {height_mm:g}, but {width_px:g} × {height_px:g} px on "
        f"{width_mm:g} mm of width make {square_height_mm:.2f} mm. Give the part of the sensor "
        "that the picture uses, as the camera is mounted, or leave sensor_height_mm out."
    ]


def _lens_contradictions(lens: dict[str, Any], has_wish: bool) -> list[str]:
    problems = _order(lens, "[lens]", "shortest_mm", "longest_mm")
    problems += _order(lens, "[lens]", "widest_f_number", "narrowest_f_number")
    focal = _number(lens, "focal_length_mm")
    if "focal_length_mm" not in lens and not has_wish:
        problems.append(
            "focal_length_mm in [lens] is missing. Add it, or a [wish] that it follows from."
        )
    shortest, longest = _number(lens, "shortest_mm"), _number(lens, "longest_mm")
    if focal is not None and (focal < (shortest or focal) or focal > (longest or focal)):
        problems.append(
            f"focal_length_mm in [lens] is {focal:g}, outside the lens' own shortest_mm and "
            "longest_mm. Correct one of them."
        )
    return problems


def _wish_contradictions(wish: Any) -> list[str]:
    if wish is None:
        return []
    try:
        table = WishTable.model_validate(wish)
    except ValidationError:
        return []  # said of its values already
    try:
        wish_kind(Wish(**table.model_dump()))
    except PlanError as error:
        return [str(error)]
    return []


def _exposure_contradictions(exposure: dict[str, Any]) -> list[str]:
    problems = _order(exposure, "[exposure]", "darkest_ev100", "brightest_ev100")
    metered = [key for key in _METERED if key in exposure]
    if metered and len(metered) < len(_METERED):
        missing = [key for key in _METERED if key not in exposure]
        problems.append(f"{_listed(missing)} in [exposure] missing: a metered sample needs all.")
    lights = [key for key in ("ev100", "light") if key in exposure] + metered[:1]
    if len(lights) > 1:
        problems.append(f"{_listed(lights)} in [exposure] all say how bright it is. Keep one.")
    return problems


def _region_contradictions(regions: Any) -> list[str]:
    problems = []
    for number, region in enumerate(regions if isinstance(regions, list) else [], start=1):
        if isinstance(region, dict):
            where = f"[[regions]] number {number}"
            if "nearest_m" not in region and region.get("kind") != "sky":
                problems.append(f"nearest_m in {where} is missing. Add it, in metres.")
            for low, high in (
                ("nearest_m", "farthest_m"),
                ("bottom_deg", "top_deg"),
                ("left_deg", "right_deg"),
            ):
                problems += _order(region, where, low, high)
    return problems


def _start_contradictions(raw: dict[str, Any]) -> list[str]:
    start, place = _table(raw, "shoot").get("start"), _table(raw, "place")
    offset = getattr(start, "utcoffset", None)
    if offset is None or offset() is not None or not place or "time_zone" in place:
        return []
    return [
        "start in [shoot] does not say its distance from UTC. Write it like "
        f"{start}+02:00 with a T between date and time, or give time_zone in [place]."
    ]


def _order(table: dict[str, Any], where: str, low: str, high: str) -> list[str]:
    least, most = _number(table, low), _number(table, high)
    if least is None or most is None or least <= most:
        return []
    return [f"{low} in {where} is {least:g} and {high} {most:g}: the other way round. Swap them."]


def _listed(words: list[str], last: str = "and") -> str:
    return f" {last} ".join(filter(None, [", ".join(words[:-1]), words[-1]])) if words else ""


def _table(raw: dict[str, Any], name: str) -> dict[str, Any]:
    table = raw.get(name)
    return table if isinstance(table, dict) else {}


def _number(table: dict[str, Any], key: str) -> float | None:
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        return float(value)
    except OverflowError:
        return None
