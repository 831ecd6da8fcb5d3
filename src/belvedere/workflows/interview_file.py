"""From the answers of the interview to the shoot file, and to what it amounts to on the way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from belvedere.foundation import PlanError
from belvedere.optics import FULL_FRAME_DIAGONAL_MM, field_of_view_deg
from belvedere.shoot import (
    Camera,
    FileValue,
    FileValues,
    Lens,
    Plan,
    Wish,
    commented_shoot_file,
    focal_length_for,
    make_plan,
    mm_per_px,
    out_of_reach,
    parse_shoot,
    settable_focal_length,
    wish_facts,
)
from belvedere.workflows.gear import sensor_size_mm
from belvedere.workflows.interview import Answers
from belvedere.workflows.sample_picture import Sample

_REGION = "the view"


def shoot_text(answers: Answers) -> str:
    """The commented shoot file that the answers make.

    Raises
    ------
    PlanError
        Where they make none.
    """
    return commented_shoot_file(shoot_values(answers))


def preview(answers: Answers) -> Plan:
    """The plan that the answers make.

    Raises
    ------
    PlanError
        Where it cannot be shot.
    """
    return make_plan(parse_shoot(shoot_text(answers), "The new shoot file"))


def shoot_values(answers: Answers) -> FileValues:
    """Table → key → value; only what was answered."""
    return {
        "shoot": _filled(title=answers.get("title"), start=_start(answers)),
        "camera": _camera_values(answers),
        "lens": _lens_values(answers),
        "wish": _wish_values(answers),
        "grid": _grid_values(answers),
        "sweep": _filled(
            order="rows", start="top-left", serpentine=False, interval_s=answers.get("interval")
        ),
        "head": _head_values(answers),
        "regions": _region_values(answers),
        "exposure": _exposure_values(answers),
        "card": _filled(**answers.get("card") or {}),
        "power": _filled(
            **answers.get("head_pack") or {}, camera_pack_wh=answers.get("camera_pack")
        ),
        "place": _place_values(answers),
    }


def camera_of(answers: Answers) -> Camera:
    """The camera as it is mounted."""
    long_px, short_px = picture_px(answers)
    long_mm = sensor_width_mm(answers)
    short_mm = long_mm * short_px / long_px
    if answers.get("mounting") == "portrait":
        return Camera(short_mm, long_mm, short_px, long_px)
    return Camera(long_mm, short_mm, long_px, short_px)


def picture_px(answers: Answers) -> tuple[int, int]:
    """Long and short side of the camera's pictures."""
    given = answers.get("picture_size")
    if given is not None:
        return max(given), min(given)
    sample: Sample = answers["sample"]
    return sample.long_side_px, sample.short_side_px


def sensor_width_mm(answers: Answers) -> float:
    """Long side of the sensor."""
    given = answers.get("sensor_width")
    if given is not None:
        return float(given)
    if "camera_choice" in answers:
        crop_factor = answers["camera_choice"].crop_factor
        return round(sensor_size_mm(crop_factor, *picture_px(answers))[0], 3)
    sample: Sample = answers["sample"]
    if sample.sensor is None:
        raise PlanError("The sensor's size is not known yet.")
    return round(sample.sensor.width_mm, 3)


def lens_of(answers: Answers) -> Lens:
    """The lens with its zoom range, set to its longest; a fixed lens has a range of one length."""
    lens: Lens = answers["lens_choice"] if "lens_choice" in answers else answers["lens"]
    return lens


def is_zoom(answers: Answers) -> bool:
    """Whether the lens can be set to more than one focal length."""
    lens = lens_of(answers)
    return lens.shortest_mm != lens.longest_mm


def wish_of(answers: Answers) -> Wish | None:
    """The wish, None where the focal length was chosen instead."""
    wish: Wish | None = answers.get("wish")
    return wish


def view_deg(answers: Answers) -> tuple[float, float]:
    """Width and height of the wanted picture."""
    edges, (bottom, top) = answers["edges"], answers["heights"]
    return (edges[1] - edges[0] if edges else 360.0), top - bottom


