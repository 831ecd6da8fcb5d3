"""Layout, warp, seams, blending, pyramid."""

from belvedere.compose.model import Layout, ProjectionName

__all__ = ["Layout", "ProjectionName"]
