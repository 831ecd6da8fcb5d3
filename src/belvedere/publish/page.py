"""The page: the built template filled with one picture's words and numbers."""

from __future__ import annotations

import html
import json
import re
from typing import Any

from belvedere.foundation import PublishError
from belvedere.publish.image_info import IMAGE, image_info
from belvedere.publish.model import Site
from belvedere.publish.pyramid import MAX_PATH, size_path
from belvedere.publish.words import facts

_MARK = re.compile(r"\{\{(\w+)\}\}")


def render_page(template: str, site: Site) -> str:
    """Fill the page's template.

    Everything the page needs to begin is inside it, so that it also opens from a folder without
    a server. Its paths are relative: it works under any address, whatever the ids say.

    Parameters
    ----------
    template
        The built ``index.html``; ``{{name}}`` marks what is filled in.
    site
        The picture and its words.

    Raises
    ------
    PublishError
        Where the template asks for something that is not known.
    """
    caption, largest = site.caption, site.pyramid.largest
    values = {
        "title": html.escape(caption.title),
        "description": html.escape(caption.summary or caption.title),
        "alt": html.escape(_alt(site)),
        "picture": f"{IMAGE}/{MAX_PATH}",
        "picture_width": str(largest.width_px),
        "picture_height": str(largest.height_px),
        "data": _json_in_html(page_data(site)),
    }
    wanted = set(_MARK.findall(template))
    if wanted != set(values):
        unknown = ", ".join(sorted(wanted ^ set(values)))
        raise PublishError(
            f"The page's template and this version of Belvedere differ in: {unknown}.",
            "Build the pages again.",
        )
    return _MARK.sub(lambda mark: values[mark.group(1)], template)


def page_data(site: Site) -> dict[str, Any]:
    """What the page's script reads: the image service with a relative id, words, geometry."""
    caption, layout, smallest = site.caption, site.layout, site.pyramid.sizes[0]
    overview = next((size for size in site.pyramid.sizes if size.width_px >= 400), smallest)
    return {
        "title": caption.title,
        "summary": caption.summary,
        "credit": caption.credit,
        "rights": caption.rights,
        "facts": [{"label": label, "value": value} for label, value in facts(site)],
        "image": {**image_info(site), "id": IMAGE},
        "overview": f"{IMAGE}/{size_path(overview)}",
        "sphere": None
        if layout is None
        else {
            "projection": layout.projection,
            "pxPerDeg": layout.scale_px_per_deg,
            "leftDeg": layout.left_deg,
            "topDeg": layout.top_deg,
            "fullTurn": layout.full_turn,
        },
        "places": [
            {"name": place.name, "note": place.note, "region": list(place.region)}
            for place in site.places
        ],
    }


def _alt(site: Site) -> str:
    caption = site.caption
    return caption.alt or f"Panorama: {caption.title}. {caption.summary}".strip()


def _json_in_html(document: dict[str, Any]) -> str:
    """JSON that cannot end the script element it stands in (HTML standard, 4.12.1.3)."""
    text = json.dumps(document, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
