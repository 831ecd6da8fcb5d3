"""The only room that opens picture files: EXIF, JPEG, TIFF, tiles."""

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
from belvedere.imagefiles.mosaic_reader import MosaicFile, read_mosaic
from belvedere.imagefiles.one_pass import Looker, OnePass
from belvedere.imagefiles.sample import StatedPicture, read_stated
from belvedere.imagefiles.scratch import DiskScratch
from belvedere.imagefiles.shutter_order import file_number, in_shutter_order
from belvedere.imagefiles.tiff_writer import Packing, TiffSink
from belvedere.imagefiles.tiles import TILE_RECIPE, write_tiles
from belvedere.imagefiles.tints import tinted
from belvedere.imagefiles.wholeness import ends_whole

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
