"""The pyramid's geometry, addresses, and the page's template."""

from __future__ import annotations

import html.parser
import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.compose import Layout
from belvedere.foundation import PublishError
from belvedere.publish import (
    LOCAL_ADDRESS,
    Caption,
    Place,
    Site,
    clipped,
    image_info,
    make_pyramid,
    parse_address,
    region_towards,
    render_page,
    tiles,
)

sides = st.integers(1, 40_000)

TEMPLATE = (
    "<title>{{title}}</title><meta name=description content='{{description}}'>"
    "<img src='{{picture}}' width={{picture_width}} height={{picture_height}} alt='{{alt}}'>"
    "<script type='application/json' id=data>{{data}}</script><p>after</p>"
)


@given(st.integers(1, 3000), st.integers(1, 3000))
def test_tiles_cover_each_level_once(width: int, height: int) -> None:
    pyramid = make_pyramid(width, height)
    for level in pyramid.levels:
        covered = np.zeros((level.height_px, level.width_px), np.uint8)
        for tile in tiles(pyramid, level):
            rows = slice(tile.top_px, tile.top_px + tile.height_px)
            covered[rows, tile.left_px : tile.left_px + tile.width_px] += 1
        assert covered.min() == covered.max() == 1


# Image API 3.0, implementation notes, "Tile region parameter calculation": for column n and scale
# factor s, xr = n·w·s, wr = min(w·s, width - xr), ws = ceil(wr / s); alike downwards.
@given(sides, sides)
def test_regions_follow_the_specifications_formulas(width: int, height: int) -> None:
    pyramid = make_pyramid(width, height)
    for level in pyramid.levels[-4:]:
        factor = level.scale_factor
        for tile in tiles(pyramid, level):
            x, y, w, h = tile.region
            column, row = tile.left_px // 512, tile.top_px // 512
            assert (x, y) == (column * 512 * factor, row * 512 * factor)
            assert w == min(512 * factor, width - x)
            assert h == min(512 * factor, height - y)
            assert tile.width_px == -(-w // factor)
            assert tile.height_px == -(-h // factor)


@given(sides, sides)
def test_the_largest_whole_picture_is_small_and_said_to_be(width: int, height: int) -> None:
    pyramid = make_pyramid(width, height)
    info = image_info(Site(pyramid, Caption("Saltmere")))
    largest = pyramid.largest
    assert max(largest.width_px, largest.height_px) <= 2048
    if max(width, height) <= 2048:
        assert "maxWidth" not in info
        assert (largest.width_px, largest.height_px) == (width, height)
    else:
        assert info["maxWidth"] == max(largest.width_px, largest.height_px) > 1024
    for tile in info["tiles"]:
        assert tile["width"] <= info.get("maxWidth", 512)


def test_a_gigapixel_has_few_levels() -> None:
    pyramid = make_pyramid(100_000, 10_000)
    assert [level.scale_factor for level in pyramid.levels] == [1, 2, 4, 8, 16, 32, 64, 128, 256]
    assert [(s.width_px, s.height_px) for s in pyramid.sizes] == [(391, 40), (782, 79), (1563, 157)]


@pytest.mark.parametrize(
    ("given_address", "meant"),
    [
        ("https://museum.example/panorama/", "https://museum.example/panorama/"),
        ("https://museum.example/panorama", "https://museum.example/panorama/"),
        ("http://museum.example", "http://museum.example/"),
        ("https://museum.example/p/index.html", "https://museum.example/p/"),
        (" http://localhost:8000/ ", "http://localhost:8000/"),
    ],
)
def test_an_address(given_address: str, meant: str) -> None:
    assert parse_address(given_address) == meant


@pytest.mark.parametrize(
    "text",
    [
        "museum.example/panorama",
        "ftp://museum.example/",
        "https://",
        "https://museum.example/?page=2",
        "https://museum.example/#top",
        "https://museum.example:port/",
        "https://museum.example/my page/",
        "file:///srv/www",
    ],
)
def test_no_address(text: str) -> None:
    with pytest.raises(PublishError) as refused:
        parse_address(text)
    assert text in str(refused.value)


class Elements(html.parser.HTMLParser):
    """Python's own HTML parser, as the browser's eye."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.words: dict[str, str] = {}
        self._tag = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))
        self._tag = tag

    def handle_data(self, data: str) -> None:
        self.words[self._tag] = self.words.get(self._tag, "") + data


words = st.text(max_size=40) | st.sampled_from(
    ["</script><script>alert(1)</script>", "{{data}}", "{{title}}", "' onload='x", "<!--", "&amp;"]
)


@given(title=words, summary=words, credit=words, name=words)
def test_no_words_break_out_of_the_page(title: str, summary: str, credit: str, name: str) -> None:
    caption = Caption(title, summary, credit, rights=name, alt=credit)
    site = Site(make_pyramid(3000, 1000), caption, places=(Place(name, (0, 0, 10, 10), title),))
    page = Elements()
    page.feed(render_page(TEMPLATE, site))
    page.close()
    assert [tag for tag, _ in page.seen] == ["title", "meta", "img", "script", "p"]
    data: dict[str, Any] = json.loads(page.words["script"])
    assert data["title"] == title
    assert data["credit"] == credit
    assert data["places"][0]["name"] == name
    image = page.seen[2][1]
    assert image["src"] == "image/full/max/0/default.jpg"
    assert (image["width"], image["height"]) == ("1500", "500")


def test_the_page_knows_no_absolute_address() -> None:
    caption = Caption("Saltmere")
    site = Site(make_pyramid(3000, 1000), caption, "https://museum.example/panorama/")
    page = render_page(TEMPLATE, site)
    assert "museum.example" not in page
    assert LOCAL_ADDRESS not in page


def test_a_template_of_another_version_is_refused() -> None:
    with pytest.raises(PublishError, match="subtitle"):
        render_page(TEMPLATE + "{{subtitle}}", Site(make_pyramid(9, 9), Caption("Saltmere")))


@pytest.mark.parametrize("projection", ["equirectangular", "cylindrical"])
def test_a_direction_finds_its_place(projection: Any) -> None:
    """By hand: at 100 px/°, 5° of elevation are 500 px, or 100·(180/π)·tan 5° = 501.3 px."""
    layout = Layout(projection, 100.0, -40.0, 5.0, 8000, 1000)
    left, top, width, height = region_towards(layout, 10.0, 0.0, 2.0) or (0, 0, 0, 0)
    assert left + width / 2 == 5000
    assert top + height / 2 == pytest.approx(500 if projection == "equirectangular" else 501, abs=1)
    assert width == 200
    assert region_towards(layout, 41.0, 0.0, 2.0) is None
    assert region_towards(layout, 10.0, -6.0, 2.0) is None
    assert region_towards(layout, -350.0, 0.0, 2.0) == (left, top, width, height)


@given(st.tuples(*[st.floats(-5000, 5000)] * 2, *[st.floats(-10, 5000)] * 2), sides, sides)
def test_a_cut_region_lies_in_the_picture(
    region: tuple[float, float, float, float], width: int, height: int
) -> None:
    cut = clipped(region, width, height)
    if cut is not None:
        assert cut[0] >= 0
        assert cut[1] >= 0
        assert cut[2] > 0
        assert cut[3] > 0
        assert cut[0] + cut[2] <= width
        assert cut[1] + cut[3] <= height
