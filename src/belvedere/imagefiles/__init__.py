"""The only room that opens picture files: EXIF, JPEG, TIFF, tiles.

What reads and writes mosaics is loaded when it is first asked for: a check at the tripod needs
none of it, and begins a third of a second sooner.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from belvedere.imagefiles.catalogue import (
    CardReading,
    Reading,
    picture_files,
    processor_threads,
    read_card,
    read_card_with_pictures,
    require_one_size,
    small_shrink,
)
from belvedere.imagefiles.folder import FolderSource
from belvedere.imagefiles.jpeg_plain import jpeg_bytes
from belvedere.imagefiles.jpeg_writer import encode_as, encode_frame
from belvedere.imagefiles.one_pass import Looker, OnePass
from belvedere.imagefiles.sample import StatedPicture, read_stated
from belvedere.imagefiles.scratch import DiskScratch
from belvedere.imagefiles.shutter_order import file_number, in_shutter_order
from belvedere.imagefiles.tints import tinted
from belvedere.imagefiles.wholeness import ends_whole

if TYPE_CHECKING:
    from belvedere.imagefiles.mosaic_reader import MosaicFile, read_mosaic
    from belvedere.imagefiles.tiff_writer import Packing, TiffSink
    from belvedere.imagefiles.tiles import TILE_RECIPE, write_tiles

_LATER = {
    "MosaicFile": "mosaic_reader",
    "Packing": "tiff_writer",
    "TILE_RECIPE": "tiles",
    "TiffSink": "tiff_writer",
    "read_mosaic": "mosaic_reader",
    "write_tiles": "tiles",
}

__all__ = [
    "TILE_RECIPE",
    "CardReading",
    "DiskScratch",
    "FolderSource",
    "Looker",
    "MosaicFile",
    "OnePass",
    "Packing",
    "Reading",
    "StatedPicture",
    "TiffSink",
    "encode_as",
    "encode_frame",
    "ends_whole",
    "file_number",
    "in_shutter_order",
    "jpeg_bytes",
    "picture_files",
    "processor_threads",
    "read_card",
    "read_card_with_pictures",
    "read_mosaic",
    "read_stated",
    "require_one_size",
    "small_shrink",
    "tinted",
    "write_tiles",
]


def __getattr__(name: str) -> Any:
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
