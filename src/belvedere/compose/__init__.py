"""Layout, warp, seams, blending, pyramid."""

from belvedere.compose.layout import centre_scale_px_per_deg, cropped, make_layout
from belvedere.compose.model import Layout, ProjectionName, Window
from belvedere.compose.mosaic import (
    UNCOVERED_RGB,
    Composed,
    Making,
    compose,
    crop_to_covered,
)
from belvedere.compose.ports import BlockSink, Scratch
from belvedere.compose.proxy import Proxy, ProxyFrame, ProxyView, levels_between, view_of

__all__ = [
    "UNCOVERED_RGB",
    "BlockSink",
    "Composed",
    "Layout",
    "Making",
    "ProjectionName",
    "Proxy",
    "ProxyFrame",
    "ProxyView",
    "Scratch",
    "Window",
    "centre_scale_px_per_deg",
    "compose",
    "crop_to_covered",
    "cropped",
    "levels_between",
    "make_layout",
    "view_of",
]
