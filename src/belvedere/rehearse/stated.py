"""What a rehearsed file states: its name on the card, and the camera's settings."""

from __future__ import annotations

import numpy as np

from belvedere.rehearse.rehearsal import Shot
from belvedere.shoot import Settings, Shoot

MAKER, MODEL = "Belvedere", "Rehearsal 1"
_F_NUMBER, _ISO = 5.6, 100.0
#: Diagonal of 36 × 24 mm, the frame that 35-mm equivalents refer to.
_FULL_FRAME_DIAGONAL_MM = float(np.hypot(36.0, 24.0))
#: DCF (CIPA DC-009): files of a folder are numbered up to 9999, folders from 100.
_FILES_PER_FOLDER, _FIRST_FOLDER = 9999, 100


def card_path(number: int) -> str:
    """Path of a file on the card; numbers go on from folder to folder."""
    folder, within = divmod(number - 1, _FILES_PER_FOLDER)
    return f"DCIM/{_FIRST_FOLDER + folder}SALTM/PIC_{within + 1:04d}.JPG"


def card_number(path: str) -> int:
    """The number of a file by its path on the card; the inverse of `card_path`."""
    folder, name = path.split("/")[-2:]
    within = int(name.removeprefix("PIC_").removesuffix(".JPG"))
    return (int(folder[:3]) - _FIRST_FOLDER) * _FILES_PER_FOLDER + within


def stated_settings(shot: Shot, shoot: Shoot) -> Settings:
    """The settings in the file of a shot: all by hand, the exposure time as it was set."""
    camera, focal_length = shoot.camera, shoot.lens.focal_length_mm
    diagonal = float(np.hypot(camera.sensor_width_mm, camera.sensor_height_mm))
    return Settings(
        exposure_time_s=shot.stated_exposure_s,
        f_number=_F_NUMBER,
        iso=_ISO,
        focal_length_mm=focal_length,
        focal_length_35mm_mm=focal_length * _FULL_FRAME_DIAGONAL_MM / diagonal,
        white_balance="manual",
        flash_fired=False,
        exposure_mode="manual",
    )