def focal_length_mm(answers: Answers) -> float:
    """As it will be set: chosen, or what the wish needs as near as the lens goes."""
    lens, wish = lens_of(answers), wish_of(answers)
    if wish is None:
        return float(answers.get("focal") or lens.focal_length_mm)
    needed = focal_length_for(wish, camera_of(answers), *view_deg(answers))
    return settable_focal_length(needed, lens)


def camera_reply(answers: Answers) -> tuple[str, ...]:
    """Pixel pitch and crop factor."""
    camera = camera_of(answers)
    pitch_um = camera.sensor_width_mm / camera.image_width_px * 1e3
    crop = FULL_FRAME_DIAGONAL_MM / math.hypot(camera.sensor_width_mm, camera.sensor_height_mm)
    like = "as much as on 36 × 24 mm"
    if abs(crop - 1.0) >= 0.02:
        like = f"what one {crop:.3g} times as long sees on 36 × 24 mm"
    return (f"A pixel is {pitch_um:.2f} µm wide. A lens sees {like}: crop factor {crop:.3g}.",)


def frame_reply(answers: Answers) -> tuple[str, ...]:
    """What one frame sees at the focal length, and how fine."""
    camera, focal_mm = camera_of(answers), focal_length_mm(answers)
    across = field_of_view_deg(camera.sensor_width_mm, focal_mm)
    down = field_of_view_deg(camera.sensor_height_mm, focal_mm)
    focal_px = focal_mm * camera.image_width_px / camera.sensor_width_mm
    return (
        f"At {focal_mm:.4g} mm a frame is {across:.1f}° wide and {down:.1f}° high; a pixel covers "
        f"{mm_per_px(100.0, focal_px):.2g} mm of something 100 m away.",
    )


def wish_reply(answers: Answers) -> tuple[str, ...]:
    """What the wish needs and whether the lens does it."""
    wish = wish_of(answers)
    if wish is None:
        return ()
    camera, lens, view = camera_of(answers), lens_of(answers), view_deg(answers)
    advice = out_of_reach(wish, camera, lens, *view)
    if advice is not None:
        goes_on = ("Press < to change the wish or the lens, or go on as it is.",)
        return (advice.says, advice.because, advice.try_, *goes_on)
    needed = focal_length_for(wish, camera, *view)
    return (f"That takes a focal length of {needed:.3g} mm: your lens does it.",)


def grid_reply(answers: Answers) -> tuple[str, ...]:
    """How many frames that makes; or why it makes none, and what to do."""
    try:
        plan = preview(answers)
    except PlanError as error:
        return (str(error), "Press < to go back and change it.")
    found = [f"That makes {grid_words(plan)}."]
    if len(plan.cells) > 2000:
        found.append(
            "That is a long day: a shorter lens, a smaller view or less overlap makes fewer. "
            "Press < to go back and try."
        )
    wish = wish_of(answers)
    if wish is not None:
        found.append(f"Reached: {wish_facts(wish, plan).reaches}.")
    return tuple(found)


def grid_words(plan: Plan) -> str:
    """Rows, columns, frames and pixels in a line."""
    fewest, most = min(plan.columns_per_row), max(plan.columns_per_row)
    columns = f"{most}" if fewest == most else f"{fewest} to {most}"
    pixels = plan.mosaic_width_px * plan.mosaic_height_px / 1e6
    size = f"{pixels / 1e3:.2f} gigapixels" if pixels >= 1e3 else f"{pixels:.0f} megapixels"
    rows = "1 row" if plan.rows == 1 else f"{plan.rows} rows"
    frames = "1 frame" if len(plan.cells) == 1 else f"{len(plan.cells):,} frames"
    return f"{rows} of {columns}: {frames}, {size}"


def limits_reply(answers: Answers) -> tuple[str, ...]:
    """What the head cannot do, if there is something."""
    try:
        preview(answers)
    except PlanError as error:
        return (str(error), "Press < to go back and change the view or the head.")
    return ()


