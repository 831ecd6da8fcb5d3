"""Frames as a camera writes them: JPEG with EXIF."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from math import log2
from typing import TYPE_CHECKING, Literal

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from PIL import ExifTags

from belvedere.imagefiles.exif_writer import (
    Ascii,
    Ratio,
    Rational,
    Short,
    Undefined,
    Value,
    exif_block,
)
from belvedere.shoot import Settings

if TYPE_CHECKING:
    from belvedere.rehearse import FileStyle

Pixels = NDArray[np.uint8]
Subsampling = Literal["420", "422", "444"]

_SOI, _APP1 = b"\xff\xd8", b"\xff\xe1"
_TIME = "%Y:%m:%d %H:%M:%S"
_FLASH_FIRED, _FLASH_OFF = 1, 16
_AUTO, _MANUAL = 0, 1
_THUMBNAIL_PX = (160, 120)  # CIPA DC-008 and DC-009: the size of a DCF thumbnail
# What turns an upright picture into the one the sensor saw, by orientation tag.
_AS_STORED = {
    3: cv2.ROTATE_180,
    6: cv2.ROTATE_90_COUNTERCLOCKWISE,
    8: cv2.ROTATE_90_CLOCKWISE,
}


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
    """One frame as the usual camera writes it; the arguments are those of `encode_as`.

    Parameters
    ----------
    subsecond
        Whether the file states hundredths of a second too.
    """
    from belvedere.rehearse import FileStyle

    style = FileStyle(maker=maker, model=model, subsecond_digits=2 if subsecond else 0)
    return encode_as(style, picture, settings, taken_at, quality=quality, subsampling=subsampling)


def encode_as(
    style: FileStyle,
    picture: Pixels,
    settings: Settings,
    shown_at: datetime,
    *,
    quality: int = 93,
    subsampling: Subsampling = "422",
) -> bytes:
    """One frame as the bytes of a JPEG file with EXIF (CIPA DC-008), written in a camera's style.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, upright; stored as `style.orientation` says.
    settings
        What the file states; what is None is left out.
    shown_at
        What the camera's clock shows. Full seconds are cut, as cameras do, not rounded.
    """
    stored = np.ascontiguousarray(_as_stored(picture, style.orientation))
    jpeg: bytes = simplejpeg.encode_jpeg(
        stored, quality=quality, colorspace="RGB", colorsubsampling=subsampling
    )
    block = exif_block(
        _main_tags(style, shown_at),
        _exif_tags(style, settings, shown_at, stored.shape[1], stored.shape[0]),
        style.byte_order,
        _thumbnail(stored) if style.has_thumbnail else b"",
    )
    length = (len(block) + 2).to_bytes(2, "big")
    return _SOI + _APP1 + length + block + jpeg[len(_SOI) :]


def _as_stored(picture: Pixels, orientation: int) -> Pixels:
    turn = _AS_STORED.get(orientation)
    return picture if turn is None else cv2.rotate(picture, turn).astype(np.uint8, copy=False)


def _main_tags(style: FileStyle, shown_at: datetime) -> dict[int, Value]:
    tags: dict[int, Value] = {
        ExifTags.Base.Make: Ascii(style.maker),
        ExifTags.Base.Model: Ascii(style.model),
        ExifTags.Base.Orientation: Short((style.orientation,)),
        ExifTags.Base.XResolution: Rational((72, 1)),
        ExifTags.Base.YResolution: Rational((72, 1)),
        ExifTags.Base.ResolutionUnit: Short((2,)),
        ExifTags.Base.YCbCrPositioning: Short((2,)),
    }
    if style.clock_tags != "none":
        tags[ExifTags.Base.DateTime] = Ascii(shown_at.strftime(_TIME))
    return tags


def _exif_tags(
    style: FileStyle, settings: Settings, shown_at: datetime, width: int, height: int
) -> dict[int, Value]:
    tags: dict[int, Value] = {
        ExifTags.Base.ExifVersion: Undefined(b"0232"),
        ExifTags.Base.ComponentsConfiguration: Undefined(b"\x01\x02\x03\x00"),
        ExifTags.Base.FlashPixVersion: Undefined(b"0100"),
        ExifTags.Base.ColorSpace: Short((1,)),
        ExifTags.Base.ExifImageWidth: Short((width,)),
        ExifTags.Base.ExifImageHeight: Short((height,)),
    }
    if style.clock_tags == "all":
        tags |= _clock_tags(shown_at, style.subsecond_digits)
    tags |= _lens_tags(style, settings)
    if style.states_modes:
        tags |= _mode_tags(settings)
    if style.maker_note_bytes:
        tags[ExifTags.Base.MakerNote] = Undefined(_maker_note(style))
    return tags


def _clock_tags(shown_at: datetime, digits: int) -> dict[int, Value]:
    moment = Ascii(shown_at.strftime(_TIME))
    tags: dict[int, Value] = {
        ExifTags.Base.DateTimeOriginal: moment,
        ExifTags.Base.DateTimeDigitized: moment,
    }
    if digits:
        fraction = Ascii(f"{shown_at.microsecond:06d}"[:digits])
        tags[ExifTags.Base.SubsecTimeOriginal] = fraction
        tags[ExifTags.Base.SubsecTimeDigitized] = fraction
    return tags


def _lens_tags(style: FileStyle, settings: Settings) -> dict[int, Value]:
    """Exposure time, f-number, sensitivity and focal length, as far as they are known."""
    tags: dict[int, Value] = {}
    if settings.exposure_time_s is not None:
        tags[ExifTags.Base.ExposureTime] = Rational(_shutter(settings.exposure_time_s, style))
    if settings.f_number is not None:
        tags[ExifTags.Base.FNumber] = Rational(_ratio(settings.f_number, style))
    if settings.iso is not None:
        tags[ExifTags.Base.ISOSpeedRatings] = Short((round(settings.iso),))
    if settings.focal_length_mm is not None:
        tags[ExifTags.Base.FocalLength] = Rational(_ratio(settings.focal_length_mm, style))
    if settings.focal_length_35mm_mm is not None and style.states_focal_length_35mm:
        tags[ExifTags.Base.FocalLengthIn35mmFilm] = Short((round(settings.focal_length_35mm_mm),))
    if style.states_apex:
        tags |= _apex_tags(settings)
    return tags


def _apex_tags(settings: Settings) -> dict[int, Value]:
    """Tv = −log2 t and Av = 2 log2 N (CIPA DC-008, annex C)."""
    tags: dict[int, Value] = {ExifTags.Base.ExposureBiasValue: Rational((0, 10), signed=True)}
    if settings.exposure_time_s is not None:
        tv = round(-log2(settings.exposure_time_s) * 1e6)
        tags[ExifTags.Base.ShutterSpeedValue] = Rational((tv, 1_000_000), signed=True)
    if settings.f_number is not None:
        av = round(2.0 * log2(settings.f_number) * 1e6)
        tags[ExifTags.Base.ApertureValue] = Rational((av, 1_000_000))
    return tags


def _mode_tags(settings: Settings) -> dict[int, Value]:
    tags: dict[int, Value] = {}
    if settings.white_balance is not None:
        tags[ExifTags.Base.WhiteBalance] = Short((_automatic(settings.white_balance),))
    if settings.exposure_mode is not None:
        tags[ExifTags.Base.ExposureMode] = Short((_automatic(settings.exposure_mode),))
    if settings.flash_fired is not None:
        tags[ExifTags.Base.Flash] = Short((_FLASH_FIRED if settings.flash_fired else _FLASH_OFF,))
    return tags


def _shutter(exposure_time_s: float, style: FileStyle) -> Ratio:
    """1/n below a second, as cameras write it; else tenths of a second."""
    if style.ratios == "millionths":
        return round(exposure_time_s * 1e6), 1_000_000
    if exposure_time_s >= 1.0:
        return _ratio(exposure_time_s, style)
    ratio = Fraction(1, max(1, round(1.0 / exposure_time_s)))
    if style.ratios == "tenths":
        return 10 * ratio.numerator, 10 * ratio.denominator
    return ratio.numerator, ratio.denominator


def _ratio(value: float, style: FileStyle) -> Ratio:
    """Tenths, reduced or not; thousandths where a camera writes millionths of a second."""
    if style.ratios == "millionths":
        return round(value * 1000), 1000
    if style.ratios == "tenths":
        return round(value * 10), 10
    fraction = Fraction(round(value * 10), 10)
    return fraction.numerator, fraction.denominator


def _automatic(mode: str) -> int:
    return _AUTO if mode == "auto" else _MANUAL


def _maker_note(style: FileStyle) -> bytes:
    """Bytes that only their maker understands: the same for every file of a camera."""
    name = f"{style.maker[:9]}\x00".encode("ascii", "replace")
    noise = np.random.default_rng([len(style.maker), style.maker_note_bytes])
    return (name + noise.bytes(style.maker_note_bytes))[: style.maker_note_bytes]


def _thumbnail(stored: Pixels) -> bytes:
    """The stored picture within 160 × 120 px, black beside it where its shape is another."""
    height, width = stored.shape[:2]
    scale = min(_THUMBNAIL_PX[0] / width, _THUMBNAIL_PX[1] / height)
    size = max(1, round(width * scale)), max(1, round(height * scale))
    small = cv2.resize(stored, size, interpolation=cv2.INTER_AREA)
    framed = np.zeros((_THUMBNAIL_PX[1], _THUMBNAIL_PX[0], 3), dtype=np.uint8)
    left, top = (_THUMBNAIL_PX[0] - size[0]) // 2, (_THUMBNAIL_PX[1] - size[1]) // 2
    framed[top : top + size[1], left : left + size[0]] = small
    jpeg: bytes = simplejpeg.encode_jpeg(
        framed, quality=80, colorspace="RGB", colorsubsampling="420"
    )
    return jpeg
