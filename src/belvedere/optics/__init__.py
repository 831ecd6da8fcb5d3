"""One lens and one sensor: field of view and the mapping between rays and pixels."""

from belvedere.optics.field_of_view import (
    field_of_view_deg,
    focal_length_px,
    pixel_angle_arcsec,
    scale_px_per_deg,
)
from belvedere.optics.lens_model import LensModel
from belvedere.optics.sharpness import SharpnessBudget

__all__ = [
    "LensModel",
    "SharpnessBudget",
    "field_of_view_deg",
    "focal_length_px",
    "pixel_angle_arcsec",
    "scale_px_per_deg",
]
