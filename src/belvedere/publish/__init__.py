"""IIIF documents and the page: pure builders of what a site says."""

from belvedere.publish.address import is_uri, parse_address
from belvedere.publish.image_info import IMAGE, image_info
from belvedere.publish.manifest import MANIFEST, manifest
from belvedere.publish.model import LOCAL_ADDRESS, Caption, Place, Site
from belvedere.publish.page import render_page
from belvedere.publish.pyramid import (
    MAX_PATH,
    TILE_PX,
    Level,
    Pyramid,
    Tile,
    make_pyramid,
    size_path,
    tile_path,
    tiles,
)

__all__ = [
    "IMAGE",
    "LOCAL_ADDRESS",
    "MANIFEST",
    "MAX_PATH",
    "TILE_PX",
    "Caption",
    "Level",
    "Place",
    "Pyramid",
    "Site",
    "Tile",
    "image_info",
    "is_uri",
    "make_pyramid",
    "manifest",
    "parse_address",
    "render_page",
    "size_path",
    "tile_path",
    "tiles",
]