def fewer_columns_save(answers: Answers) -> int:
    """Frames that fewer columns far from the horizon would save."""
    try:
        counts = [
            len(preview({**answers, "fewer_columns": fewer}).cells) for fewer in (False, True)
        ]
    except PlanError:
        return 0
    return counts[0] - counts[1]


def _filled(**values: Any) -> dict[str, FileValue]:
    return {key: value for key, value in values.items() if value is not None}


def _camera_values(answers: Answers) -> dict[str, FileValue]:
    long_px, short_px = picture_px(answers)
    return _filled(
        sensor_width_mm=sensor_width_mm(answers),
        image_width_px=long_px,
        image_height_px=short_px,
        mounting=answers.get("mounting"),
    )


def _lens_values(answers: Answers) -> dict[str, FileValue]:
    lens = lens_of(answers)
    zoom = is_zoom(answers)
    focal_mm = None if zoom and wish_of(answers) is not None else focal_length_mm(answers)
    return _filled(
        focal_length_mm=focal_mm,
        shortest_mm=lens.shortest_mm if zoom else None,
        longest_mm=lens.longest_mm if zoom else None,
        widest_f_number=lens.widest_f_number,
    )


def _wish_values(answers: Answers) -> dict[str, FileValue]:
    wish = wish_of(answers)
    if wish is None:
        return {}
    return _filled(
        mm_per_px=wish.mm_per_px,
        smallest_mm=wish.smallest_mm,
        pixels_on_it=None if wish.smallest_mm is None else wish.pixels_on_it,
        distance_m=wish.distance_m,
        print_width_mm=wish.print_width_mm,
        dpi=wish.dpi,
        viewing_distance_m=wish.viewing_distance_m,
        gigapixels=wish.gigapixels,
    )


def _grid_values(answers: Answers) -> dict[str, FileValue]:
    bottom, top = answers["heights"]
    edges = answers["edges"]
    grid = _filled(left_deg=edges[0], right_deg=edges[1]) if edges else _filled(full_turn=True)
    fewer = answers.get("fewer_columns")
    return grid | _filled(
        top_deg=top,
        bottom_deg=bottom,
        overlap=answers.get("overlap"),
        equal_columns=None if fewer is None else not fewer,
    )


def _head_values(answers: Answers) -> dict[str, FileValue]:
    pan, tilt = answers.get("head_step") or (0.0, 0.0)
    lowest, highest = answers.get("head_limits") or (None, None)
    return _filled(
        pan_step_deg=pan or None,
        tilt_step_deg=tilt or None,
        lowest_deg=lowest,
        highest_deg=highest,
        settle_s=answers.get("settle"),
    )


def _region_values(answers: Answers) -> list[Mapping[str, FileValue]]:
    distances = answers.get("distances")
    if distances is None:
        return []
    return [_filled(name=_REGION, nearest_m=distances[0], farthest_m=distances[1])]


def _exposure_values(answers: Answers) -> dict[str, FileValue]:
    light = answers.get("light")
    if light is None:
        return {}
    if isinstance(light, float):
        return _filled(ev100=light)
    return _filled(light=light, lit_from=answers.get("lit_from"))


def _place_values(answers: Answers) -> dict[str, FileValue]:
    place = answers.get("place")
    if place is None:
        return {}
    zone = answers.get("time_zone")
    return _filled(
        latitude_deg=place[0],
        longitude_deg=place[1],
        zero_bearing_deg=answers.get("zero_bearing"),
        time_zone=None if zone is None or _is_offset(zone) else zone,
    )


def _start(answers: Answers) -> datetime | None:
    start: datetime | None = answers.get("start")
    zone = answers.get("time_zone")
    if start is None or zone is None or not _is_offset(zone):
        return start
    return datetime.fromisoformat(f"{start.isoformat()}{zone}")


def _is_offset(zone: str) -> bool:
    return zone[0] in "+-"
