"""Frames as a camera writes them: JPEG with EXIF."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from typing import Literal

import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from belvedere.shoot import Settings

Pixels = NDArray[np.uint8]
Subsampling = Literal["420", "422", "444"]

_SOI, _APP1 = b"\xff\xd8", b"\xff\xe1"
_TIME = "%Y:%m:%d %H:%M:%S"
_FLASH_FIRED, _FLASH_OFF = 1, 16
_AUTO, _MANUAL = 0, 1


def encode_frame(
    picture: Pixels,
    settings: Settings,
    taken_at: datetime,
    *,
    maker: str,
    model: str,
    quality: int = 93,
    subsampling: Subsampling = "422",
    subsecond: bool = False,
) -> bytes:
    """One frame as the bytes of a JPEG file with EXIF (CIPA DC-008).

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, upright.
    settings
        What the file states; what is None is left out.
    taken_at
        The camera's clock. Full seconds are cut, as cameras do, not rounded.
    subsecond
        Whether the file states hundredths of a second too.
    """
    height, width = picture.shape[:2]
    exif = _exif(settings, taken_at, width, height, subsecond)
    exif[ExifTags.Base.Make] = maker
    exif[ExifTags.Base.Model] = model
    jpeg: bytes = simplejpeg.encode_jpeg(
        np.ascontiguousarray(picture),
        quality=quality,
        colorspace="RGB",
        colorsubsampling=subsampling,
    )
    block = exif.tobytes()
    return _SOI + _APP1 + (len(block) + 2).to_bytes(2, "big") + block + jpeg[len(_SOI) :]


def _exif(
    settings: Settings, taken_at: datetime, width: int, height: int, subsecond: bool
) -> Image.Exif:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 1
    exif[ExifTags.Base.DateTime] = taken_at.strftime(_TIME)
    ifd = exif.get_ifd(ExifTags.IFD.Exif)
    ifd[ExifTags.Base.ExifVersion] = b"0232"
    ifd[ExifTags.Base.ColorSpace] = 1
    ifd[ExifTags.Base.ExifImageWidth] = width
    ifd[ExifTags.Base.ExifImageHeight] = height
    ifd[ExifTags.Base.DateTimeOriginal] = taken_at.strftime(_TIME)
    ifd[ExifTags.Base.DateTimeDigitized] = taken_at.strftime(_TIME)
    if subsecond:
        ifd[ExifTags.Base.SubsecTimeOriginal] = f"{taken_at.microsecond // 10_000:02d}"
    _state(ifd, settings)
    return exif


def _state(ifd: dict[int, object], settings: Settings) -> None:
    """Put the settings that are known into the EXIF directory `ifd`."""
    if settings.exposure_time_s is not None:
        ifd[ExifTags.Base.ExposureTime] = _shutter(settings.exposure_time_s)
    if settings.f_number is not None:
        ifd[ExifTags.Base.FNumber] = _tenths(settings.f_number)
    if settings.iso is not None:
        ifd[ExifTags.Base.ISOSpeedRatings] = round(settings.iso)
    if settings.focal_length_mm is not None:
        ifd[ExifTags.Base.FocalLength] = _tenths(settings.focal_length_mm)
    if settings.focal_length_35mm_mm is not None:
        ifd[ExifTags.Base.FocalLengthIn35mmFilm] = round(settings.focal_length_35mm_mm)
    if settings.white_balance is not None:
        ifd[ExifTags.Base.WhiteBalance] = _automatic(settings.white_balance)
    if settings.exposure_mode is not None:
        ifd[ExifTags.Base.ExposureMode] = _automatic(settings.exposure_mode)
    if settings.flash_fired is not None:
        ifd[ExifTags.Base.Flash] = _FLASH_FIRED if settings.flash_fired else _FLASH_OFF


def _shutter(exposure_time_s: float) -> IFDRational:
    """1/n below a second, as cameras write it; else tenths of a second."""
    if exposure_time_s < 1.0:
        return IFDRational(1, max(1, round(1.0 / exposure_time_s)))
    return _tenths(exposure_time_s)


def _tenths(value: float) -> IFDRational:
    fraction = Fraction(round(value * 10), 10)
    return IFDRational(fraction.numerator, fraction.denominator)


def _automatic(mode: str) -> int:
    return _AUTO if mode == "auto" else _MANUAL
