"""One picture, for what it states of the camera that took it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from belvedere.foundation import CardError
from belvedere.imagefiles.catalogue import SUFFIXES
from belvedere.imagefiles.exif import Statement, read_statement
from belvedere.imagefiles.opening import UNREADABLE, opened


@dataclass(frozen=True, slots=True)
class StatedPicture:
    """A picture's own size as stored, before any turn, and its statement."""

    width_px: int
    height_px: int
    statement: Statement


def read_stated(path: Path) -> StatedPicture:
    """Size and EXIF of one picture file; its pixels are not decoded.

    Raises
    ------
    CardError
        The file is not there, or is no picture of a kind whose size can be trusted: raw files
        open as the small picture inside them.
    """
    if not path.is_file():
        what = "is a folder" if path.is_dir() else "does not exist"
        raise CardError(f"The picture {path} {what}.", "Give the path of one picture file.")
    if path.suffix.lower() not in SUFFIXES:
        raise CardError(
            f"{path} is not a JPEG, TIFF, HEIC or PNG by its name.",
            "Give a picture as the camera wrote it, not a raw file.",
        )
    try:
        with opened(path) as image:
            return StatedPicture(image.width, image.height, read_statement(image))
    except UNREADABLE as error:
        raise CardError(
            f"{path} cannot be read as a picture.", "Give another picture of the same camera."
        ) from error
