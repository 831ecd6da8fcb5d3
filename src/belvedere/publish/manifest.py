"""The picture for IIIF viewers elsewhere: a manifest of the IIIF Presentation API 3.0."""

from __future__ import annotations

from typing import Any

from belvedere.publish.address import licence_uri
from belvedere.publish.image_info import image_id
from belvedere.publish.model import Place, Site
from belvedere.publish.pyramid import MAX_PATH, Level, size_path
from belvedere.publish.words import facts

Json = dict[str, Any]

MANIFEST = "manifest.json"


def manifest(site: Site) -> Json:
    """Build the manifest: one canvas as large as the picture, painted with it.

    Ids are made from the site's address; the structure follows Presentation API 3.0, sections
    5.2 (Manifest), 5.3 (Canvas), 5.5 (Annotation Page), 5.6 (Annotation).
    """
    caption = site.caption
    document: Json = {
        "@context": "http://iiif.io/api/presentation/3/context.json",
        "id": site.address + MANIFEST,
        "type": "Manifest",
        "label": _text(caption.title),
    }
    if caption.summary:
        document["summary"] = _text(caption.summary)
    document["metadata"] = [
        {"label": _text(label, language="en"), "value": _text(value)}
        for label, value in facts(site)
    ]
    statement = [caption.credit] if caption.credit else []
    licence = licence_uri(caption.rights)
    if licence is not None:
        document["rights"] = licence
    elif caption.rights:
        statement.append(caption.rights)
    if statement:
        document["requiredStatement"] = {
            "label": _text("Credit and rights", language="en"),
            "value": _text(*statement),
        }
    document["thumbnail"] = [_thumbnail(site)]
    document["homepage"] = [
        {
            "id": site.address + "index.html",
            "type": "Text",
            "label": _text(caption.title),
            "format": "text/html",
        }
    ]
    document["items"] = [_canvas(site)]
    return document


def _text(*values: str, language: str = "none") -> dict[str, list[str]]:
    return {language: list(values)}


def _service(site: Site) -> list[Json]:
    return [{"id": image_id(site), "type": "ImageService3", "profile": "level0"}]


def _picture(site: Site, level: Level, path: str) -> Json:
    return {
        "id": f"{image_id(site)}/{path}",
        "type": "Image",
        "format": "image/jpeg",
        "width": level.width_px,
        "height": level.height_px,
        "service": _service(site),
    }


def _thumbnail(site: Site) -> Json:
    smallest = site.pyramid.sizes[0]
    return _picture(site, smallest, size_path(smallest))


def _canvas(site: Site) -> Json:
    canvas_id = site.address + "canvas/1"
    canvas: Json = {
        "id": canvas_id,
        "type": "Canvas",
        "label": _text(site.caption.title),
        "width": site.pyramid.width_px,
        "height": site.pyramid.height_px,
        "items": [
            {
                "id": site.address + "canvas/1/page/1",
                "type": "AnnotationPage",
                "items": [
                    {
                        "id": site.address + "canvas/1/page/1/picture",
                        "type": "Annotation",
                        "motivation": "painting",
                        "body": _picture(site, site.pyramid.largest, MAX_PATH),
                        "target": canvas_id,
                    }
                ],
            }
        ],
    }
    if site.places:
        canvas["annotations"] = [
            {
                "id": site.address + "canvas/1/places",
                "type": "AnnotationPage",
                "items": [
                    _place(site, number, place) for number, place in enumerate(site.places, 1)
                ],
            }
        ]
    return canvas


def _place(site: Site, number: int, place: Place) -> Json:
    says = f"{place.name}: {place.note}" if place.note else place.name
    region = ",".join(map(str, place.region))
    return {
        "id": f"{site.address}canvas/1/places/{number}",
        "type": "Annotation",
        "motivation": "commenting",
        "body": {"type": "TextualBody", "value": says, "format": "text/plain"},
        "target": f"{site.address}canvas/1#xywh={region}",
    }
