"""What a sample picture tells of camera, lens and light: the best way to plan with a real camera.

The sensor's size is not in any file; it follows from one of two statements.

- FocalPlaneXResolution, pixels per mm of sensor: with the pixels of the picture it gives the part
  of the sensor that was used. It is right for pictures as the camera wrote them, and nonsense
  after a resize, so it is believed only where the sizes agree and the sensor is one that exists.
- FocalLengthIn35mmFilm: the focal length that sees the same on 36 × 24 mm, by the diagonal, which
  is 43.267 mm there. A whole number, so ±0.5 mm of it is uncertain; and cameras reckon it with a
  rounded crop factor, such as 1.5 for 1.525.

Tags: CIPA DC-008 (Exif 2.32), table 8; from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from belvedere.foundation import PlanError
from belvedere.imagefiles import StatedPicture, read_stated
from belvedere.optics import FULL_FRAME_DIAGONAL_MM, ev100
from belvedere.shoot import Settings

#: Sensors that pictures are taken with: from a phone's to a medium format back's, and some more.
_SENSOR_WIDTHS_MM = (2.5, 70.0)
#: Darker than a moonless night and brighter than sun on snow: exposures that no scene asks for.
_SCENES_EV100 = (-8.0, 18.0)
#: Shapes of whole sensors, long side over short, and how close a picture comes to them.
_WHOLE_SHAPES = (4.0 / 3.0, 3.0 / 2.0)
_SAME_SHAPE = 0.03
#: How much crop factors are rounded: pictures of known cameras lie up to 1.7 % off.
_MAKERS_ROUND = 0.02
#: Two statements about the sensor that differ by more contradict each other.
_AGREE = 0.1


@dataclass(frozen=True, slots=True)
class Sensor:
    """A sensor's size for a picture lying on its long side, and where that comes from.

    `uncertainty` is a share: 0.02 for ±2 %.
    """

    width_mm: float
    height_mm: float
    source: str
    uncertainty: float


@dataclass(frozen=True, slots=True)
class Sample:
    """What one picture tells. Sizes are those of the picture lying on its long side.

    `written_px` is the picture size that the camera says it wrote, where this picture has another.
    `metered_ev100` is how bright the scene is if the picture is well exposed: an exposure
    correction that was dialled in is taken out again. `says` and `unknown` are sentences.
    """

    name: str
    maker: str
    model: str
    long_side_px: int
    short_side_px: int
    is_portrait: bool
    written_px: tuple[int, int] | None
    sensor: Sensor | None
    settings: Settings
    metered_ev100: float | None
    says: tuple[str, ...]
    unknown: tuple[str, ...]


def read_sample(path: Path) -> Sample:
    """Read a sample picture.

    Raises
    ------
    CardError
        The file cannot be read as a picture.
    PlanError
        It is a picture, but says nothing of the camera.
    """
    picture = read_stated(path)
    settings = picture.statement.settings
    told = (settings.focal_length_mm, settings.exposure_time_s, settings.f_number)
    if all(value is None for value in told) and _sensor(picture) is None:
        raise PlanError(
            f"{path} says nothing of the camera that took it: its EXIF is missing or was stripped.",
            "Give a picture as it came from the camera, or type the figures by hand.",
        )
    return _sample(path.name, picture)


def equivalent_sensor(
    focal_length_mm: float, equivalent_mm: float, width_px: int, height_px: int
) -> Sensor:
    """The sensor for which `focal_length_mm` sees what `equivalent_mm` does on 36 × 24 mm."""
    diagonal_mm = FULL_FRAME_DIAGONAL_MM * focal_length_mm / equivalent_mm
    diagonal_px = math.hypot(width_px, height_px)
    rounding = 0.5 / equivalent_mm
    return Sensor(
        max(width_px, height_px) / diagonal_px * diagonal_mm,
        min(width_px, height_px) / diagonal_px * diagonal_mm,
        f"from the 35 mm equivalent of {equivalent_mm:g} mm, a whole number (±{rounding:.1%}), "
        f"by a crop factor that makers round too (±{_MAKERS_ROUND:.0%})",
        rounding + _MAKERS_ROUND,
    )


def _sample(name: str, picture: StatedPicture) -> Sample:
    statement = picture.statement
    settings, sensor = statement.settings, _sensor(picture)
    stands = picture.height_px > picture.width_px
    if statement.orientation >= 5:
        stands = not stands
    brightness = _metered(settings, statement.exposure_bias_ev)
    return Sample(
        name=name,
        maker=statement.maker,
        model=statement.model,
        long_side_px=max(picture.width_px, picture.height_px),
        short_side_px=min(picture.width_px, picture.height_px),
        is_portrait=stands,
        written_px=statement.stated_size_px if _is_resized(picture) else None,
        sensor=sensor,
        settings=settings,
        metered_ev100=brightness,
        says=_says(picture, sensor, brightness, stands),
        unknown=_unknown(picture, sensor, brightness),
    )


def _sensor(picture: StatedPicture) -> Sensor | None:
    by_plane, by_equivalent = _sensor_by_plane(picture), _sensor_by_equivalent(picture)
    if by_plane is None or by_equivalent is None:
        return by_plane or by_equivalent
    apart = by_plane.width_mm / by_equivalent.width_mm - 1.0
    # A focal plane that contradicts the equivalent is left over from before a resize.
    return by_plane if abs(apart) <= _AGREE + by_equivalent.uncertainty else by_equivalent


def _sensor_by_plane(picture: StatedPicture) -> Sensor | None:
    px_per_mm = picture.statement.focal_plane_px_per_mm
    if px_per_mm is None or _is_resized(picture) or _zoomed(picture):
        return None
    width_mm, height_mm = picture.width_px / px_per_mm[0], picture.height_px / px_per_mm[1]
    if not _SENSOR_WIDTHS_MM[0] <= max(width_mm, height_mm) <= _SENSOR_WIDTHS_MM[1]:
        return None
    return Sensor(
        max(width_mm, height_mm),
        min(width_mm, height_mm),
        "from the focal plane resolution that the camera states",
        0.01,
    )


def _sensor_by_equivalent(picture: StatedPicture) -> Sensor | None:
    settings = picture.statement.settings
    focal_mm, equivalent_mm = settings.focal_length_mm, settings.focal_length_35mm_mm
    if focal_mm is None or equivalent_mm is None or _zoomed(picture):
        return None
    sensor = equivalent_sensor(focal_mm, equivalent_mm, picture.width_px, picture.height_px)
    return sensor if sensor.width_mm >= _SENSOR_WIDTHS_MM[0] else None


def _is_resized(picture: StatedPicture) -> bool:
    """Whether the picture has other sides than the camera says that it wrote."""
    stated = picture.statement.stated_size_px
    return stated is not None and sorted(stated) != sorted((picture.width_px, picture.height_px))


def _is_cut(picture: StatedPicture) -> bool:
    """Whether the picture has another shape than the sensors of most cameras."""
    long_px, short_px = sorted((picture.width_px, picture.height_px), reverse=True)
    shape = long_px / max(1, short_px)
    return all(abs(shape / whole - 1.0) > _SAME_SHAPE for whole in _WHOLE_SHAPES)


def _zoomed(picture: StatedPicture) -> bool:
    zoom = picture.statement.digital_zoom
    return zoom is not None and zoom > 1.01


def _metered(settings: Settings, bias_ev: float | None) -> float | None:
    f_number, shutter_s, iso = settings.f_number, settings.exposure_time_s, settings.iso
    if f_number is None or shutter_s is None or iso is None:
        return None
    # A correction of +1 EV lets in twice the light that the meter asked for.
    brightness = ev100(f_number, shutter_s, iso) + (bias_ev or 0.0)
    return brightness if _SCENES_EV100[0] <= brightness <= _SCENES_EV100[1] else None


def _says(
    picture: StatedPicture, sensor: Sensor | None, brightness: float | None, stands: bool
) -> tuple[str, ...]:
    settings = picture.statement.settings
    found = []
    if name := " ".join(filter(None, (picture.statement.maker, picture.statement.model))):
        found.append(f"Camera: {name}.")
    sides = sorted((picture.width_px, picture.height_px), reverse=not stands)
    shape = "portrait" if stands else "landscape"
    found.append(f"Picture: {sides[0]} × {sides[1]} px, {shape}.")
    if sensor is not None:
        found.append(f"Sensor: {sensor.width_mm:.2f} × {sensor.height_mm:.2f} mm, {sensor.source}.")
    if settings.focal_length_mm is not None:
        found.append(f"Focal length when it was taken: {settings.focal_length_mm:g} mm.")
    if brightness is not None:
        found.append(
            f"Light when it was taken: EV {brightness:.1f} at ISO 100, if the picture is well "
            "exposed."
        )
    return tuple(found)


def _unknown(
    picture: StatedPicture, sensor: Sensor | None, brightness: float | None
) -> tuple[str, ...]:
    missing = []
    if sensor is None:
        missing.append(f"The sensor's size: {_why_no_sensor(picture)}.")
    if _is_resized(picture) and (stated := picture.statement.stated_size_px):
        missing.append(
            f"The camera's own picture size: it says {stated[0]} × {stated[1]} px, so this picture "
            "was made smaller, or cut, afterwards."
        )
    if sensor is not None and _is_cut(picture):
        missing.append(
            "Whether the sensor is larger: the picture has another shape than whole sensors have. "
            "Take the sample in the shape that you will shoot in."
        )
    if picture.statement.settings.focal_length_mm is None:
        missing.append("The focal length.")
    if brightness is None:
        missing.append("The light: aperture, exposure time or ISO is missing or makes no sense.")
    missing.append("The zoom range and the apertures of the lens: no picture states them.")
    return tuple(missing)


def _why_no_sensor(picture: StatedPicture) -> str:
    if _zoomed(picture):
        return (
            f"digital zoom of {picture.statement.digital_zoom:.1f}× cut the picture; take one "
            "without it"
        )
    if picture.statement.focal_plane_px_per_mm is not None:
        return "what the file says of its pixels fits no sensor, or the picture was resized"
    return "the file has neither a focal plane resolution nor a 35 mm equivalent"
