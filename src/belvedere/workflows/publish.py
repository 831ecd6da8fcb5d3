"""From a mosaic to a site: tiles, documents, page."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import time
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

from belvedere import __version__
from belvedere.foundation import Progress, PublishError, Steps
from belvedere.imagefiles import TILE_RECIPE, read_mosaic, write_tiles
from belvedere.publish import (
    IMAGE,
    LOCAL_ADDRESS,
    MANIFEST,
    Caption,
    Site,
    image_info,
    make_pyramid,
    manifest,
    render_page,
)
from belvedere.workflows.places import load_places
from belvedere.workflows.site_folder import NOTE, SCHEMA, new_site, read_note

#: Folder of the page's script, style and licences below the site.
PAGE = "page"


@dataclass(frozen=True, slots=True)
class Publication:
    """What was published, as the report says it."""

    site: Path
    address: str
    title: str
    width_px: int
    height_px: int
    tiles: int
    tiles_kept: bool
    files: int
    size_bytes: int
    seconds: float

    def report(self) -> dict[str, Any]:
        """The report of schema ``belvedere/publish/1``."""
        return {
            "schema": "belvedere/publish/1",
            "site": str(self.site),
            "address": self.address,
            "title": self.title,
            "width_px": self.width_px,
            "height_px": self.height_px,
            "output_mp": round(self.width_px * self.height_px / 1e6, 3),
            "tiles": self.tiles,
            "tiles_kept": self.tiles_kept,
            "files": self.files,
            "size_bytes": self.size_bytes,
            "seconds": round(self.seconds, 2),
        }


def publish(
    mosaic: Path,
    site: Path,
    caption: Caption,
    address: str = LOCAL_ADDRESS,
    places: Path | None = None,
    workers: int = 2,
) -> Steps[Publication]:
    """Make a site of a mosaic.

    The site appears at `site` whole or not at all. Where a former site of the same picture
    stands there, its tiles are kept and only the words are made anew.

    Parameters
    ----------
    mosaic
        What `belvedere assemble` wrote, or any picture that libvips opens.
    site
        A new name, an empty folder or a former site.
    caption
        An empty title stands for the one in the mosaic, else for the file's name.
    address
        Where the site will stand, ending in ``/``; goes into the ids of the IIIF documents.
    places
        A file of named views, schema ``belvedere/places/1``.

    Raises
    ------
    PublishError
        Where the mosaic or the places cannot be read, or the site cannot be written.
    """
    start = time.monotonic()
    site = site.absolute()
    picture = read_mosaic(mosaic)
    named = () if places is None else load_places(places, picture)
    template = _page_file("index.html").decode("utf-8")
    title = caption.title or picture.title or mosaic.stem
    with new_site(site) as folder:
        yield Progress("picture", 0, 1, "picture")
        fingerprint = _fingerprint(mosaic)
        yield Progress("picture", 1, 1, "picture")
        kept = _keep_tiles(site, folder, fingerprint)
        pyramid = make_pyramid(picture.width_px, picture.height_px)
        if not kept:
            (folder / IMAGE).mkdir()
            pyramid = yield from write_tiles(mosaic, folder / IMAGE, workers)
        says = Site(pyramid, replace(caption, title=title), address, picture.layout, named)
        _write_documents(folder, says, template)
        _write_note(folder, says, fingerprint)
        files, size = _measure(folder)
    return _publication(site, says, kept, files, size, time.monotonic() - start)


def _publication(
    site: Path, says: Site, kept: bool, files: int, size: int, seconds: float
) -> Publication:
    pyramid = says.pyramid
    return Publication(
        site=site,
        address=says.address,
        title=says.caption.title,
        width_px=pyramid.width_px,
        height_px=pyramid.height_px,
        tiles=pyramid.tile_count,
        tiles_kept=kept,
        files=files,
        size_bytes=size,
        seconds=seconds,
    )


def _page_file(name: str) -> bytes:
    try:
        return (resources.files("belvedere.publish") / "page" / name).read_bytes()
    except OSError as error:
        raise PublishError(
            "The page has not been built in this checkout.", "Run python tools/build_pages.py."
        ) from error


def _write_documents(folder: Path, site: Site, template: str) -> None:
    (folder / "index.html").write_text(render_page(template, site), "utf-8")
    _write_json(folder / MANIFEST, manifest(site))
    _write_json(folder / IMAGE / "info.json", image_info(site))
    (folder / PAGE).mkdir()
    for name in ("viewer.js", "viewer.css", "licences.txt"):
        (folder / PAGE / name).write_bytes(_page_file(name))


def _write_json(path: Path, document: dict[str, Any]) -> None:
    path.write_text(json.dumps(document, indent=2, ensure_ascii=False) + "\n", "utf-8")


def _write_note(folder: Path, site: Site, fingerprint: str) -> None:
    note = {
        "schema": SCHEMA,
        "made_by": f"Belvedere {__version__}",
        "address": site.address,
        "picture": fingerprint,
        "image_files": _measure(folder / IMAGE)[0],
        "entries": sorted(entry.name for entry in folder.iterdir()),
    }
    _write_json(folder / NOTE, note)


def _fingerprint(mosaic: Path) -> str:
    """Content of the picture and recipe of its tiles: equal ones have equal tiles."""
    with mosaic.open("rb") as content:
        digest = hashlib.file_digest(content, "sha256").hexdigest()
    return f"sha256:{digest} {TILE_RECIPE}"


def _keep_tiles(site: Path, folder: Path, fingerprint: str) -> bool:
    """Link the tiles of a former site of the same picture into the new one."""
    note = read_note(site)
    if note is None or note.get("picture") != fingerprint:
        return False
    try:
        shutil.copytree(site / IMAGE, folder / IMAGE, copy_function=os.link)
        whole = _measure(folder / IMAGE)[0] == note.get("image_files")
    except (OSError, shutil.Error):
        whole = False
    if not whole:
        shutil.rmtree(folder / IMAGE, ignore_errors=True)
        return False
    (folder / IMAGE / "info.json").unlink()  # a link: written anew, not written through
    return True


def _measure(folder: Path) -> tuple[int, int]:
    sizes = [path.stat().st_size for path in folder.rglob("*") if path.is_file()]
    return len(sizes), sum(sizes)
