"""Pictures and sites for the tests of publishing."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvips
from numpy.typing import NDArray

from belvedere.foundation import finish
from belvedere.publish import LOCAL_ADDRESS, Caption
from belvedere.workflows.publish import Publication, publish
from belvedere.workflows.serve import address_of, make_server

ROOT = Path(__file__).resolve().parent.parent
VIEWER = ROOT / "pages" / "viewer"


def scenery(width_px: int, height_px: int) -> NDArray[np.uint8]:
    """A smooth picture in which every place looks a little different."""
    x = np.linspace(0.0, 1.0, width_px, dtype=np.float32)[None, :]
    y = np.linspace(0.0, 1.0, height_px, dtype=np.float32)[:, None]
    red = 40 + 180 * x + 20 * np.sin(y * 40)
    green = 60 + 140 * y + 30 * np.sin(x * 60)
    blue = 200 - 90 * x * y + 25 * np.cos(x * 25 + y * 10)
    return np.stack(np.broadcast_arrays(red, green, blue), axis=-1).clip(0, 255).astype(np.uint8)


def save_tiff(
    path: Path, pixels: NDArray[np.uint8], description: dict[str, Any] | None = None
) -> Path:
    """A tiled pyramidal BigTIFF by libvips, JPEG inside, with a description in tag 270."""
    picture = pyvips.Image.new_from_array(pixels).copy(interpretation="srgb")
    if description is not None:
        words = json.dumps(description)
        picture.set_type(pyvips.GValue.gstr_type, "image-description", words)
    picture.tiffsave(
        str(path),
        tile=True,
        tile_width=512,
        tile_height=512,
        pyramid=True,
        subifd=True,
        bigtiff=True,
        compression="jpeg",
        Q=85,
    )
    return path


def mosaic_description(width_px: int, **more: Any) -> dict[str, Any]:
    """What the mosaic of a made-up shoot over 80 degrees says of itself."""
    return {
        "schema": "belvedere/mosaic/1",
        "title": "Saltmere harbour from the mole",
        "projection": "equirectangular",
        "scale_px_per_deg": width_px / 80,
        "left_deg": -40.0,
        "top_deg": 9.0,
        **more,
    }


def publish_site(
    mosaic: Path,
    site: Path,
    caption: Caption | None = None,
    address: str = LOCAL_ADDRESS,
    places: Path | None = None,
) -> Publication:
    """Publish without showing progress; skips where the page has not been built."""
    if not (ROOT / "src/belvedere/publish/page/index.html").is_file():
        pytest.skip("the page has not been built: run python tools/build_pages.py")
    return finish(publish(mosaic, site, caption or Caption(""), address, places))


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """The address of a running server for a site."""
    with make_server(folder, 0) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        try:
            yield address_of(server).replace("localhost", "127.0.0.1")
        finally:
            server.shutdown()
            thread.join()


def node(*arguments: str, stdin: str = "") -> subprocess.CompletedProcess[str]:
    """Run the packages' own Node.js in the viewer's folder; skips where it is not set up."""
    program = Path(sys.executable).parent / "node"
    if not program.exists() or not (VIEWER / "node_modules" / "@iiif").is_dir():
        pytest.skip("the page's packages are not installed: run python tools/build_pages.py")
    return subprocess.run(
        [program, *arguments], input=stdin, capture_output=True, text=True, cwd=VIEWER, check=False
    )
