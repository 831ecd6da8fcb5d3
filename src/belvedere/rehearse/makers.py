"""How makers of cameras write files: names, tags, byte order, clock. The makers are invented.

What a camera may write is in CIPA DC-008 (Exif 2.32) and CIPA DC-009 (DCF 2.0); which of it a
maker does write differs from one to the next, and a check that leans on one maker's way fails
with another's. Which ways there are: common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Literal

from belvedere.foundation import PlanError

#: DCF (CIPA DC-009): folders 100 to 999, files 0001 to 9999; from memory.
_FIRST_FOLDER, _LAST_FOLDER, _LAST_FILE = 100, 999, 9999
_FOLDER_NAME, _FILE_PREFIX = re.compile(r"[0-9A-Z_]{5}"), re.compile(r"[0-9A-Z_]{4}")
#: The whole EXIF block has to fit into 64 kB (CIPA DC-008, 4.5.4).
_LARGEST_NOTE = 32_000
_SECONDS_PER_DAY = 86_400.0

Orientation = Literal[1, 3, 6, 8]


@dataclass(frozen=True, slots=True)
class CameraClock:
    """How the camera's clock goes against the true one.

    Attributes
    ----------
    ahead_s
        How far it is ahead at the start: 3600 where summer time was forgotten, negative if slow.
    gains_s_per_day
        How much it gains; half a second is usual, ten are poor (common practice, no source).
    jumps
        (seconds after the start, seconds it jumps ahead then): set from outside in mid-sweep.
    """

    ahead_s: float = 0.0
    gains_s_per_day: float = 0.0
    jumps: tuple[tuple[float, float], ...] = ()

    def shows(self, moment: datetime, start: datetime) -> datetime:
        """What the clock shows at a true `moment` of a shoot that began at `start`."""
        after_s = (moment - start).total_seconds()
        off_s = self.ahead_s + after_s * self.gains_s_per_day / _SECONDS_PER_DAY
        off_s += sum(by_s for at_s, by_s in self.jumps if after_s >= at_s)
        return moment + timedelta(seconds=off_s)


@dataclass(frozen=True, slots=True)
class FileStyle:
    """How one camera names and fills its files.

    Attributes
    ----------
    maker, model
        As the tags state them.
    byte_order
        "II" (little endian) or "MM" (big endian) of the EXIF block.
    clock_tags
        "all": original, digitized and changed; "changed": the last one alone, as some cameras and
        many programs leave it; "none": a camera whose clock was never set.
    subsecond_digits
        Digits of the fraction of a second, 0 to 3; 0 leaves the tags out.
    ratios
        "lowest": 1/400, 28/5; "tenths": 10/4000, 56/10; "millionths": 2500/1000000, 5600/1000.
    states_focal_length_35mm, states_modes, states_apex
        Whether the 35-mm equivalent, the modes of exposure, white balance and flash, and the APEX
        values beside exposure time and f-number are there.
    orientation
        How the camera was held, as the orientation tag says: the picture is stored turned. 1 as
        the sensor lies, 6 and 8 upright on either side, 3 upside down.
    has_thumbnail
        Whether a picture of 160 × 120 px is in the EXIF block.
    maker_note_bytes
        Size of the maker's own block; its content is noise to everybody else.
    folder_name
        Five characters after the folder's number.
    file_prefix
        Four characters before the file's number.
    suffix
        Of the file's name, with its full stop.
    files_per_folder
        After so many files the next folder begins; numbers go on, and roll over after 9999.
    clock
        How its clock goes.

    Raises
    ------
    PlanError
        If names are none that a camera may give, or numbers are out of their range.
    """

    maker: str = "Belvedere"
    model: str = "Rehearsal 1"
    byte_order: Literal["II", "MM"] = "MM"
    clock_tags: Literal["all", "changed", "none"] = "all"
    subsecond_digits: int = 0
    ratios: Literal["lowest", "tenths", "millionths"] = "lowest"
    states_focal_length_35mm: bool = True
    states_modes: bool = True
    states_apex: bool = False
    orientation: Orientation = 1
    has_thumbnail: bool = False
    maker_note_bytes: int = 0
    folder_name: str = "SALTM"
    file_prefix: str = "PIC_"
    suffix: str = ".JPG"
    files_per_folder: int = _LAST_FILE
    clock: CameraClock = field(default_factory=CameraClock)

    def __post_init__(self) -> None:
        if not (
            _FOLDER_NAME.fullmatch(self.folder_name) and _FILE_PREFIX.fullmatch(self.file_prefix)
        ):
            raise PlanError(
                f"No camera names a folder “{self.folder_name}” and files “{self.file_prefix}”.",
                "Give five and four of A to Z, 0 to 9 and _.",
            )
        if not 1 <= self.files_per_folder <= _LAST_FILE:
            raise PlanError(
                f"A folder cannot hold {self.files_per_folder} files.",
                f"Give 1 to {_LAST_FILE}.",
            )
        if not 0 <= self.maker_note_bytes <= _LARGEST_NOTE:
            raise PlanError(
                f"A maker's block of {self.maker_note_bytes} bytes does not fit beside the rest.",
                f"Give 0 to {_LARGEST_NOTE}.",
            )
        if not 0 <= self.subsecond_digits <= 3:
            raise PlanError(
                f"No camera states {self.subsecond_digits} digits of a second.", "Give 0 to 3."
            )


#: Ways of writing files by the word that asks for them.
FILE_STYLES: dict[str, FileStyle] = {
    "usual": FileStyle(),
    "compact": FileStyle(
        maker="SALTMERE CAMERA WORKS",
        model="SCW-3",
        byte_order="II",
        ratios="tenths",
        states_focal_length_35mm=False,
        has_thumbnail=True,
        folder_name="_SCW3",
        file_prefix="SCW_",
        files_per_folder=100,
    ),
    "system": FileStyle(
        maker="Tidewrack",
        model="Tidewrack Mark II",
        subsecond_digits=2,
        ratios="tenths",
        states_apex=True,
        has_thumbnail=True,
        maker_note_bytes=3000,
        folder_name="TIDEW",
        file_prefix="_TW2",
        files_per_folder=9999,
    ),
    "mirrorless": FileStyle(
        maker="Mole & Pier",
        model="Gull 12",
        byte_order="II",
        subsecond_digits=3,
        ratios="millionths",
        states_apex=True,
        has_thumbnail=True,
        maker_note_bytes=12_000,
        folder_name="_GULL",
        file_prefix="GU12",
        files_per_folder=1000,
    ),
    "early": FileStyle(
        maker="Saltmere Camera Works",
        model="One",
        clock_tags="changed",
        ratios="tenths",
        states_focal_length_35mm=False,
        states_modes=False,
        folder_name="SCW01",
        file_prefix="P000",
        suffix=".jpg",
    ),
}


def card_path(style: FileStyle, number: int) -> str:
    """Path on the card of the `number`-th file of the camera's life, counted from 1.

    Raises
    ------
    PlanError
        Below 1, or where the camera has run out of folders.
    """
    folder = _FIRST_FOLDER + (number - 1) // style.files_per_folder
    if number < 1 or folder > _LAST_FOLDER:
        most = (_LAST_FOLDER - _FIRST_FOLDER + 1) * style.files_per_folder
        raise PlanError(
            f"A camera has no file number {number}.", f"Give a number from 1 to {most}."
        )
    within = (number - 1) % _LAST_FILE + 1
    return f"DCIM/{folder}{style.folder_name}/{style.file_prefix}{within:04d}{style.suffix}"


def card_number(style: FileStyle, path: str) -> int:
    """The number of a file by its path on the card; the inverse of `card_path`."""
    folder, name = path.split("/")[-2:]
    within = int(name.removeprefix(style.file_prefix).removesuffix(style.suffix))
    before = (int(folder[:3]) - _FIRST_FOLDER) * style.files_per_folder
    # Of the numbers that end in this one, the only one that lies in the folder.
    return before + (within - 1 - before) % _LAST_FILE + 1
