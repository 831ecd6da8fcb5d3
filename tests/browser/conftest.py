"""A Chromium of this machine, and a published site to show it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_watch import HEIGHT, WIDTH, Watched, require_chromium
from playwright.sync_api import Browser, BrowserContext, Playwright, sync_playwright

from belvedere.publish import Caption
from chromium import FLAGS
from publish_sites import mosaic_description, publish_site, save_tiff, scenery, serving


@pytest.fixture(scope="session")
def playwright_engine() -> Iterator[Playwright]:
    with sync_playwright() as engine:
        yield engine


@pytest.fixture(scope="session")
def chromium(playwright_engine: Playwright) -> Iterator[Browser]:
    browser = playwright_engine.chromium.launch(
        executable_path=require_chromium(), args=list(FLAGS)
    )
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("web")
    mosaic = save_tiff(folder / "m.tif", scenery(WIDTH, HEIGHT), mosaic_description(WIDTH))
    places = folder / "places.json"
    here = {"name": "The lighthouse", "note": "Lit", "bearing_deg": 20.0, "width_deg": 4}
    places.write_text(json.dumps({"schema": "belvedere/places/1", "places": [here]}))
    caption = Caption(
        "",
        summary="Low water, seen from the mole on a clear morning.",
        credit="The harbour office",
        rights="https://creativecommons.org/licenses/by/4.0/",
        date="12 May 2026",
    )
    publish_site(mosaic, folder / "site", caption, "https://museum.example/panorama/", places)
    return folder / "site"


@pytest.fixture(scope="session")
def address(site: Path) -> Iterator[str]:
    with serving(site) as where:
        yield where


@pytest.fixture
def context(chromium: Browser) -> Iterator[BrowserContext]:
    made = chromium.new_context(
        viewport={"width": 1280, "height": 800}, reduced_motion="reduce", color_scheme="dark"
    )
    yield made
    made.close()


@pytest.fixture
def watched(context: BrowserContext) -> Watched:
    page = context.new_page()
    watch = Watched(page)
    page.on("request", lambda request: watch.requests.append(request.url))
    page.on("requestfailed", lambda request: watch.complaints.append(f"failed {request.url}"))
    page.on("pageerror", lambda error: watch.complaints.append(f"error {error}"))
    page.on(
        "console",
        lambda message: (
            watch.complaints.append(f"{message.type} {message.text}")
            if message.type in ("error", "warning")
            else None
        ),
    )
    return watch
