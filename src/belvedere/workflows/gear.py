"""Camera and lens by name, and what is found as lines of a shoot file.

The names come from the database of the lensfun project through lensfunpy, which is asked and never
copied. It knows mounts, crop factors, focal lengths and some apertures; it knows no pixel counts
and no sensor sizes. A query often fits several entries: all are named, and the person chooses.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, TypeVar

from belvedere.foundation import PlanError
from belvedere.optics import FULL_FRAME_DIAGONAL_MM
from belvedere.shoot import FileValue, FileValues, commented_tables
from belvedere.workflows.sample_picture import Sample

#: More choices than a person reads.
MOST_CHOICES = 12

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class CameraChoice:
    """A camera of the database. `variant` tells entries of one name apart, such as by shape."""

    maker: str
    model: str
    variant: str
    mount: str
    crop_factor: float


@dataclass(frozen=True, slots=True)
class LensChoice:
    """A lens of the database; `widest_f_number` is None where it does not know it.

    For a zoom it is that of its brightest end. The narrowest is not taken over: many entries hold
    the narrowest that was measured, not the one that can be set.
    """

    maker: str
    model: str
    shortest_mm: float
    longest_mm: float
    widest_f_number: float | None
    is_rectilinear: bool


def find_cameras(query: str) -> tuple[CameraChoice, ...]:
    """The cameras whose maker, model and variant hold every word of `query`, best first.

    Where there is none, those that the database finds alike. Never take the first for the truth:
    show them, and let the person choose.

    Raises
    ------
    PlanError
        The query is empty.
    """
    database = _database()
    words = _words(query, "camera")
    found = _fitting(words, database.cameras, _camera_words)
    alike = found or _any(database.find_cameras(None, query, loose_search=True))
    return _distinct(_camera(camera) for camera in alike)


def find_lenses(query: str, camera: CameraChoice) -> tuple[LensChoice, ...]:
    """The lenses that fit the camera's mount and hold every word of `query`, best first.

    An empty query names all lenses of the mount: one for a camera whose lens is built in.

    Raises
    ------
    PlanError
        The camera is not in the database.
    """
    database = _database()
    body = next((entry for entry in database.cameras if _camera(entry) == camera), None)
    if body is None:
        raise PlanError(
            f"The lens database has no camera {camera_name(camera)}.", "Search for it by name."
        )
    words = query.casefold().split()
    mounted = database.find_lenses(body)
    found = _fitting(words, mounted, _lens_words) if words else mounted
    alike = found or _any(database.find_lenses(body, None, query, loose_search=True))
    return _distinct(_lens(lens) for lens in alike)


def camera_name(choice: CameraChoice) -> str:
    """Maker, model and variant in one line, the maker once."""
    return _named(choice.maker, choice.model) + (f" ({choice.variant})" if choice.variant else "")


def camera_says(choice: CameraChoice) -> str:
    """One line that tells a choice from the others."""
    return f"{camera_name(choice)}: crop factor {choice.crop_factor:.3g}, mount {choice.mount}"


def lens_says(choice: LensChoice) -> str:
    """One line that tells a choice from the others."""
    if choice.shortest_mm == choice.longest_mm:
        length = f"{choice.shortest_mm:g} mm"
    else:
        length = f"{choice.shortest_mm:g} to {choice.longest_mm:g} mm"
    aperture = ", apertures unknown"
    if choice.widest_f_number is not None:
        aperture = f", from f/{choice.widest_f_number:g}"
    fisheye = "" if choice.is_rectilinear else "; a fisheye, which Belvedere does not plan for"
    return f"{_named(choice.maker, choice.model)}: {length}{aperture}{fisheye}"


def sensor_size_mm(crop_factor: float, width_px: int, height_px: int) -> tuple[float, float]:
    """Width and height of the sensor, from its crop factor and the shape of its pictures.

    The crop factor compares diagonals: 43.267 mm on 36 × 24 mm.
    """
    diagonal_mm = FULL_FRAME_DIAGONAL_MM / crop_factor
    diagonal_px = math.hypot(width_px, height_px)
    return width_px / diagonal_px * diagonal_mm, height_px / diagonal_px * diagonal_mm


def camera_unknown(choice: CameraChoice) -> tuple[str, ...]:
    """What the database does not know of a camera, in sentences."""
    return (
        "How many pixels its pictures have: the database does not say. The manual does, and so "
        "does any picture.",
        f"Its sensor's size: it is worked out from the crop factor {choice.crop_factor:.3g} and "
        "the shape of the picture, good to a per cent or two.",
    )


def camera_values(choice: CameraChoice, width_px: int, height_px: int) -> FileValues:
    """[camera] for a database camera whose pictures have `width_px` × `height_px`."""
    width_mm, _ = sensor_size_mm(choice.crop_factor, width_px, height_px)
    return {
        "camera": {
            "sensor_width_mm": round(width_mm, 3),
            "image_width_px": width_px,
            "image_height_px": height_px,
        }
    }


def lens_values(choice: LensChoice, focal_length_mm: float | None = None) -> FileValues:
    """[lens] for a database lens; `focal_length_mm` where it is known how it will be set."""
    lens: dict[str, FileValue] = {}
    if choice.shortest_mm == choice.longest_mm:
        lens["focal_length_mm"] = choice.longest_mm
    else:
        if focal_length_mm is not None:
            lens["focal_length_mm"] = focal_length_mm
        lens |= {"shortest_mm": choice.shortest_mm, "longest_mm": choice.longest_mm}
    if choice.widest_f_number is not None:
        lens["widest_f_number"] = choice.widest_f_number
    return {"lens": lens}


def sample_values(sample: Sample) -> FileValues:
    """[camera], [lens] and [exposure] as far as a sample picture tells them."""
    camera: dict[str, FileValue] = {}
    if sample.sensor is not None:
        camera["sensor_width_mm"] = round(sample.sensor.width_mm, 3)
    camera |= {"image_width_px": sample.long_side_px, "image_height_px": sample.short_side_px}
    if sample.is_portrait:
        camera["mounting"] = "portrait"
    values: dict[str, dict[str, FileValue]] = {"camera": camera}
    settings = sample.settings
    if settings.focal_length_mm is not None:
        values["lens"] = {"focal_length_mm": round(settings.focal_length_mm, 3)}
    if sample.metered_ev100 is not None:
        # As one figure: it holds an exposure correction that the three settings would not.
        values["exposure"] = {"ev100": round(sample.metered_ev100, 1)}
    return values


def as_toml(values: FileValues) -> str:
    """The lines to put into a shoot file, explained."""
    return commented_tables(values)


def _database() -> Any:
    import lensfunpy

    return lensfunpy.Database()


def _words(query: str, what: str) -> list[str]:
    words = query.casefold().split()
    if not words:
        raise PlanError(f"No {what} was named.", "Give a part of its name, such as the model.")
    return words


def _fitting(words: list[str], entries: Iterable[T], words_of: Callable[[T], list[str]]) -> list[T]:
    """Entries that hold every word, those that hold more of them as whole words first."""
    ranked: list[tuple[int, int, int, T]] = []
    for entry in entries:
        own = words_of(entry)
        if all(any(word in candidate for candidate in own) for word in words):
            whole = sum(word in own for word in words)
            ranked.append((-whole, len(own), len(ranked), entry))
    return [entry for *_, entry in sorted(ranked, key=lambda rank: rank[:3])]


def _any(entries: Iterable[T]) -> list[T]:
    return list(entries)[:MOST_CHOICES]


def _distinct(choices: Iterable[T]) -> tuple[T, ...]:
    """Each once, in the order they came."""
    return tuple(dict.fromkeys(choices))


def _camera_words(camera: Any) -> list[str]:
    return f"{camera.maker} {camera.model} {camera.variant or ''}".casefold().split()


def _lens_words(lens: Any) -> list[str]:
    return f"{lens.maker} {lens.model}".casefold().split()


def _camera(camera: Any) -> CameraChoice:
    return CameraChoice(
        camera.maker,
        camera.model,
        camera.variant or "",
        camera.mount,
        _short(camera.crop_factor),
    )


def _lens(lens: Any) -> LensChoice:
    return LensChoice(
        lens.maker,
        lens.model,
        _short(lens.min_focal),
        _short(lens.max_focal or lens.min_focal),
        _short(lens.min_aperture) if lens.min_aperture else None,
        "RECTILINEAR" in str(lens.type),
    )


def _short(value: float) -> float:
    """What single precision meant: 1.7999999523162842 is 1.8."""
    return float(f"{value:.6g}")


def _named(maker: str, model: str) -> str:
    """Many models begin with their maker."""
    first = maker.split()[0] if maker else ""
    return model if model.casefold().startswith(first.casefold()) else f"{maker} {model}"
