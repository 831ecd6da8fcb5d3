"""Layout, warp, seams, blending, pyramid."""

from belvedere.compose.layout import centre_scale_px_per_deg, cropped, make_layout
from belvedere.compose.model import Layout, ProjectionName, Window
from belvedere.compose.mosaic import UNCOVERED_RGB, Making, compose
from belvedere.compose.ports import BlockSink, Scratch

__all__ = [
    "UNCOVERED_RGB",
    "BlockSink",
    "Layout",
    "Making",
    "ProjectionName",
    "Scratch",
    "Window",
    "centre_scale_px_per_deg",
    "compose",
    "cropped",
    "make_layout",
]
