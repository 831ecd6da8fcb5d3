"""The numbers of a picture in words that a visitor reads."""

from __future__ import annotations

from belvedere.publish.model import Site


def size_in_words(width_px: int, height_px: int) -> str:
    """How large a picture is, in megapixels or gigapixels of 10**9 px."""
    megapixels = width_px * height_px / 1e6
    if megapixels >= 1000:
        return f"{megapixels / 1000:.2f} gigapixels"
    return f"{megapixels:.0f} megapixels" if megapixels >= 10 else f"{megapixels:.1f} megapixels"


def facts(site: Site) -> list[tuple[str, str]]:
    """Label and value of what is known of the picture, for the page and the manifest."""
    pyramid, layout, caption = site.pyramid, site.layout, site.caption
    known = []
    if caption.date:
        known.append(("Taken", caption.date))
    known.append(("Size", size_in_words(pyramid.width_px, pyramid.height_px)))
    known.append(("Width and height", f"{pyramid.width_px:,} × {pyramid.height_px:,} px"))
    if layout is not None:
        width_deg = layout.width_px / layout.scale_px_per_deg
        known.append(("Field of view", f"{min(width_deg, 360.0):.1f}° wide"))
        known.append(("Projection", layout.projection))
        known.append(("Scale", f"{layout.scale_px_per_deg:.1f} px per degree"))
    return known
