"""A new shoot file in which every line teaches what it is for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

import tomlkit

from belvedere.shoot.shootfile import parse_shoot

FileValue = str | int | float | bool | datetime | Sequence[Sequence[float]]
TableValues = Mapping[str, FileValue]
FileValues = Mapping[str, TableValues | Sequence[TableValues]]

#: Widest value that the comments of a table line up behind.
_COMMENT_COLUMN = 34

_HEADING = """\
# A shoot file: what camera and lens there is, which part of the view is wanted, and what is known
# of the day. Degrees, millimetres, metres and seconds. What is left out is worked out, or assumed
# and said to be. All keys: docs/shoot-file.md
"""

#: Tables in the order of the file, each with the line above it.
TABLE_COMMENTS: Mapping[str, str] = {
    "shoot": "One outing for one picture.",
    "camera": "The camera; a picture that it took knows most of this.",
    "lens": "The lens. True focal lengths, not 35 mm equivalents.",
    "wish": "What the picture shall show; the focal length follows from it.",
    "grid": "The wanted picture. Bearings count clockwise from a zero of your choice, elevations "
    "up from\n# the horizon.",
    "sweep": "How the head goes over the grid.",
    "head": "What the head can do, and what it stands on.",
    "regions": "A part of the scene and how far away it is: focus, parallax and sweep hang on it.",
    "focus": "Where to focus, and what counts as sharp.",
    "exposure": "Light and exposure. One exposure for all frames, or the seams will show.",
    "steadiness": "What moves while the shutter is open.",
    "cycle": "What the camera does with one frame beside exposing it. The head does not wait for "
    "it.",
    "card": "The card and the files.",
    "power": "Batteries of head and camera.",
    "place": "Where the tripod stands: sun, shadows and twilight follow from it.",
}

#: Table and key → what the line is for.
KEY_COMMENTS: Mapping[str, Mapping[str, str]] = {
    "shoot": {
        "title": "what the picture is called",
        "start": "the first release, with its distance from UTC, or local at [place]",
    },
    "camera": {
        "sensor_width_mm": "the part of the sensor that the picture uses",
        "sensor_height_mm": "may be left out: pixels are square",
        "image_width_px": "of the pictures that the camera writes",
        "image_height_px": "together with the width: how fine a frame is",
        "mounting": "portrait frames make fewer, higher rows",
    },
    "lens": {
        "focal_length_mm": "as set; a zoom must not move during the sweep",
        "shortest_mm": "zoom range: from here",
        "longest_mm": "to here",
        "widest_f_number": "the smallest number on the ring, the widest opening",
        "narrowest_f_number": "the largest number on the ring, the narrowest opening",
    },
    "wish": {
        "mm_per_px": "what one pixel may cover at distance_m",
        "smallest_mm": "the smallest thing to recognise",
        "pixels_on_it": "8 are enough to recognise it, fewer only to see it",
        "distance_m": "how far away it is; twice as far takes twice the lens",
        "print_width_mm": "how wide it shall hang on the wall",
        "dpi": "pixels per inch of the print: 300 from the hand, 150 from a step back",
        "viewing_distance_m": "where people stand; the eye separates a minute of arc",
        "gigapixels": "thousand millions of pixels",
    },
    "grid": {
        "left_deg": "bearing of the left edge",
        "right_deg": "bearing of the right edge, the larger number",
        "top_deg": "elevation of the upper edge: 0 is the horizon, 90 the zenith",
        "bottom_deg": "elevation of the lower edge, below the horizon negative",
        "corners_deg": "two corners that face each other, [bearing, elevation] each",
        "full_turn": "all the way round, in place of left and right",
        "overlap": "share of a frame that its neighbour repeats; 0.25 to 0.35 is usual",
        "overlap_across": "overlap between columns",
        "overlap_down": "overlap between rows",
        "rows": "fixed, as the head was told; the overlap follows",
        "columns": "fixed, as the head was told; the overlap follows",
        "equal_columns": "false: fewer columns far from the horizon, if the head can",
        "cap_zenith": "one frame straight up closes a full turn",
        "cap_nadir": "one frame straight down closes a full turn",
    },
    "sweep": {
        "order": "along the rows, or up and down the columns",
        "start": "the corner of the first frame",
        "serpentine": "true: every other line runs backwards",
        "interval_s": "from one release to the next; too short, and frames go missing",
    },
    "head": {
        "pan_step_deg": "smallest step sideways; 0 where it can stop anywhere",
        "tilt_step_deg": "smallest step up and down; 0 where it can stop anywhere",
        "lowest_deg": "how far down it can look",
        "highest_deg": "how far up it can look",
        "pan_speed_deg_s": "degrees in a second, sideways",
        "tilt_speed_deg_s": "degrees in a second, up and down",
        "settle_s": "wait after a move until the vibration has died",
        "tripod_height_m": "of the lens above the ground",
        "tripod_spread_m": "from the plumb line to a foot: where it gets into the picture",
    },
    "regions": {
        "name": "your word for it",
        "nearest_m": "its nearest part, from the lens",
        "farthest_m": "its farthest part; left out: as far as one can see",
        "left_deg": "its edges; those left out are the picture's",
        "right_deg": "its right edge",
        "top_deg": "its upper edge",
        "bottom_deg": "its lower edge",
        "kind": "what autofocus meets: detail, sky, water, haze or dark",
        "speed_m_s": "how fast its subjects move across the view",
        "ev100": "how bright it is",
    },
    "focus": {
        "distance_m": "focus by hand, here, and switch autofocus off",
        "circle": "blur that counts as sharp: a pixel, or diagonal/1500",
        "circle_mm": "or a blur of your own, in mm on the sensor",
    },
    "exposure": {
        "f_number": "the aperture; the narrower, the more diffraction",
        "shutter_s": "exposure time",
        "iso": "sensitivity; low is clean",
        "ev100": "how bright it is, as an exposure value at ISO 100",
        "light": "how bright it is, by the table in docs/shoot-file.md",
        "lit_from": "where the sun stands: front, side or back of what you see",
        "metered_f_number": "what a sample picture was taken with: the aperture,",
        "metered_shutter_s": "its exposure time,",
        "metered_iso": "and its sensitivity",
        "brightest_ev100": "the sunny side",
        "darkest_ev100": "the shady side: does the camera hold both?",
        "dynamic_range_ev": "stops that the camera holds",
    },
    "steadiness": {
        "shake_arcsec": "how far wind still turns the camera, there and back",
        "shake_hz": "how often in a second",
        "stars": "true: stars shall be points, though the sky turns",
    },
    "cycle": {
        "self_timer_s": "2 s let the vibration of the release die",
        "shutter_lag_s": "from the release to the exposure",
        "dark_frame_from_s": "exposures from here on are followed by a dark one as long",
        "processing_s": "making the picture, before it is written",
        "processing_spread": "how much that varies from frame to frame",
        "review_s": "how long the picture shows on the screen; switch it off",
        "buffer_frames": "frames it takes before it must write",
    },
    "card": {
        "capacity_gb": "printed on the card",
        "free_gb": "what is free on it",
        "write_mb_s": "measured writing speed, better than the class",
        "speed_class": "printed on the card: the least it promises",
        "file_mb": "a usual picture of yours; busy scenes make larger ones",
        "file_spread": "how much the files vary",
        "stall_probability": "chance, per frame, that the card pauses",
        "stall_s": "for so long",
        "next_file_number": "the next picture's number: after 9999 it starts again",
    },
    "power": {
        "head_pack_v": "printed on the head's battery pack",
        "head_pack_ah": "2000 mAh are 2.0",
        "head_cells": "cells in the pack",
        "head_rest_v": "measured with nothing running",
        "head_load_v": "measured while the head moves: says more",
        "head_idle_w": "what the head draws at rest",
        "head_moving_w": "what the head draws while it moves",
        "camera_pack_wh": "printed on the camera's battery",
        "camera_on_w": "what the camera draws while it is on",
        "camera_frame_j": "what one frame costs",
        "temperature_c": "cold takes a good part of a battery",
    },
    "place": {
        "latitude_deg": "north is positive",
        "longitude_deg": "east is positive",
        "altitude_m": "above the sea",
        "zero_bearing_deg": "true bearing of the shoot's bearing 0",
        "time_zone": "a name of the time zone database, for a local start",
    },
}


def commented_shoot_file(values: FileValues) -> str:
    """A whole shoot file with a comment at every table and key.

    Parameters
    ----------
    values
        Table → key → value; for `regions` a list of such tables. Empty tables are left out. Tables
        come in the order of `TABLE_COMMENTS`, keys as given.

    Raises
    ------
    PlanError
        Where the values make no valid shoot file.
    """
    text = f"{_HEADING}\n{commented_tables(values)}"
    parse_shoot(text, "The new shoot file")
    return text


def commented_tables(values: FileValues) -> str:
    """Tables of a shoot file with a comment at every key; they need not be a whole file."""
    known = [name for name in TABLE_COMMENTS if name in values]
    unknown = [name for name in values if name not in TABLE_COMMENTS]
    blocks = []
    for name in (*known, *unknown):
        tables = values[name]
        if isinstance(tables, Mapping):
            blocks += [_table(name, f"[{name}]", tables)] if tables else []
        else:
            blocks += [_table(name, f"[[{name}]]", table) for table in tables]
    return "\n".join(blocks)


def _table(name: str, header: str, values: TableValues) -> str:
    comments = KEY_COMMENTS.get(name, {})
    lines = [(f"{key} = {tomlkit.item(value).as_string()}", key) for key, value in values.items()]
    column = max((len(line) for line, _ in lines if len(line) <= _COMMENT_COLUMN), default=0)
    body = [_line(line, comments.get(key, ""), column) for line, key in lines]
    above = f"# {TABLE_COMMENTS[name]}\n" if name in TABLE_COMMENTS else ""
    return above + "\n".join([header, *body]) + "\n"


def _line(line: str, comment: str, column: int) -> str:
    return f"{line:<{column}}  # {comment}" if comment else line
