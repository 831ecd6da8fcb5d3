"""The image service's own description: ``info.json`` of the IIIF Image API 3.0."""

from __future__ import annotations

from typing import Any

from belvedere.publish.address import licence_uri
from belvedere.publish.model import Site
from belvedere.publish.pyramid import TILE_PX

#: Folder of the image service below the site.
IMAGE = "image"


def image_id(site: Site) -> str:
    """The image service's id: its address, without a slash at the end."""
    return site.address + IMAGE


def image_info(site: Site) -> dict[str, Any]:
    """Build ``info.json`` (Image API 3.0, section 5).

    A level 0 service has ready-made files only, and one of them must be the whole picture at
    size ``max`` (section 4.2.3, compliance document). Of gigapixels that would be one giant
    file; `maxWidth` (section 5.3; it bounds the height as well) makes ``max`` a small one. Tiles
    are not concerned: it limits the size of what is answered, not of the region asked for.
    """
    pyramid = site.pyramid
    info: dict[str, Any] = {
        "@context": "http://iiif.io/api/image/3/context.json",
        "id": image_id(site),
        "type": "ImageService3",
        "protocol": "http://iiif.io/api/image",
        "profile": "level0",
        "width": pyramid.width_px,
        "height": pyramid.height_px,
    }
    largest = pyramid.largest
    if largest.scale_factor > 1:
        info["maxWidth"] = max(largest.width_px, largest.height_px)
    info["sizes"] = [
        {"width": level.width_px, "height": level.height_px} for level in pyramid.sizes
    ]
    info["tiles"] = [
        {
            "width": TILE_PX,
            "height": TILE_PX,
            "scaleFactors": [level.scale_factor for level in pyramid.levels],
        }
    ]
    licence = licence_uri(site.caption.rights)
    if licence is not None:
        info["rights"] = licence
    return info
