"""What a picture file states about itself: clock, settings, maker, orientation.

Tags and meanings: CIPA DC-008 (Exif 2.32), tables 4 to 8; read by Pillow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from PIL import Image

from belvedere.shoot import Settings

_MAKER, _MODEL, _ORIENTATION, _CHANGED_AT = 271, 272, 274, 306
_EXIF_BLOCK = 0x8769
_EXPOSURE_TIME, _F_NUMBER, _ISO = 33434, 33437, 34855
_TAKEN_AT, _DIGITIZED_AT = 36867, 36868
_FLASH, _FOCAL_LENGTH = 37385, 37386
_SUBSECOND_TAKEN, _SUBSECOND_DIGITIZED = 37521, 37522
_EXPOSURE_MODE, _WHITE_BALANCE, _FOCAL_LENGTH_35MM = 41986, 41987, 41989
_EXPOSURE_BIAS, _DIGITAL_ZOOM, _FOCUS_DISTANCE = 37380, 41988, 37382
_STATED_WIDTH, _STATED_HEIGHT = 40962, 40963
_FOCAL_PLANE_X, _FOCAL_PLANE_Y, _FOCAL_PLANE_UNIT = 41486, 41487, 41488

_WHITE_BALANCES = {0: "auto", 1: "manual"}
_EXPOSURE_MODES = {0: "auto", 1: "manual", 2: "bracket"}
#: Inch, unless said; beside the standard's inch and centimetre, some cameras write millimetres.
_MM_PER_UNIT = {2: 25.4, 3: 10.0, 4: 1.0}
#: A focus distance with this numerator is infinity by the standard; what we write for it, m.
_INFINITE, _INFINITE_M = 0xFFFFFFFF, 1e6
#: Mean step of the example table for luminance in ITU-T T.81, annex K, table K.1.
_EXAMPLE_STEP = 57.625


@dataclass(frozen=True, slots=True)
class Statement:
    """What one file says of itself; empty where it is silent or speaks nonsense.

    `stated_size_px` and `focal_plane_px_per_mm` (pixels per mm of sensor) are those of the picture
    as it was stored by the camera, across and down, before any turn.
    """

    taken_at: datetime | None = None
    has_subsecond: bool = False
    settings: Settings = field(default_factory=Settings)
    maker: str = ""
    model: str = ""
    orientation: int = 1
    stated_size_px: tuple[int, int] | None = None
    focal_plane_px_per_mm: tuple[float, float] | None = None
    digital_zoom: float | None = None
    exposure_bias_ev: float | None = None


def read_statement(image: Image.Image) -> Statement:
    """The EXIF of an opened picture; never raises on nonsense inside single tags."""
    exif = image.getexif()
    main = dict(exif)
    block = dict(exif.get_ifd(_EXIF_BLOCK))
    taken_at, has_subsecond = _clock(main, block)
    return Statement(
        taken_at,
        has_subsecond,
        replace(_settings(block), jpeg_quality=jpeg_quality(image)),
        _text(main.get(_MAKER)),
        _text(main.get(_MODEL)),
        _orientation(main.get(_ORIENTATION)),
        _stated_size(block),
        _focal_plane(block),
        _positive(block.get(_DIGITAL_ZOOM)),
        _number(block.get(_EXPOSURE_BIAS)),
    )


def _clock(main: dict[int, Any], block: dict[int, Any]) -> tuple[datetime | None, bool]:
    for stated, subsecond in (
        (block.get(_TAKEN_AT), block.get(_SUBSECOND_TAKEN)),
        (block.get(_DIGITIZED_AT), block.get(_SUBSECOND_DIGITIZED)),
        (main.get(_CHANGED_AT), None),
    ):
        try:
            moment = datetime.strptime(_text(stated)[:19], "%Y:%m:%d %H:%M:%S")
        except ValueError:
            continue
        fraction = _text(subsecond)
        if fraction.isascii() and fraction.isdigit():
            return moment + timedelta(seconds=int(fraction) / 10 ** len(fraction)), True
        return moment, False
    return None, False


def _settings(block: dict[int, Any]) -> Settings:
    flash = _number(block.get(_FLASH))
    white_balance = _number(block.get(_WHITE_BALANCE))
    exposure_mode = _number(block.get(_EXPOSURE_MODE))
    return Settings(
        exposure_time_s=_positive(block.get(_EXPOSURE_TIME)),
        f_number=_positive(block.get(_F_NUMBER)),
        iso=_positive(block.get(_ISO)),
        focal_length_mm=_positive(block.get(_FOCAL_LENGTH)),
        focal_length_35mm_mm=_positive(block.get(_FOCAL_LENGTH_35MM)),
        white_balance=None if white_balance is None else _WHITE_BALANCES.get(int(white_balance)),
        flash_fired=None if flash is None else bool(int(flash) & 1),
        exposure_mode=None if exposure_mode is None else _EXPOSURE_MODES.get(int(exposure_mode)),
        focus_distance_m=_focus_distance_m(block.get(_FOCUS_DISTANCE)),
    )


def _focus_distance_m(value: Any) -> float | None:
    """Metres; 0 means that the camera does not know."""
    if getattr(value, "numerator", None) == _INFINITE:
        return _INFINITE_M
    distance_m = _positive(value)
    return None if distance_m is None else min(distance_m, _INFINITE_M)


def jpeg_quality(image: Image.Image) -> int | None:
    """How finely a JPEG is quantised, 1 to 100; None for other files.

    The quality at which the standard's example table, scaled as the Independent JPEG Group's
    library does (50 leaves it as it is; from memory), has the same mean step as the file's table
    for luminance. Makers use tables of their own, so it compares files of one camera.
    """
    table = (getattr(image, "quantization", None) or {}).get(0)
    if not table:
        return None
    scale = float(sum(table)) / len(table) / _EXAMPLE_STEP
    quality = 100.0 - 50.0 * scale if scale <= 1.0 else 50.0 / scale
    return int(max(1, min(100, round(quality))))


def _stated_size(block: dict[int, Any]) -> tuple[int, int] | None:
    width, height = _positive(block.get(_STATED_WIDTH)), _positive(block.get(_STATED_HEIGHT))
    return None if width is None or height is None else (int(width), int(height))


def _focal_plane(block: dict[int, Any]) -> tuple[float, float] | None:
    across, down = _positive(block.get(_FOCAL_PLANE_X)), _positive(block.get(_FOCAL_PLANE_Y))
    unit_mm = _MM_PER_UNIT.get(int(_number(block.get(_FOCAL_PLANE_UNIT, 2)) or 0))
    if across is None or unit_mm is None:
        return None
    return across / unit_mm, (down or across) / unit_mm


def _orientation(value: Any) -> int:
    number = _number(value)
    return int(number) if number is not None and number in range(1, 9) else 1


def _number(value: Any) -> float | None:
    """A finite number out of what a tag holds: a number, a ratio, or the first of several."""
    if isinstance(value, tuple | list):
        value = value[0] if value else None
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _positive(value: Any) -> float | None:
    number = _number(value)
    return number if number is not None and number > 0.0 else None


def _text(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return value.replace("\x00", " ").strip() if isinstance(value, str) else ""
