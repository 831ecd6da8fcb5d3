"""The published page in a real browser."""

from __future__ import annotations

import io
import json
import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_watch import HEIGHT, WIDTH, Watched, require_chromium
from PIL import Image
from playwright.sync_api import Browser, Playwright, expect

from belvedere.publish import (
    LOCAL_ADDRESS,
    Caption,
    Site,
    image_info,
    make_pyramid,
    tile_path,
    tiles,
)
from chromium import FLAGS
from publish_sites import (
    VIEWER,
    mosaic_description,
    publish_site,
    save_tiff,
    scenery,
    serving,
)

pytestmark = pytest.mark.browser


def seen(watched: Watched) -> np.ndarray:
    """The window as (height, width, 3)."""
    with Image.open(io.BytesIO(watched.page.screenshot())) as picture:
        return np.asarray(picture.convert("RGB"))


def view(watched: Watched) -> list[int]:
    """What the page says it shows: x, y, width, height, from the link it gives out."""
    watched.page.get_by_role("button", name="Share this view").click()
    watched.page.wait_for_function("location.hash.startsWith('#xywh=')")
    found = re.search(r"#xywh=(\d+),(\d+),(\d+),(\d+)$", watched.page.url)
    assert found is not None
    return [int(part) for part in found.groups()]


def test_it_shows_the_picture_and_asks_nobody_else(watched: Watched, address: str) -> None:
    page = watched.open(address)
    assert page.title() == "Saltmere harbour from the mole"
    expect(page.get_by_role("heading", level=1)).to_have_text("Saltmere harbour from the mole")
    assert len(watched.tiles()) >= 4
    assert all(url.startswith((address, "data:")) for url in watched.requests)
    assert watched.complaints == []


def test_every_pixel_of_the_window_is_the_pictures(watched: Watched, address: str) -> None:
    """The page opens with the picture's middle, in the window's height."""
    watched.open(address)
    width = HEIGHT * 1280 / 800
    left = round((WIDTH - width) / 2)
    middle = scenery(WIDTH, HEIGHT)[:, left : left + round(width)]
    expected = np.asarray(Image.fromarray(middle).resize((1280, 800)), float)
    difference = np.abs(seen(watched).astype(float) - expected).max(axis=2)
    uncovered = difference[110:600, 0:1180]  # without the labels and controls
    assert np.percentile(uncovered, 99) < 12
    assert difference[110:600, 0].max() < 20
    assert difference[600:640, 400:900].max() < 20


@pytest.mark.parametrize("way", ["button", "key", "wheel", "double click"])
def test_zooming_asks_for_finer_tiles(watched: Watched, address: str, way: str) -> None:
    page = watched.open(address)
    first = watched.finest()
    for _ in range(3):
        if way == "button":
            page.get_by_role("button", name="Zoom in").click()
        elif way == "key":
            page.keyboard.press("+")
        elif way == "wheel":
            page.mouse.move(600, 420)
            page.mouse.wheel(0, -300)
        else:
            page.mouse.dblclick(600, 420)
        page.wait_for_timeout(350)
    watched.rest()
    assert watched.finest() < first
    assert watched.complaints == []


def test_keys_move_and_show_the_whole(watched: Watched, address: str) -> None:
    page = watched.open(address)
    page.keyboard.press("+")
    start = view(watched)
    page.keyboard.press("Tab")  # from a button, keys that move the picture do nothing
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowDown")
    moved = view(watched)
    assert moved[0] - start[0] == pytest.approx(0.2 * start[2], rel=0.05)
    assert moved[1] > start[1]
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("0")
    assert view(watched) == [0, 0, WIDTH, HEIGHT]
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("-")
    assert watched.complaints == []


def test_a_shared_view_opens_where_it_was(watched: Watched, address: str) -> None:
    asked = [7000, 900, 960, 600]
    watched.open(f"{address}#xywh={','.join(map(str, asked))}")
    assert view(watched) == pytest.approx(asked, abs=2)
    watched.page.goto(f"{address}#xywh=100,100,640,400")  # the same page: only the view changes
    watched.rest()
    assert view(watched) == pytest.approx([100, 100, 640, 400], abs=2)


@pytest.mark.parametrize(
    "nonsense",
    ["#xywh=1,2,3", "#xywh=99999,0,10,10", "#xywh=0,0,0,0", "#<script>", "#xywh=a,b,c,d"],
)
def test_a_broken_link_still_opens_the_picture(
    watched: Watched, address: str, nonsense: str
) -> None:
    watched.open(address + nonsense)
    assert view(watched)[3] == HEIGHT
    assert watched.complaints == []


# Media Fragments URI 1.0 (W3C, 2012), 4.2.2: xywh in pixels, "pixel:" may stand before it.
def test_the_standard_spelling_of_a_fragment(watched: Watched, address: str) -> None:
    watched.open(address + "#xywh=pixel:7000,900,960,600")
    assert view(watched) == pytest.approx([7000, 900, 960, 600], abs=2)


