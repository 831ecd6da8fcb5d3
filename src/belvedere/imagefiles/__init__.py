"""The only room that opens picture files: EXIF, JPEG, TIFF, tiles."""

from belvedere.imagefiles.catalogue import (
    CardReading,
    Reading,
    picture_files,
    read_card,
    read_card_with_pictures,
    require_one_size,
    small_shrink,
)
from belvedere.imagefiles.folder import FolderSource

__all__ = [
    "CardReading",
    "FolderSource",
    "Reading",
    "picture_files",
    "read_card",
    "read_card_with_pictures",
    "require_one_size",
    "small_shrink",
]
