"""Take a picture of a published site, as a visitor sees it.

    .venv/bin/python tools/screenshot.py SITE PICTURE.png
        [--size 1280x800] [--view x,y,w,h] [--light] [--about]

Needs a Chromium on this machine (BELVEDERE_CHROMIUM names one that is not on the PATH).
"""

from __future__ import annotations

import argparse
import sys
import threading
from pathlib import Path

from playwright.sync_api import sync_playwright

from belvedere.foundation import BelvedereError
from belvedere.workflows.serve import address_of, make_server
from chromium import FLAGS, find_chromium


def main() -> None:
    """Serve the site on a free port, open it, wait until it rests, save what is seen."""
    asked = arguments()
    browser = find_chromium()
    if browser is None:
        stop("there is no Chromium on this machine: install one.")
    try:
        server = make_server(asked.site, 0)
    except BelvedereError as error:
        stop(str(error))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    width, height = map(int, asked.size.split("x"))
    address = address_of(server) + (f"#xywh={asked.view}" if asked.view else "")
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=browser, args=list(FLAGS))
        page = chromium.new_page(
            viewport={"width": width, "height": height},
            device_scale_factor=asked.ratio,
            color_scheme="light" if asked.light else "dark",
            reduced_motion="reduce",
        )
        page.goto(address, wait_until="networkidle")
        if asked.about:
            page.get_by_role("button", name="About this picture").click()
        page.wait_for_timeout(1500)
        page.screenshot(path=asked.picture)
        chromium.close()
    server.shutdown()


def arguments() -> argparse.Namespace:
    """What the command line asks for."""
    parser = argparse.ArgumentParser(description="Take a picture of a published site.")
    parser.add_argument("site", type=Path, help="folder that `belvedere publish` wrote")
    parser.add_argument("picture", type=Path, help="PNG to write")
    parser.add_argument("--size", default="1280x800", help="of the window, in CSS px")
    parser.add_argument("--ratio", type=float, default=1.0, help="device px per CSS px")
    parser.add_argument("--view", default="", help="x,y,w,h in px of the picture")
    parser.add_argument("--light", action="store_true", help="the light theme")
    parser.add_argument("--about", action="store_true", help="with the panel open")
    return parser.parse_args()


def stop(sentence: str) -> None:
    """End with a sentence."""
    print(f"screenshot: {sentence}", file=sys.stderr)
    sys.exit(2)


if __name__ == "__main__":
    main()
