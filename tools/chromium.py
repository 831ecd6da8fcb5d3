"""The Chromium of this machine, and how it is started without a word to the outside."""

from __future__ import annotations

import os
import shutil

#: Names under which it may be on the PATH.
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
)


def find_chromium() -> str | None:
    """The one that BELVEDERE_CHROMIUM names, else the first on the PATH, else None."""
    on_path = next(filter(None, map(shutil.which, NAMES)), None)
    return os.environ.get("BELVEDERE_CHROMIUM") or on_path
