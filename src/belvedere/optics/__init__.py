"""One lens and one sensor: field of view and the mapping between rays and pixels."""

from belvedere.optics.lens_model import LensModel

__all__ = ["LensModel"]