def test_the_scale_tells_bearing_and_elevation(watched: Watched, address: str) -> None:
    """80 degrees over 12288 px from -40: column 7680 is at +10, row 307 at 9 - 2 degrees."""
    watched.open(address + "#xywh=7219,19,922,576")
    reading = watched.page.locator("#reading").inner_text()
    assert [part.strip() for part in reading.split("·")] == [
        "bearing 10.0°",
        "elevation +7.0°",
        "6.0° across",
    ]


def test_a_place_is_one_click_away(watched: Watched, address: str) -> None:
    page = watched.open(address)
    page.get_by_role("button", name="Places").click()
    page.get_by_role("button", name="The lighthouse").click()
    watched.rest()
    left, _, width, _ = view(watched)
    assert left + width / 2 == pytest.approx(9216, abs=3)  # 60 of 80 degrees
    assert width == pytest.approx(614, abs=3)  # 4 of 80 degrees


def test_the_panel_opens_closes_and_gives_the_focus_back(watched: Watched, address: str) -> None:
    page = watched.open(address)
    page.get_by_role("button", name="About this picture").click()
    panel = page.get_by_role("dialog")
    expect(panel).to_contain_text("31 megapixels")
    expect(panel).to_contain_text("12 May 2026")
    licence = panel.get_by_role("link", name="creativecommons.org")
    assert licence.get_attribute("href") == "https://creativecommons.org/licenses/by/4.0/"
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()
    expect(page.get_by_role("button", name="About this picture")).to_be_focused()


def test_everything_is_reached_by_tab(watched: Watched, address: str) -> None:
    page = watched.open(address)
    reached = []
    for _ in range(8):
        page.keyboard.press("Tab")
        reached.append(
            page.evaluate(
                "document.activeElement.getAttribute('aria-label')"
                " ?? document.activeElement.textContent"
            )
        )
    assert reached[0].startswith("Panorama: Saltmere harbour from the mole.")
    assert reached[1:] == [
        "About this picture",
        "Places",
        "Zoom in",
        "Zoom out",
        "Whole picture",
        "Full screen",
        "Share this view",
    ]


def test_it_works_from_any_folder_of_a_server(watched: Watched, site: Path, tmp_path: Path) -> None:
    (tmp_path / "index.html").write_text("elsewhere")
    shutil.copytree(site, tmp_path / "2026" / "Saltmere harbour")
    with serving(tmp_path) as root:
        watched.open(f"{root}2026/Saltmere%20harbour/")
        assert len(watched.tiles()) >= 4
        assert all(
            "/2026/Saltmere%20harbour/" in url for url in watched.requests[1:] if url[0] == "h"
        )
        assert watched.complaints == []
        watched.page.goto("about:blank")


def test_it_works_straight_from_the_disk(watched: Watched, site: Path) -> None:
    page = watched.open((site / "index.html").as_uri())
    first = watched.finest()
    page.get_by_role("button", name="Zoom in").click()
    page.get_by_role("button", name="Zoom in").click()
    watched.rest()
    assert watched.finest() < first
    assert np.ptp(seen(watched)[200:600, 100:1100], axis=(0, 1)).min() > 20
    assert watched.complaints == []


def test_it_works_without_script(playwright_engine: Playwright, address: str) -> None:
    """Scripts are off in the browser itself: only then it renders what is for that case."""
    flags = [*FLAGS, "--blink-settings=scriptEnabled=false"]
    quiet = playwright_engine.chromium.launch(executable_path=require_chromium(), args=flags)
    page = quiet.new_page(viewport={"width": 1280, "height": 800})
    page.goto(address, wait_until="networkidle")
    expect(page.get_by_role("button", name="Zoom in")).to_be_hidden()
    with Image.open(io.BytesIO(page.screenshot())) as shown:
        middle = np.asarray(shown.convert("RGB"))[300:420, 200:1080]
    assert np.ptp(middle, axis=(0, 1)).min() > 20  # Playwright itself cannot see into noscript
    quiet.close()


@pytest.mark.parametrize(
    ("width", "height", "touch", "scheme"),
    [(390, 844, True, "light"), (844, 390, True, "dark"), (1280, 800, False, "dark")],
)
def test_no_accessibility_fault(
    chromium: Browser, address: str, width: int, height: int, touch: bool, scheme: Any
) -> None:
    """axe-core 4.14 (Deque): WCAG 2.0 to 2.2, levels A and AA, and its best practices."""
    axe = VIEWER / "node_modules" / "axe-core" / "axe.min.js"
    if not axe.is_file():
        pytest.skip("axe-core is not installed: run python tools/build_pages.py")
    context = chromium.new_context(
        viewport={"width": width, "height": height},
        has_touch=touch,
        is_mobile=touch,
        color_scheme=scheme,
        reduced_motion="reduce",
        bypass_csp=True,
    )
    page = context.new_page()
    page.goto(address, wait_until="networkidle")
    page.evaluate(axe.read_text("utf-8"))
    assert faults(page) == []
    page.get_by_role("button", name="About this picture").click()
    assert faults(page) == []
    overflow = page.evaluate("document.documentElement.scrollWidth > innerWidth")
    assert not overflow
    context.close()


