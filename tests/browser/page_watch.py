"""A page and all that it asks for."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Page

from chromium import find_chromium

#: Size of the published picture, in px; it covers 80 degrees.
WIDTH, HEIGHT = 12288, 2560


def require_chromium() -> str:
    """A Chromium of this machine; skips where there is none."""
    found = find_chromium()
    if found is None:
        pytest.skip("no Chromium on this machine: install one, or set BELVEDERE_CHROMIUM")
    return found


@dataclass
class Watched:
    """A page and all that it asked for and complained about."""

    page: Page
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def tiles(self) -> set[str]:
        """The image files asked for, by their path below the image service."""
        return {url.partition("/image/")[2] for url in self.requests if "/image/" in url}

    def finest(self) -> int:
        """The least scale factor among the tiles asked for; of one tile, region / size."""
        factors = []
        for name in self.tiles():
            region, size = name.split("/")[:2]
            if region != "full" and size != "max":
                factors.append(-(-int(region.split(",")[2]) // int(size.split(",")[0])))
        return min(factors, default=WIDTH)

    def open(self, address: str) -> Page:
        self.page.goto(address)
        self.rest()
        return self.page

    def rest(self) -> None:
        """Wait until what was asked for is there and the picture has come to rest."""
        self.page.wait_for_timeout(150)
        self.page.wait_for_selector("#picture[aria-busy=false]")
        self.page.wait_for_timeout(50)
