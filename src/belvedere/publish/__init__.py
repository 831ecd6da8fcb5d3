"""IIIF documents and the page: pure builders of what a site says."""

from belvedere.publish.address import parse_address
from belvedere.publish.image_info import IMAGE, image_info
from belvedere.publish.manifest import MANIFEST, manifest
from belvedere.publish.model import LOCAL_ADDRESS, Caption, Place, Site
from belvedere.publish.page import render_page
from belvedere.publish.places import clipped, region_towards
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
    "clipped",
    "image_info",
    "make_pyramid",
    "manifest",
    "parse_address",
    "region_towards",
    "render_page",
    "size_path",
    "tile_path",
    "tiles",
]