def faults(page: Any) -> list[str]:
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{fault['id']}: {fault['nodes'][0]['html']}: {fault['nodes'][0]['failureSummary']}"
        for fault in found["violations"]
    ]


@pytest.mark.parametrize("motion", ["reduce", "no-preference"])
def test_motion_is_spared_those_who_ask(chromium: Browser, address: str, motion: Any) -> None:
    context = chromium.new_context(reduced_motion=motion)
    page = context.new_page()
    page.goto(address + "#xywh=100,100,640,400", wait_until="networkidle")
    before = page.locator("#overview-view").evaluate("e => e.style.left")
    soon = page.evaluate(
        """() => new Promise((resolve) => {
          const frames = (n) => n === 0
            ? resolve(document.getElementById("overview-view").style.left)
            : requestAnimationFrame(() => frames(n - 1));
          addEventListener("hashchange", () => frames(3));
          location.hash = "#xywh=9000,100,640,400";
        })"""
    )
    page.wait_for_timeout(2000)
    late = page.locator("#overview-view").evaluate("e => e.style.left")
    assert before != late
    assert (soon == late) is (motion == "reduce")
    context.close()


def test_a_finger_moves_and_two_zoom(chromium: Browser, address: str) -> None:
    context = chromium.new_context(
        viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.goto(address + "#xywh=6000,800,390,844", wait_until="networkidle")
    session = context.new_cdp_session(page)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        session.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": x, "y": y} for x, y in points]},
        )

    def across() -> float:
        reading = page.locator("#reading").inner_text()
        return float(reading.split("·")[2].strip().split("°")[0])

    before = across()
    touch("touchStart", (180, 400), (210, 400))
    for step in range(1, 9):
        touch("touchMove", (180 - 12 * step, 400), (210 + 12 * step, 400))
        page.wait_for_timeout(20)
    touch("touchEnd")
    page.wait_for_timeout(1200)
    assert across() < 0.7 * before
    context.close()


def test_our_names_are_those_the_viewer_asks_for(watched: Watched, address: str) -> None:
    """OpenSeadragon 6.1 names tiles from info.json by its own reading of the specification."""
    library = VIEWER / "node_modules/openseadragon/build/openseadragon/openseadragon.min.js"
    if not library.is_file():
        pytest.skip("OpenSeadragon is not installed: run python tools/build_pages.py")
    watched.page.goto(f"{address}manifest.json")
    watched.page.evaluate(library.read_text("utf-8"))
    random = np.random.default_rng(12)
    sizes = [(1, 1), (512, 512), (513, 512), (1024, 1025), (2048, 2048), (2049, 3), (5000, 1)]
    sizes += [tuple(map(int, random.integers(1, 9000, 2))) for _ in range(60)]
    for width, height in sizes:
        pyramid = make_pyramid(width, height)
        info = image_info(Site(pyramid, Caption("Saltmere"), LOCAL_ADDRESS))
        theirs = watched.page.evaluate(ALL_TILES, json.loads(json.dumps(info)))
        ours = [tile_path(pyramid, t) for level in pyramid.levels for t in tiles(pyramid, level)]
        assert sorted(theirs) == sorted(ours), (width, height)


ALL_TILES = """
info => {
  const source = new OpenSeadragon.IIIFTileSource(
    OpenSeadragon.IIIFTileSource.prototype.configure(info, info.id + "/info.json", null));
  const names = [];
  for (let level = source.minLevel; level <= source.maxLevel; level++) {
    const count = source.getNumTiles(level);
    for (let y = 0; y < count.y; y++)
      for (let x = 0; x < count.x; x++)
        names.push(source.getTileUrl(level, x, y).slice(info.id.length + 1));
  }
  return names;
}
"""


def test_a_full_turn_has_no_ends(watched: Watched, tmp_path: Path) -> None:
    """Across the meeting edges the picture goes on, and so does the scale."""
    width, height = 7168, 1024
    turned = np.sin(np.linspace(0, 2 * np.pi, width, endpoint=False))[None, :, None]
    pixels = np.broadcast_to(128 + 100 * turned, (height, width, 3)).astype(np.uint8)
    words = mosaic_description(width, scale_px_per_deg=width / 360, left_deg=-180, full_turn=True)
    mosaic = save_tiff(tmp_path / "turn.tif", pixels, words)
    publish_site(mosaic, tmp_path / "site")
    with serving(tmp_path / "site") as address:
        watched.open(f"{address}#xywh={width - 640},100,1280,800")
        row = seen(watched)[300, :1180, 0].astype(float)
        expected = np.roll(pixels[0, :, 0], 640)[:1180]
        assert np.abs(row - expected).max() < 6
        reading = watched.page.locator("#reading").inner_text()
        assert reading.split("·")[0].strip() == "bearing 180.0°"
        assert view(watched) == pytest.approx([width - 640, 100, 1280, 800], abs=2)
        assert watched.complaints == []
        watched.page.goto("about:blank")
