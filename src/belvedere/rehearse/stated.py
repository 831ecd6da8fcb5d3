"""What a rehearsed file states: its name on the card, and the camera's settings."""

from __future__ import annotations

import numpy as np

from belvedere.optics import FULL_FRAME_DIAGONAL_MM
from belvedere.rehearse import makers
from belvedere.rehearse.makers import FileStyle
from belvedere.rehearse.shot import Shot
from belvedere.shoot import Settings, Shoot

_USUAL = FileStyle()
MAKER, MODEL = _USUAL.maker, _USUAL.model


def card_path(number: int, style: FileStyle = _USUAL) -> str:
    """Path of a file on the card; numbers go on from folder to folder."""
    return makers.card_path(style, number)


def card_number(path: str, style: FileStyle = _USUAL) -> int:
    """The number of a file by its path on the card; the inverse of `card_path`."""
    return makers.card_number(style, path)


def stated_settings(shot: Shot, shoot: Shoot) -> Settings:
    """The settings in the file of a shot; its exposure time is that of `shot`."""
    camera, focal_length = shoot.camera, shoot.lens.focal_length_mm
    diagonal = float(np.hypot(camera.sensor_width_mm, camera.sensor_height_mm))
    return Settings(
        exposure_time_s=shot.stated_exposure_s,
        f_number=shot.settings.f_number,
        iso=shot.settings.iso,
        focal_length_mm=focal_length,
        focal_length_35mm_mm=focal_length * FULL_FRAME_DIAGONAL_MM / diagonal,
        white_balance=shot.settings.white_balance_mode,
        flash_fired=False,
        exposure_mode=shot.settings.exposure_mode,
    )
